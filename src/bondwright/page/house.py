"""The server of a store: its jobs, each person's working copies of them, and who is let in."""

from __future__ import annotations

import base64
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from typing import Annotated, Final

from fastapi import FastAPI, Query, Request
from fastapi.responses import FileResponse, Response
from fastapi.staticfiles import StaticFiles

from bondwright import __version__
from bondwright.page.app import FONT, SILENT
from bondwright.page.copies import Copies, JobDoor
from bondwright.page.doors import Doors, In, Sessions, entry_of
from bondwright.page.guard import Guard, Names
from bondwright.page.icap import Scanner
from bondwright.page.keeping import MayNotError, revision_info
from bondwright.page.looked import KINDS, Looked, look_at_bundle, look_at_site
from bondwright.page.notices import Mailer
from bondwright.page.offline import STATIC
from bondwright.page.own import Door
from bondwright.page.pace import Pace
from bondwright.page.people import add_people
from bondwright.page.places import Places
from bondwright.page.policy import Policy
from bondwright.page.problems import AWAY, REFUSALS, file_of, tell
from bondwright.page.telling import Arrivals, add_telling
from bondwright.page.who import person_of
from bondwright.page.wire_describe import (
    BundleRequest,
    JobInfo,
    JobsAnswer,
    NewJobRequest,
    RenameRequest,
)
from bondwright.site.reader import read
from bondwright.site.starters import STARTERS, starter
from bondwright.store.bundle import bundle, restore, unbundle
from bondwright.store.changes import What
from bondwright.store.errors import StoreError, UnknownJobError
from bondwright.store.files import SITE
from bondwright.store.store import Store
from bondwright.store.users import Role, User, credentials_changed

NOTICE: Final = timedelta(days=14)
"""So long it is told that a password or second factor was set."""
MANY_CODES: Final = 3
"""Wrong codes from which on they are told of: one or two are a slip."""
JobName = Annotated[str, Query(max_length=200)]


def create_house(
    store: Store,
    names: Names,
    *,
    users: bool,
    policy: Policy | None = None,
    scanner: Scanner | None = None,
    mailer: Mailer | None = None,
) -> FastAPI:
    """Return the server of a store.

    Args:
        store: the jobs and the users.
        names: that it goes by.
        users: whether one has to log in.
        policy: what is kept of people, which they agree to.
        scanner: looks through what is sent in, beside ourselves.
        mailer: tells people by mail of what happened to their credentials.
    """
    copies = Copies(store)
    policy = policy or Policy()
    sessions = Sessions(store, agree_to=policy.mark) if users else None

    @asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        yield
        copies.close()

    app = FastAPI(
        title="bondwright",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        lifespan=life,
        telemetry=SILENT,
        responses=REFUSALS,
    )
    cookie = "__Host-bondwright" if names.secure else "bondwright"
    app.state.places = mailer.places if mailer is not None else Places()
    if mailer is not None and sessions is not None:
        store.told = mailer.tell
        app.add_middleware(Arrivals, store=store, sessions=sessions, cookie=cookie, mailer=mailer)
    if scanner is not None:
        app.add_middleware(Looked, scanner=scanner)
    if sessions is not None:
        app.add_middleware(Pace)
        app.add_middleware(Doors, sessions=sessions, cookie=cookie)
    app.add_middleware(Guard, names=names, private=sessions is not None)
    tell(app, {MayNotError: 403, UnknownJobError: 404, StoreError: 422, **KINDS, **AWAY})
    _add_jobs(app, store, copies, users=users, mailer=mailer)
    if sessions is not None:
        add_telling(app, store, sessions, mailer)
        add_people(app, store, sessions, Door(cookie, names.secure), policy, copies)
    app.mount("/job", JobDoor(copies), name="job")
    app.mount("/static", StaticFiles(directory=STATIC), name="static")

    @app.get("/font.otf", include_in_schema=False)
    def font() -> FileResponse:
        kept = {"cache-control": "max-age=86400"}
        return FileResponse(FONT, media_type="font/otf", headers=kept)

    @app.get("/", include_in_schema=False)
    def page() -> FileResponse:
        return FileResponse(STATIC / "jobs.html", media_type="text/html")

    return app


_TOLD: Final = {
    What.PASSWORD: "Your password was set",
    What.FACTOR: "Your second factor was set up",
    What.NO_FACTOR: "Your second factor was taken away",
    What.SPARE: "Your spare codes were made anew",
}


def _notice(store: Store, person: User, entry: In | None) -> str:
    """Say that somebody's credentials changed lately, and by whom: it may not have been them."""
    found = credentials_changed(store, person.name)
    said = []
    if found is not None and datetime.now(UTC) - found.at <= NOTICE:
        when = found.at.strftime("%Y-%m-%d %H:%M UTC")
        what = _TOLD.get(found.what, "Your log-in was changed")
        said.append(f"{what} by {found.by or 'somebody'}, {when}.")
        said.append("If you know nothing of it, tell whoever keeps the users.")
    if entry is not None and entry.wrong_codes >= MANY_CODES:
        said.append(
            f"{entry.wrong_codes} wrong codes came with your right password before you logged in. "
            "Unless they were yours, somebody knows it: set another."
        )
    return " ".join(said)


def need(request: Request, role: Role) -> User:
    """Return who asks.

    Raises:
        MayNotError: their role doesn't allow it.
    """
    person = person_of(request.scope)
    if not person.may(role):
        what = "change nothing" if role is Role.EDIT else "not keep the users"
        raise MayNotError(f"{person.name} may look, and {what}")
    return person


def _add_jobs(
    app: FastAPI, store: Store, copies: Copies, *, users: bool, mailer: Mailer | None
) -> None:
    def notice(person: User, entry: In | None) -> str:
        troubles = mailer.troubles if mailer is not None and person.may(Role.KEEP) else ()
        return " ".join(filter(None, (_notice(store, person, entry), *troubles)))

    def answer(request: Request) -> JobsAnswer:
        person, entry = person_of(request.scope), entry_of(request.scope)
        unsaved = copies.unsaved(person.name)
        return JobsAnswer(
            who=person.name,
            role=person.role.value,
            users=users,
            jobs=[
                JobInfo(
                    id=job.id,
                    name=job.name,
                    newest=revision_info(job.newest),
                    unsaved=job.id in unsaved,
                )
                for job in store.jobs()
            ],
            notice=notice(person, entry) if users else "",
            wants_factor=entry is not None and entry.stage == "factor",
            starters=dict(STARTERS),
        )

    @app.get("/house/jobs")
    def jobs(request: Request) -> JobsAnswer:
        return answer(request)

    @app.post("/house/jobs")
    def start(body: NewJobRequest, request: Request) -> JobsAnswer:
        person = need(request, Role.EDIT)
        if body.starter and body.starter not in STARTERS:
            raise StoreError(f"there is no starter '{body.starter}'")
        text = starter(body.starter) if body.starter else body.text
        if not body.starter:
            look_at_site(request.scope, text)
        described = read(text, SITE)
        name = body.name.strip() or described.site
        store.add(name, {SITE: text.encode()}, who=person.name, why=body.why.strip() or "begun")
        return answer(request)

    @app.post("/house/jobs/{job}/name")
    def rename(job: str, body: RenameRequest, request: Request) -> JobsAnswer:
        need(request, Role.EDIT)
        store.rename(job, body.name)
        return answer(request)

    zipped = file_of("application/zip")

    @app.get("/house/bundle", response_class=Response, responses=zipped)
    def take_out(job: JobName = "") -> Response:
        data = bundle(store, [job] if job else None)
        about = 'attachment; filename="jobs.zip"'
        return Response(data, media_type="application/zip", headers={"content-disposition": about})

    @app.post("/house/bundle")
    def take_in(body: BundleRequest, request: Request) -> JobsAnswer:
        need(request, Role.EDIT)
        try:
            data = base64.b64decode(body.file, validate=True)
        except ValueError as error:
            raise StoreError("the file did not arrive whole; choose it again") from error
        jobs = unbundle(data)
        look_at_bundle(request.scope, data, jobs)
        restore(store, jobs)
        return answer(request)
