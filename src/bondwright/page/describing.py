"""Addresses under which a site is described and kept."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from fastapi import FastAPI, Query, Request
from fastapi.responses import Response

from bondwright.page import describe
from bondwright.page.desk import Desk
from bondwright.page.forms import forms
from bondwright.page.keepers import ChangedElsewhereError
from bondwright.page.keeping import (
    MayNotError,
    as_file,
    compare,
    kept,
    revisions,
    save,
    take_back,
    take_theirs,
)
from bondwright.page.looked import KINDS, look_at_site
from bondwright.page.problems import AWAY, file_of, problem, problem_infos, tell
from bondwright.page.schedule_in import ScheduleError, add_request, look_at_schedule, read_request
from bondwright.page.seen import answer_after
from bondwright.page.who import person_of
from bondwright.page.wire import ViewAnswer, ViewRequest
from bondwright.page.wire_describe import (
    CheckAnswer,
    CompareAnswer,
    DescribeRequest,
    DescriptionAnswer,
    EntryAnswer,
    FormsAnswer,
    KeptAnswer,
    RevisionsAnswer,
    SaveRequest,
    ScheduleReadAnswer,
    ScheduleRequest,
    TextAnswer,
    TextRequest,
)
from bondwright.site.site_error import SiteError
from bondwright.site.starters import STARTERS, starter
from bondwright.store.errors import StoreError, UnknownJobError
from bondwright.store.store import MOST_REVISION

Name = Annotated[str, Query(max_length=200)]
Number = Annotated[int, Query(ge=0, le=MOST_REVISION)]


def add_describing(app: FastAPI, desk: Desk) -> None:
    """Add the addresses to a server of a working copy."""
    kinds = {ScheduleError: 422, ChangedElsewhereError: 409, MayNotError: 403}
    tell(app, {**kinds, UnknownJobError: 404, StoreError: 422, **KINDS, **AWAY})

    @app.exception_handler(OSError)
    def disk(_: Request, error: OSError) -> Response:
        return problem(507, f"it can't be written: {error.strerror or error}")

    _add_description(app, desk)
    _add_keeping(app, desk)


def _add_description(app: FastAPI, desk: Desk) -> None:
    @app.get("/api/forms")
    def all_forms() -> FormsAnswer:
        return FormsAnswer(forms=list(forms()), starters=dict(STARTERS))

    @app.get("/api/description")
    def description() -> DescriptionAnswer:
        return describe.description(desk)

    @app.get("/api/entry")
    def entry(table: Name = "", id: Name = "") -> EntryAnswer:
        return describe.entry_answer(desk, table, id)

    @app.post("/api/describe")
    def change(request: DescribeRequest) -> ViewAnswer:
        describe.change_description(desk, request.changes)
        return answer_after(desk, request.view)

    @app.get("/api/text")
    def whole() -> TextAnswer:
        return TextAnswer(text=desk.text)

    @app.post("/api/text")
    def text(request: TextRequest, asked: Request) -> ViewAnswer:
        if request.starter:
            if request.starter not in STARTERS:
                raise ScheduleError(f"there is no starter {request.starter!r}")
            said = f"begun anew: {STARTERS[request.starter]}"
            describe.change_text(desk, starter(request.starter), said)
        else:
            look_at_site(asked.scope, request.text)
            describe.change_text(desk, request.text, "the file changed as text")
        return answer_after(desk, request.view)

    @app.post("/api/text/check")
    def check(request: TextRequest) -> CheckAnswer:
        try:
            desk.read(request.text)
        except SiteError as error:
            return CheckAnswer(problems=problem_infos(error))
        return CheckAnswer(problems=[])

    @app.post("/api/schedule/read")
    def read(request: ScheduleRequest, asked: Request) -> ScheduleReadAnswer:
        look_at_schedule(asked.scope, request)
        return read_request(desk, request)[0]

    @app.post("/api/schedule/add")
    def add(request: ScheduleRequest, asked: Request) -> ViewAnswer:
        look_at_schedule(asked.scope, request)
        add_request(desk, request)
        return answer_after(desk, request.view)


def _add_keeping(app: FastAPI, desk: Desk) -> None:
    @app.get("/api/kept")
    def how(request: Request) -> KeptAnswer:
        return kept(desk, person_of(request.scope))

    @app.post("/api/save")
    def write(body: SaveRequest, request: Request) -> KeptAnswer:
        with desk.lock:  # what is looked through is what is saved
            look_at_site(request.scope, desk.text)
            return save(desk, person_of(request.scope), body.why)

    @app.post("/api/take-theirs")
    def theirs(body: SaveRequest) -> ViewAnswer:
        take_theirs(desk, mine=body.mine)
        return answer_after(desk, body.view)

    @app.get("/api/revisions")
    def all_revisions() -> RevisionsAnswer:
        return revisions(desk)

    @app.get("/api/compare")
    def differences(before: Number, after: Number = 0) -> CompareAnswer:
        return compare(desk, before, after)

    yaml = file_of("text/yaml")

    @app.get("/api/file", response_class=Response, responses=yaml)
    def file(number: Number = 0) -> Response:
        text, name = as_file(desk, number)
        about = f"attachment; filename*=UTF-8''{quote(name)}"
        return Response(text, media_type="text/yaml", headers={"content-disposition": about})

    @app.post("/api/take-back")
    def back(number: Number, body: ViewRequest) -> ViewAnswer:
        take_back(desk, number)
        return answer_after(desk, body)
