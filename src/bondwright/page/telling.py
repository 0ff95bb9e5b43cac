"""Telling people of what happened to their credentials: on the page, and by mail."""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie

from anyio.to_thread import run_sync
from fastapi import FastAPI, Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from bondwright.page.doors import Sessions
from bondwright.page.notices import Mailer
from bondwright.page.own import sure
from bondwright.page.problems import problem
from bondwright.page.who import person_of
from bondwright.page.wire_mail import MailAnswer, MailRequest
from bondwright.store.changes import Change, What
from bondwright.store.errors import StoreError
from bondwright.store.mail import check_mail, mail_of, set_mail
from bondwright.store.store import Store
from bondwright.store.users import Role


class Arrivals:
    """Tells whoever is let in from a place that isn't known.

    It looks at what is answered, so that it sees every way in: a token is given to a browser.

    Args:
        app: what is behind.
        store: has the users.
        sessions: those who are in.
        cookie: name of the cookie that holds a token.
        mailer: tells them.
    """

    def __init__(
        self, app: ASGIApp, store: Store, sessions: Sessions, cookie: str, mailer: Mailer
    ) -> None:
        self._app, self._store, self._sessions = app, store, sessions
        self._cookie, self._mailer = cookie, mailer

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on."""
        given: list[str] = []

        async def seen(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] == 200:
                given.extend(_token(message, self._cookie))
            await send(message)

        await self._app(scope, receive, seen)
        if given and given[0]:
            place = str((scope.get("client") or ("somewhere",))[0])
            await run_sync(self._arrived, given[0], place)

    def _arrived(self, token: str, place: str) -> None:
        try:
            user = self._sessions.user(token)
            if user is None or not self._mailer.places.is_new(user.name, place):
                return
            mail = mail_of(self._store, user.name)
        except StoreError:  # they are in all the same
            return
        self._mailer.tell(Change(user.name, What.PLACE, place, self._store.now(), mail))


def _token(message: Message, cookie: str) -> list[str]:
    found = []
    for name, value in message["headers"]:
        if name == b"set-cookie":
            try:
                kept = SimpleCookie(value.decode("latin-1"))
            except CookieError:
                continue
            if cookie in kept:
                found.append(kept[cookie].value)
    return found


def add_telling(app: FastAPI, store: Store, sessions: Sessions, mailer: Mailer | None) -> None:
    """Add the addresses to a server of a store.

    Args:
        app: the server.
        store: has the users.
        sessions: those who are in.
        mailer: sends mails; None where the server has no mail.
    """

    def answer(request: Request) -> MailAnswer:
        person = person_of(request.scope)
        keeps = mailer is not None and person.may(Role.KEEP)
        return MailAnswer(
            who=person.name,
            mail=mail_of(store, person.name),
            sends=mailer is not None,
            troubles=list(mailer.troubles) if mailer is not None and keeps else [],
        )

    @app.get("/house/mail")
    def where(request: Request) -> MailAnswer:
        return answer(request)

    @app.post("/house/mail", response_model=MailAnswer)
    def change(body: MailRequest, request: Request) -> object:
        person = person_of(request.scope)
        sure(sessions, body, request)
        address = check_mail(body.mail.strip()) if body.mail.strip() else ""
        if mailer is not None and (wait := mailer.often.wait(person.name)):
            told = "the address was changed too often: each change is told by mail"
            return problem(429, told, "try again in an hour", wait=wait)
        set_mail(store, person.name, address, by=person.name)
        return answer(request)
