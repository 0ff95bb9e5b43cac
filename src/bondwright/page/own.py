"""Addresses about oneself: what is kept, the second factor, taking all of it along, leaving."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass

import segno
from fastapi import FastAPI, Request
from fastapi.responses import FileResponse, JSONResponse, Response

from bondwright.page.copies import Copies
from bondwright.page.doors import In, Sessions, in_answer, token_of
from bondwright.page.offline import STATIC
from bondwright.page.policy import Policy
from bondwright.page.problems import problem
from bondwright.page.who import person_of
from bondwright.page.wire_people import (
    AgreeRequest,
    CodeRequest,
    FactorAnswer,
    LeaveRequest,
    PolicyAnswer,
    SpareAnswer,
    SureRequest,
    YouAnswer,
)
from bondwright.store.errors import StoreError
from bondwright.store.factor import (
    app_address,
    drop_factor,
    renew_spare,
    secret_text,
    set_factor,
    spare_left,
)
from bondwright.store.own import agree, own_data
from bondwright.store.store import Store
from bondwright.store.users import Known, known, remove_user


class NotSureError(PermissionError):
    """The password that shows it is oneself is wrong."""


@dataclass(frozen=True, slots=True)
class Door:
    """How a browser is let in.

    Attributes:
        cookie: name of the cookie that holds a token.
        secure: whether browsers reach the server by TLS.
    """

    cookie: str
    secure: bool

    def let_in(
        self, token: str, found: In | None, body: dict[str, object] | None = None
    ) -> Response:
        """Return an answer that gives a browser a token.

        Args:
            token: told to nobody else.
            found: who it is.
            body: what is said besides; None says who is in.
        """
        answer = JSONResponse(in_answer(found).model_dump() if body is None else body)
        answer.set_cookie(
            self.cookie, token, path="/", httponly=True, samesite="strict", secure=self.secure
        )
        return answer

    def let_out(self) -> Response:
        """Return an answer that takes from a browser what it has."""
        answer = JSONResponse(in_answer(None).model_dump())
        answer.delete_cookie(
            self.cookie, path="/", httponly=True, samesite="strict", secure=self.secure
        )
        # What the page kept in the browser (readings, themes, copies of answers) goes as well.
        answer.headers["clear-site-data"] = '"cache", "storage"'
        return answer


def address_of(request: Request) -> str:
    """Return from where somebody asks."""
    return request.client.host if request.client is not None else ""


def sure(sessions: Sessions, body: SureRequest, request: Request) -> Known:
    """Return who asks, who has shown anew that it is them.

    Raises:
        NotSureError: the password is wrong.
        bondwright.page.doors.CodeNeededError: a code is needed, and there is none.
        bondwright.page.doors.WrongCodeError: the code is wrong, or was used.
        bondwright.page.tries.TooManyError: there were too many wrong ones.
    """
    name = person_of(request.scope).name
    found = sessions.check(name, body.password, address_of(request), body.code)
    if found is None:
        raise NotSureError("the password is wrong")
    return found


def let_go(sessions: Sessions, copies: Copies, name: str) -> None:
    """Keep nothing in memory of somebody who is let in no more."""
    sessions.forget(name)
    copies.drop(name)


def add_own(
    app: FastAPI,
    store: Store,
    sessions: Sessions,
    door: Door,
    policy: Policy,
    copies: Copies,
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

    @app.exception_handler(NotSureError)
    def not_sure(_: Request, error: NotSureError) -> Response:
        return problem(403, str(error))

    @app.get("/kept", include_in_schema=False)
    def page() -> FileResponse:
        return FileResponse(STATIC / "kept.html", media_type="text/html")

    @app.get("/house/kept")
    def kept() -> PolicyAnswer:
        return policy.text()

    @app.post("/house/agree")
    def agreed(body: AgreeRequest, request: Request) -> Response:
        if body.to != policy.mark:
            return problem(409, "the text has changed meanwhile", "read it again")
        agree(store, person_of(request.scope).name, policy.mark)
        sessions.look_again()
        found = sessions.entry(token_of(request.scope, door.cookie))
        return JSONResponse(in_answer(found).model_dump())

    @app.get("/house/you")
    def you(request: Request) -> YouAnswer:
        found = known(store, person_of(request.scope).name)
        if found is None:
            raise StoreError("you are let in no more")
        data = own_data(store, found.user.name)
        return YouAnswer(
            who=found.user.name,
            role=found.user.role.value,
            factor=found.factor,
            spare_left=spare_left(store, found.user.name),
            agreed=data["agreed"]["at"] or "",
        )

    @app.get("/house/you/data")
    def data(request: Request) -> Response:
        name = person_of(request.scope).name
        memory = sessions.of(name)
        unsaved = copies.unsaved(name)
        told = {
            "log-ins that are open": memory.sessions,
            "address you came from last": memory.address,
            "places you logged in from": request.app.state.places.of(name),
            "wrong tries with your name in the last ten minutes": memory.wrong,
            "jobs with changes of yours that aren't saved": [
                job.name for job in store.jobs() if job.id in unsaved
            ],
        }
        said = {"format": "bondwright/own-data", "version": 1, **own_data(store, name), **told}
        about = {"content-disposition": 'attachment; filename="own-data.json"'}
        text = json.dumps(said, indent=1, ensure_ascii=False)
        return Response(text, media_type="application/json", headers=about)

    _add_factor(app, store, sessions, door)

    @app.post("/house/leave")
    def leave(body: LeaveRequest, request: Request) -> Response:
        name = sure(sessions, body, request).user.name
        remove_user(store, name, by=name, forget=body.forget_name, last=False)
        let_go(sessions, copies, name)
        return door.let_out()


def _add_factor(app: FastAPI, store: Store, sessions: Sessions, door: Door) -> None:
    picture = "/house/factor.svg"

    @app.post("/house/factor")
    def begin(body: SureRequest, request: Request) -> FactorAnswer:
        sure(sessions, body, request)
        secret = sessions.new_secret(token_of(request.scope, door.cookie))
        address = app_address(secret, person_of(request.scope).name)
        return FactorAnswer(secret=secret_text(secret), address=address, picture=picture)

    @app.get(picture)
    def drawn(request: Request) -> Response:
        secret = sessions.secret(token_of(request.scope, door.cookie))
        if not secret:
            return problem(404, "no second factor is being set up")
        out = io.BytesIO()
        made = segno.make(
            app_address(secret, person_of(request.scope).name), micro=False, error="m"
        )
        made.save(out, kind="svg", scale=5, border=4, dark="#000", light="#fff", xmldecl=True)
        return Response(out.getvalue(), media_type="image/svg+xml")

    @app.post("/house/factor/confirm")
    def confirm(body: CodeRequest, request: Request) -> Response:
        secret = sessions.secret(token_of(request.scope, door.cookie))
        name = person_of(request.scope).name
        if not secret:
            raise StoreError("no second factor is being set up: begin anew")
        codes = set_factor(store, name, secret, body.code)
        # All sessions end with what they were begun with; this one goes on as a new one.
        sessions.end(name)
        return again(name, SpareAnswer(codes=list(codes)).model_dump())

    def again(name: str, body: dict[str, object] | None = None) -> Response:
        found = known(store, name)
        if found is None:
            raise StoreError("you are let in no more")
        token = sessions.enter(found)
        return door.let_in(token, sessions.entry(token), body)

    @app.post("/house/factor/off")
    def off(body: SureRequest, request: Request) -> Response:
        name = sure(sessions, body, request).user.name
        drop_factor(store, name, by=name)
        sessions.end(name)
        return again(name)

    @app.post("/house/factor/spare")
    def spare(body: SureRequest, request: Request) -> SpareAnswer:
        found = sure(sessions, body, request)
        if not found.factor:
            raise StoreError("spare codes go with a second factor, and you have none")
        return SpareAnswer(codes=list(renew_spare(store, found.user.name)))
