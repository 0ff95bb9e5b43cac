"""Addresses of the door: logging in and out, and keeping the users."""

from __future__ import annotations

from typing import Annotated

from anyio import CapacityLimiter
from anyio.to_thread import run_sync
from fastapi import FastAPI, Query, Request
from fastapi.responses import FileResponse, JSONResponse, Response

from bondwright.page.doors import AT_DOOR, Sessions, TooManyError, token_of
from bondwright.page.keeping import MayNotError
from bondwright.page.offline import STATIC
from bondwright.page.problems import problem
from bondwright.page.who import person_of
from bondwright.page.wire_describe import (
    LoginRequest,
    PasswordRequest,
    UserInfo,
    UserRequest,
    UsersAnswer,
)
from bondwright.store.errors import StoreError
from bondwright.store.store import Store
from bondwright.store.users import (
    Role,
    User,
    add_user,
    change_user,
    remove_user,
    users,
)

UserName = Annotated[str, Query(max_length=80)]


def add_people(
    app: FastAPI, store: Store, sessions: Sessions, cookie: str, *, secure: bool
) -> None:
    """Add the addresses to a server of a store.

    Args:
        app: the server.
        store: has the users.
        sessions: those who are in.
        cookie: name of the cookie that holds a token.
        secure: whether browsers reach the server by TLS.
    """
    _add_door(app, store, sessions, cookie, secure=secure)
    _add_users(app, store, sessions)


def _add_door(app: FastAPI, store: Store, sessions: Sessions, cookie: str, *, secure: bool) -> None:
    @app.exception_handler(TooManyError)
    def too_many(_: Request, error: TooManyError) -> Response:
        return problem(429, str(error), wait=error.wait)

    @app.get("/login", include_in_schema=False)
    def page() -> FileResponse:
        return FileResponse(STATIC / "login.html", media_type="text/html")

    @app.get("/people", include_in_schema=False)
    def people() -> FileResponse:
        return FileResponse(STATIC / "users.html", media_type="text/html")

    at_door = CapacityLimiter(2)

    @app.post("/house/login")
    async def log_in(body: LoginRequest, request: Request) -> Response:
        address = request.client.host if request.client is not None else ""
        before = token_of(request.scope, cookie)
        if at_door.statistics().tasks_waiting >= AT_DOOR:
            return problem(503, "too many want in at the same time", wait=5)
        # A place of its own to wait in: a crowd at the door holds up nobody who is in.
        token = await run_sync(sessions.log_in, body.name, body.password, address, limiter=at_door)
        if token is None:
            return problem(403, "name or password is wrong")
        if before:
            sessions.log_out(before)
        answer = JSONResponse({"format": "bondwright/page-in", "version": 1, "who": body.name})
        answer.set_cookie(cookie, token, path="/", httponly=True, samesite="strict", secure=secure)
        return answer

    @app.post("/house/logout")
    def log_out(request: Request) -> Response:
        sessions.log_out(token_of(request.scope, cookie))
        answer = JSONResponse({"format": "bondwright/page-in", "version": 1, "who": ""})
        answer.delete_cookie(cookie, path="/", httponly=True, samesite="strict", secure=secure)
        # What the page kept in the browser (readings, themes, copies of answers) goes as well.
        answer.headers["clear-site-data"] = '"cache", "storage"'
        return answer

    @app.post("/house/password")
    def password(body: PasswordRequest, request: Request) -> Response:
        person = person_of(request.scope)
        address = request.client.host if request.client is not None else ""
        if sessions.log_in(person.name, body.before, address) is None:
            return problem(403, "the password until now is wrong")
        change_user(store, person.name, password=body.after, by=person.name)
        sessions.look_again()
        return JSONResponse({"format": "bondwright/page-in", "version": 1, "who": ""})


def _add_users(app: FastAPI, store: Store, sessions: Sessions) -> None:
    def keeper(request: Request) -> User:
        person = person_of(request.scope)
        if not person.may(Role.KEEP):
            raise MayNotError(f"{person.name} does not keep the users")
        return person

    def answer(person: User) -> UsersAnswer:
        found = [UserInfo(name=one.name, role=one.role.value) for one in users(store)]
        return UsersAnswer(who=person.name, users=found)

    @app.get("/house/users")
    def everybody(request: Request) -> UsersAnswer:
        return answer(keeper(request))

    @app.post("/house/users")
    def change(body: UserRequest, request: Request) -> UsersAnswer:
        person = keeper(request)
        role = Role(body.role) if body.role is not None else None
        if body.new:
            if role is None or body.password is None:
                raise StoreError("somebody new needs a role and a password")
            add_user(store, body.name, role, body.password, by=person.name)
        else:
            change_user(store, body.name, role=role, password=body.password, by=person.name)
            sessions.look_again()
        return answer(person)

    @app.delete("/house/users")
    def remove(name: UserName, request: Request) -> UsersAnswer:
        person = keeper(request)
        if name == person.name:
            raise StoreError("nobody takes themselves out; let another one do it")
        remove_user(store, name, by=person.name)
        sessions.look_again()
        return answer(person)
