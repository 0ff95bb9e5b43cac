"""The server's addresses: each reads a request, asks the working copy, and answers in JSON."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Annotated

from fastapi import Depends, FastAPI, Query, Request
from fastapi.responses import FileResponse, Response
from fastapi.sse import EventSourceResponse, ServerSentEvent
from fastapi.staticfiles import StaticFiles
from fastapi.telemetry import TelemetryConfig
from font_source_sans_pro import font_directory

from bondwright import __version__
from bondwright.draw.live import Form
from bondwright.explain.cautions import CAUTIONS, SHORT
from bondwright.network.solve import SolveError
from bondwright.page import asked
from bondwright.page.describe import change_working_copy
from bondwright.page.describing import add_describing
from bondwright.page.desk import Desk, UnknownError, View
from bondwright.page.earth_app import add_earth
from bondwright.page.earthed import Earth
from bondwright.page.edits import EditError
from bondwright.page.field import FieldHunt, add_hunt
from bondwright.page.guard import Guard, Names
from bondwright.page.jobs import BusyError, Crew, Job, Jobs
from bondwright.page.lessons import add_lessons
from bondwright.page.notebook import FullError
from bondwright.page.offline import STATIC, add_worker
from bondwright.page.pictured import picture_answer, piece
from bondwright.page.problems import REFUSALS, file_of, problem, tell
from bondwright.page.seen import answer_after, edits_info, view_answer, view_of
from bondwright.page.tables import add_tables
from bondwright.page.things import Teller, things_of
from bondwright.page.wire import (
    CurveAnswer,
    EditRequest,
    FaultsAnswer,
    FindingsAnswer,
    JobAnswer,
    JobRequest,
    OpenNeutralAnswer,
    PictureAnswer,
    ScheduleAnswer,
    SiteAnswer,
    StateInfo,
    StoryAnswer,
    StrayAnswer,
    ThingAnswer,
    ViewAnswer,
    ViewRequest,
)
from bondwright.page.work import Order, Outcome

FONT = Path(font_directory) / "SourceSansPro-Regular.otf"
"""The lettering that the picture is measured with."""
SILENT = TelemetryConfig(
    tracing=False, metrics=False, logs=False, operation_spans=False, auto_configure=False
)
"""What is asked here is nobody else's business, whatever the environment has set."""
_LOOK_AGAIN_S = 0.15

Name = Annotated[str, Query(max_length=200)]
FaultName = Annotated[str, Query(max_length=600)]


def create_app(
    desk: Desk,
    port: int | None = None,
    *,
    alone: bool = True,
    crew: Crew | None = None,
    who: str = "",
) -> FastAPI:
    """Return the server of a working copy.

    Args:
        desk: the working copy.
        port: that it will listen on; None for a test's client, which has none.
        alone: whether nothing stands before it that guards it; it then listens on this machine.
        crew: those who may work in the background, for all working copies of a server.
        who: they work for here.

    Returns:
        The server; ``state.close`` ends its background work, ``state.rest`` forgets what can be
        worked out again, ``state.busy`` tells whether something is at work.
    """

    def ready(order: Order, outcome: Outcome) -> None:
        if order.kind == "whole study":
            desk.judged = (order.site, order.edits, outcome.findings)
        elif order.kind == "ground":
            earth.take(order, outcome)

    earth = Earth(desk)
    jobs = Jobs(ready, crew, who)
    hunt = FieldHunt(desk)

    def close() -> None:
        jobs.close()
        hunt.ranker.close()

    def rest() -> None:
        desk.rest()
        hunt.rest()

    @asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        yield
        close()

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
    app.state.close, app.state.rest = close, rest
    app.state.busy = lambda: jobs.busy or hunt.ranker.status == "ranking"
    if alone:
        app.add_middleware(Guard, names=Names(port))
    _tell_errors(app)
    _add_picture(app, desk)
    _add_questions(app, desk)
    _add_jobs(app, desk, jobs)
    add_describing(app, desk)
    add_earth(app, earth)
    add_hunt(app, hunt)
    add_tables(app, desk)
    add_lessons(app)
    add_worker(app, FONT)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")

    @app.get("/font.otf", include_in_schema=False)
    def font() -> FileResponse:
        kept = {"cache-control": "max-age=86400"}
        return FileResponse(FONT, media_type="font/otf", headers=kept)

    return app


def _tell_errors(app: FastAPI) -> None:
    """Turn every error into the one form of a problem."""
    tell(app, {UnknownError: 404, EditError: 409, FullError: 409, BusyError: 409})

    @app.exception_handler(SolveError)
    def unsolved(_: Request, error: SolveError) -> Response:
        return problem(422, f"the circuit has no answer: {error}")


def _add_picture(app: FastAPI, desk: Desk) -> None:
    @app.get("/api/site")
    def site() -> SiteAnswer:
        described = desk.site
        return SiteAnswer(
            tool=__version__,
            site=described.site,
            file=desk.file,
            rules=described.rules,
            describes=str(described.describes),
            note=described.note,
            states=[StateInfo(id=state.id, on=sorted(state.on)) for state in desk.states],
            things=list(things_of(desk)),
            edits=edits_info(desk),
            caution=SHORT,
            cautions=list(CAUTIONS),
        )

    @app.get("/api/picture")
    def picture(form: Form = "page") -> PictureAnswer:
        return picture_answer(desk, form)

    svg = file_of("image/svg+xml")

    @app.get("/api/piece/{form}/{number}", response_class=Response, responses=svg)
    def one_piece(form: Form, number: int) -> Response:
        return Response(piece(desk, form, number), media_type="image/svg+xml")

    @app.post("/api/view")
    def view(request: ViewRequest) -> ViewAnswer:
        return view_answer(desk, request)

    @app.post("/api/edit")
    def edit(request: EditRequest) -> ViewAnswer:
        change_working_copy(desk, request)
        return answer_after(desk, request.view)


def _add_questions(app: FastAPI, desk: Desk) -> None:
    @app.post("/api/thing")
    def thing(kind: Name, id: Name, request: ViewRequest) -> ThingAnswer:
        return Teller(desk, view_of(request)).tell(kind, id)

    @app.get("/api/story")
    def story(kind: Name, id: Name, state: Name = "") -> StoryAnswer:
        return asked.story_answer(desk, state, kind, id)

    @app.get("/api/faults")
    def faults(state: Name = "", at: Name = "") -> FaultsAnswer:
        return asked.faults_answer(desk, state, at)

    @app.get("/api/stray")
    def stray(state: Name = "") -> StrayAnswer:
        return asked.stray_answer(desk, state)

    @app.get("/api/open-neutral")
    def open_neutral(run: Name = "", form: Form = "page") -> OpenNeutralAnswer:
        return asked.open_neutral_answer(desk, run, form)

    @app.get("/api/curve")
    def curve(fault: FaultName, state: Name = "", form: Form = "page") -> CurveAnswer:
        return asked.curve_answer(desk, View(state, "fault", fault), form)

    @app.get("/api/schedule")
    def schedule() -> ScheduleAnswer:
        return asked.schedule_answer(desk)

    @app.get("/api/findings")
    def findings() -> FindingsAnswer:
        return asked.findings_answer(desk)


def _add_jobs(app: FastAPI, desk: Desk, jobs: Jobs) -> None:
    def known(name: str) -> Job:
        try:
            return jobs.get(name)
        except KeyError as error:
            raise UnknownError(f"there is no job {name!r}") from error

    @app.post("/api/jobs")
    def start(request: JobRequest) -> JobAnswer:
        state = desk.state(request.state).id
        order = Order(request.kind, desk.site, desk.edits.done, state)
        return jobs.start(order).answer()

    @app.get("/api/jobs/{name}")
    def look(name: str) -> JobAnswer:
        return known(name).answer()

    @app.delete("/api/jobs/{name}")
    def cancel(name: str) -> JobAnswer:
        job = known(name)
        job.cancel()
        return job.answer()

    # Looked up before anything is answered: an answer that has begun can't say that there is none.
    followed = Depends(known)

    @app.get("/api/jobs/{name}/events", response_class=EventSourceResponse)
    async def events(job: Job = followed) -> AsyncIterator[ServerSentEvent]:
        told = ""
        while True:
            answer = job.answer()
            now = answer.model_dump_json(exclude={"seconds"})
            if now != told:
                told = now
                yield ServerSentEvent(raw_data=answer.model_dump_json(), event="job")
            if answer.status != "running":
                return
            await asyncio.sleep(_LOOK_AGAIN_S)
