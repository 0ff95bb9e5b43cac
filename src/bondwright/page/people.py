"""Addresses of the door: logging in and out, and keeping the users."""

from __future__ import annotations

from typing import Annotated

from anyio import CapacityLimiter
from anyio.to_thread import run_sync
from fastapi import FastAPI, Query, Request
from fastapi.responses import FileResponse, JSONResponse, Response

from bondwright.page.copies import Copies
from bondwright.page.doors import (
    AT_DOOR,
    CodeNeededError,
    Sessions,
    WrongCodeError,
    entry_of,
    in_answer,
    token_of,
)
from bondwright.page.keeping import MayNotError
from bondwright.page.offline import STATIC
from bondwright.page.own import Door, add_own, address_of, let_go
from bondwright.page.policy import Policy
from bondwright.page.problems import problem
from bondwright.page.tries import TooManyError
from bondwright.page.who import person_of
from bondwright.page.wire_describe import (
    LoginRequest,
    PasswordRequest,
    UserInfo,
    UserRequest,
    UsersAnswer,
)
from bondwright.page.wire_people import InAnswer
from bondwright.store.errors import StoreError
from bondwright.store.factor import drop_factor
from bondwright.store.store import Store
from bondwright.store.users import (
    Role,
    User,
    add_user,
    change_user,
    remove_user,
    users,
    with_factor,
)

UserName = Annotated[str, Query(max_length=80)]


def add_people(
    app: FastAPI, store: Store, sessions: Sessions, door: Door, policy: Policy, copies: Copies
) -> None:
    """Add the addresses to a server of a store.

    Args:
        app: the server.
        store: has the users.
        sessions: those who are in.
        door: how a browser is let in.
        policy: what is kept of people.
        copies: everybody's working copies.
    """
    _add_door(app, store, sessions, door)
    _add_users(app, store, sessions, copies)
    add_own(app, store, sessions, door, policy, copies)


def _add_door(app: FastAPI, store: Store, sessions: Sessions, door: Door) -> None:
    @app.exception_handler(TooManyError)
    def too_many(_: Request, error: TooManyError) -> Response:
        return problem(429, str(error), wait=error.wait)

    @app.exception_handler(WrongCodeError)
    @app.exception_handler(CodeNeededError)
    def wrong_code(_: Request, error: PermissionError) -> Response:
        return problem(403, str(error))

    @app.get("/login", include_in_schema=False)
    def page() -> FileResponse:
        return FileResponse(STATIC / "login.html", media_type="text/html")

    @app.get("/people", include_in_schema=False)
    def people() -> FileResponse:
        return FileResponse(STATIC / "users.html", media_type="text/html")

    at_door = CapacityLimiter(2)

    @app.post("/house/login")
    async def log_in(body: LoginRequest, request: Request) -> Response:
        address = address_of(request)
        before = token_of(request.scope, door.cookie)
        if at_door.statistics().tasks_waiting >= AT_DOOR:
            return problem(503, "too many want in at the same time", wait=5)
        # A place of its own to wait in: a crowd at the door holds up nobody who is in.
        given = (body.name, body.password, address, body.code)
        try:
            token = await run_sync(sessions.log_in, *given, limiter=at_door)
        except CodeNeededError:
            return JSONResponse(InAnswer(stage="code").model_dump())
        if token is None:
            return problem(403, "name or password is wrong")
        if before:
            sessions.log_out(before)
        found = await run_sync(sessions.entry, token)
        return door.let_in(token, found)

    @app.get("/house/door")
    def how_far(request: Request) -> InAnswer:
        return in_answer(entry_of(request.scope))

    @app.post("/house/logout")
    def log_out(request: Request) -> Response:
        sessions.log_out(token_of(request.scope, door.cookie))
        return door.let_out()

    @app.post("/house/password")
    def password(body: PasswordRequest, request: Request) -> Response:
        person = person_of(request.scope)
        if sessions.check(person.name, body.before, address_of(request), body.code) is None:
            return problem(403, "the password until now is wrong")
        change_user(store, person.name, password=body.after, by=person.name)
        sessions.look_again()
        return JSONResponse(in_answer(None).model_dump())


def _add_users(app: FastAPI, store: Store, sessions: Sessions, copies: Copies) -> None:
    def keeper(request: Request) -> User:
        person = person_of(request.scope)
        if not person.may(Role.KEEP):
            raise MayNotError(f"{person.name} does not keep the users")
        return person

    def answer(person: User) -> UsersAnswer:
        has = with_factor(store)
        found = [
            UserInfo(name=one.name, role=one.role.value, factor=one.name in has)
            for one in users(store)
        ]
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
            if body.no_factor and body.name == person.name:
                raise StoreError("your own second factor you turn off under You, with a code of it")
            if body.no_factor:
                drop_factor(store, body.name, by=person.name)
            change_user(store, body.name, role=role, password=body.password, by=person.name)
            sessions.look_again()
        return answer(person)

    @app.delete("/house/users")
    def remove(name: UserName, request: Request) -> UsersAnswer:
        person = keeper(request)
        if name == person.name:
            raise StoreError("you leave under You, with your password")
        remove_user(store, name, by=person.name)
        let_go(sessions, copies, name)
        return answer(person)
