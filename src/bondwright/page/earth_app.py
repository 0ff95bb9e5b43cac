"""Addresses of the earth: soil and electrodes, the ground in a fault, a field test typed in."""

from __future__ import annotations

from typing import Annotated

from fastapi import FastAPI, Query, Request
from fastapi.responses import JSONResponse, Response

from bondwright.draw.live import Form
from bondwright.page.earth_judged import TypedError, judge_typed
from bondwright.page.earthed import Earth
from bondwright.page.wire import ProblemInfo, Problems
from bondwright.page.wire_earth import EarthAnswer, JudgeAnswer, JudgeRequest, MapAnswer, Shading

State = Annotated[str, Query(max_length=200)]
Number = Annotated[int, Query(ge=0, le=1000)]


def add_earth(app: FastAPI, earth: Earth) -> None:
    """Add the addresses of the earth to a server.

    Args:
        app: the server.
        earth: the earth of its working copy.
    """

    @app.exception_handler(TypedError)
    def typed(_: Request, error: TypedError) -> Response:
        found = error.problem
        told = ProblemInfo(text=found.text, problem=found.problem, hint=found.hint or None)
        return JSONResponse(Problems(problems=[told]).model_dump(), 422)

    @app.get("/api/earth")
    def ground(state: State = "", form: Form = "page") -> EarthAnswer:
        return earth.answer(state, form)

    @app.get("/api/earth/map")
    def ground_map(
        fault: Number = 0,
        part: Number = 0,
        shade: Shading = "touch",
        state: State = "",
        form: Form = "page",
    ) -> MapAnswer:
        return earth.map(state, fault, part, shade, form)

    @app.post("/api/earth/judge")
    def judge(request: JudgeRequest) -> JudgeAnswer:
        return judge_typed(earth.desk, request)
