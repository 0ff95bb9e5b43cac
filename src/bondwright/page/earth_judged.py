"""A field test typed into the page: read by the rules of the site file, and judged."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from bondwright.page.desk import Desk
from bondwright.page.earthed import judged_info
from bondwright.page.wire_earth import JudgeAnswer, JudgeRequest
from bondwright.rules.families import unit_system
from bondwright.site.reader import read
from bondwright.site.site_error import SiteError, SiteProblem
from bondwright.site.yaml_text import block
from bondwright.studies.earth_tests import judge_test

_SITE: Final = """\
site: a test as typed
sources:
  u: {system: 120/240 V, available: {current: 1 kA}}
places:
  p: {kind: service, main: 100 A breaker}
runs:
  r: {from: u, to: p, length: 1 m, lines: 4 AWG Cu, neutral: 4 AWG Cu}
"""
"""A site to read the test in, so that it is refused for the same reasons and in the same words."""
_NAME: Final = "test in the page"


class TypedError(ValueError):
    """What was typed can't be a test.

    Attributes:
        problem: the first thing that is wrong.
    """

    def __init__(self, problem: SiteProblem) -> None:
        super().__init__(problem.problem)
        self.problem = problem


def judge_typed(desk: Desk, request: JudgeRequest) -> JudgeAnswer:
    """Judge a field test that was typed in.

    Args:
        desk: the working copy; its plan gives what is calculated beside the reading.
        request: keys and texts as they stand in a site file; empty ones are left out.

    Raises:
        TypedError: something can't be read, is missing or can't be.
    """
    written = _written(request)
    alone = {key: value for key, value in written.items() if key != "of"}
    try:
        site = read(_SITE + block("earth tests", {_NAME: alone}, 0))
    except SiteError as error:
        raise TypedError(error.problems[0]) from error
    known = {*desk.site.electrodes, *desk.site.neighbours}
    chosen = [name for name in request.of if name in known]
    test = site.earth_tests[_NAME].model_copy(update={"of": chosen})
    try:
        with desk.lock:
            judged = judge_test(desk.plan, _NAME, test)
    except ValueError as error:
        problem = SiteProblem("", 1, 1, "", str(error))
        raise TypedError(problem) from error
    return JudgeAnswer(
        test=judged_info(judged, request.form, "earth-typed-", unit_system(desk.site.rules)),
        lines=block(_NAME, written, 2),
    )


def _written(request: JudgeRequest) -> dict[str, Any]:
    found: dict[str, Any] = {"kind": request.kind}
    if request.of:
        found["of"] = list(request.of)
    found |= _given(request.values)
    readings = [_given(reading) for reading in request.readings]
    rows = [reading for reading in readings if reading]
    if rows:
        found["readings"] = rows
    return found


def _given(values: Mapping[str, str | bool]) -> dict[str, str | bool]:
    """Return what was filled in."""
    filled: dict[str, str | bool] = {}
    for key, value in values.items():
        text = value.strip() if isinstance(value, str) else value
        if text:
            filled[key] = text
    return filled
