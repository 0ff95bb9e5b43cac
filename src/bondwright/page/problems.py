"""Errors in the one form of a problem."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from bondwright.page.guard import unforeseen_words
from bondwright.page.wire import ProblemInfo, Problems
from bondwright.site.site_error import SiteError, SiteProblem
from bondwright.store.errors import UncertainError, UnreachableError

_MOST = 60
AWAY: Final[Mapping[type[Exception], int]] = {UnreachableError: 503, UncertainError: 503}
"""Errors of a database that is away."""
REFUSALS: Final[dict[int | str, dict[str, Any]]] = {
    "4XX": {"model": Problems, "description": "Why not, and what would be right."},
    "5XX": {"model": Problems, "description": "What failed, and whether it was kept."},
}
"""Every answer that is none, for a server's description of itself."""


def file_of(kind: str) -> dict[int | str, dict[str, Any]]:
    """Return what a server's description of itself says of an answer that is a file.

    Args:
        kind: its media type.
    """
    return {200: {"description": "The file.", "content": {kind: {}}}}


def problem(
    status: int, text: str, hint: str | None = None, about: str = "", *, wait: int = 0
) -> JSONResponse:
    """Return the answer that tells a problem.

    Args:
        status: of HTTP.
        text: what is wrong.
        hint: what would be right.
        about: the offending text.
        wait: seconds until it may be tried again; 0 says nothing about it.
    """
    told = Problems(problems=[ProblemInfo(text=about, problem=text, hint=hint)])
    return JSONResponse(told.model_dump(), status, {"retry-after": str(wait)} if wait else None)


def tell(app: FastAPI, kinds: Mapping[type[Exception], int]) -> None:
    """Answer errors with what they say, and errors of a site file with the place of each.

    Args:
        app: whose errors they are.
        kinds: the status of each kind of error.
    """

    def made(status: int) -> None:
        def handler(_: Request, error: Exception) -> Response:
            return problem(status, str(error.args[0]) if error.args else str(error))

        for kind in (kind for kind, its in kinds.items() if its == status):
            app.add_exception_handler(kind, handler)

    for status in set(kinds.values()):
        made(status)

    @app.exception_handler(RequestValidationError)
    def bad(_: Request, error: RequestValidationError) -> Response:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"][1:])
        return problem(422, str(first["msg"]), about=where)

    @app.exception_handler(HTTPException)
    def http(_: Request, error: HTTPException) -> Response:
        answer = problem(error.status_code, str(error.detail).lower())
        answer.headers.update(error.headers or {})
        return answer

    @app.exception_handler(Exception)
    def unforeseen(request: Request, _: Exception) -> Response:
        return problem(500, *unforeseen_words(request.scope))

    @app.exception_handler(SiteError)
    def unsound(_: Request, error: SiteError) -> Response:
        return JSONResponse(Problems(problems=problem_infos(error)).model_dump(), 422)


def problem_infos(error: SiteError) -> list[ProblemInfo]:
    """Return what is wrong with a site file, each with its place."""
    return [_info(one) for one in error.problems[:_MOST]]


def _info(one: SiteProblem) -> ProblemInfo:
    return ProblemInfo(
        text=one.text,
        problem=one.problem,
        hint=one.hint or None,
        path=list(one.loc),
        line=one.line,
        column=one.column,
    )
