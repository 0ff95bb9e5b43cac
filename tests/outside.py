"""Values from outside the project: compared, and written down for the chapter on validation.

A test that holds a result against a published number, or against a program that we didn't write,
says where the number is from and how sure it is, and wraps it::

    @outside("IEEE Std 80, annex B", "memory", unit="V")
    def test_step_voltage() -> None:
        assert step_limit(0.5, GRAVEL) == published(2686.6, rel=0.005)

``scripts/make_validation.py`` runs these tests and makes docs/outside.md and docs/outside.csv of
what they compared. A value without a source fails; so does a marked test that is not on the page.
"""

from __future__ import annotations

import enum
import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, Final

import numpy as np
import pytest

STATUSES: Final = ("confirmed", "one-source", "computed", "memory", "common practice")
"""How sure a number is; docs/validation.md says what each word means."""

PROPERTY: Final = "outside"
"""Under this name a comparison stands in the report of its test."""

_running: list[pytest.Function] = []
_place: dict[str, int] = {}


def outside(source: str, status: str | None = None, unit: str = "") -> pytest.MarkDecorator:
    """Mark a test with the source of its numbers.

    Args:
        source: The publication with its edition or year where known, or the other program.
        status: One of `STATUSES`, for all values of the test; else each value has its own.
        unit: The unit of the numbers.
    """
    if status is not None:
        _checked(status)
    return pytest.mark.outside(source=source, status=status, unit=unit)


def _checked(status: str) -> str:
    if status not in STATUSES:
        message = f"{status!r} is no status; write one of {', '.join(STATUSES)}"
        raise ValueError(message)
    return status


class Published:
    """A number from outside, or several; comparing with it writes the comparison down."""

    __array_ufunc__ = None  # NumPy leaves the comparison to us
    __hash__ = None  # type: ignore[assignment]

    def __init__(
        self,
        value: object,
        least: float | None,
        rel: float | None,
        source: Mapping[str, str | None],
    ) -> None:
        self._value, self._rel, self._abs, self._said = value, rel, least, source

    def __eq__(self, ours: object) -> bool:
        pairs = _pairs(ours, self._value)
        if pairs is None:
            return False
        same = [_near(mine, theirs, self._rel, self._abs) for mine, theirs in pairs]
        for mine, theirs in pairs:
            _write(mine, theirs, self._said, within=_within(theirs, self._rel, self._abs))
        return all(same)

    def __ge__(self, ours: Any) -> bool:
        """``ours <= published(...)``: at most that."""
        _write(ours, self._value, self._said, within="at most")
        return bool(ours <= self._value)

    def __le__(self, ours: Any) -> bool:
        """``ours >= published(...)``: at least that."""
        _write(ours, self._value, self._said, within="at least")
        return bool(ours >= self._value)

    def __repr__(self) -> str:
        near = [f"{self._rel:g} of it" if self._rel else "", f"{self._abs:g}" if self._abs else ""]
        within = " or ".join(filter(None, near))
        return f"published {self._value!r}" + (f" within {within}" if within else "")


class Between(Published):
    """A published range."""

    __hash__ = None

    def __init__(self, low: float, high: float, said: Mapping[str, str | None]) -> None:
        super().__init__(f"{low:g} to {high:g}", None, None, said)
        self._low, self._high = low, high

    def __eq__(self, ours: Any) -> bool:
        _write(ours, self._value, self._said, within="in the range")
        return bool(self._low <= ours <= self._high)


def published(
    value: object,
    *,
    rel: float | None = None,
    abs: float | None = None,
    status: str | None = None,
    source: str | None = None,
    unit: str | None = None,
) -> Published:
    """Return a published value, or a sequence of them, to compare with by ``==``, ``<=``, ``>=``.

    Args:
        value: What is published.
        rel: Largest difference that agrees, as a part of the published value.
        abs: Largest difference that agrees; with neither they must be equal.
        status: How sure it is, where the test's mark doesn't say.
        source: Where it is from, where that isn't the test's.
        unit: Its unit, where that isn't the test's.
    """
    return Published(value, abs, rel, _said(status, source, unit))


def between(
    low: float, high: float, *, status: str | None = None, source: str | None = None,
    unit: str | None = None,
) -> Between:  # fmt: skip
    """Return a published range, to compare with by ``==``."""
    return Between(low, high, _said(status, source, unit))


def _said(status: str | None, source: str | None, unit: str | None) -> dict[str, str | None]:
    if status is not None:
        _checked(status)
    return {"status": status, "source": source, "unit": unit}


def sureness(text: str, of: str) -> str:
    """Return the status of one column of a row: "confirmed 0.4 s; one-source 5 s" for "5 s"."""
    for part in text.split(";"):
        if part.strip().endswith(f" {of}"):
            return part.strip().removesuffix(f" {of}")
    return _checked(text)


def same_circuit(
    theirs: Mapping[str, complex], ours: Callable[[str], complex], nodes: Mapping[str, str],
    within: float,
) -> None:  # fmt: skip
    """Assert that two programs find the same voltage at every node, in parts of the largest.

    Args:
        theirs: Voltage by their node name.
        ours: Gives our voltage of a node.
        nodes: Their name of each of our nodes; ``0`` is the reference and is left out.
        within: Largest difference that agrees, as a part of the largest voltage.
    """
    compared = {name: theirs[other] for name, other in nodes.items() if other != "0"}
    largest = max(map(abs, compared.values()))
    gaps = {name: abs(value - ours(name)) / largest for name, value in compared.items()}
    worst = max(gaps, key=lambda name: gaps[name])
    _write_circuit(len(gaps), gaps[worst], within)
    agree = all(gap < within for gap in gaps.values())  # a gap that is no number doesn't
    assert agree, f"{worst}: {gaps[worst]:.2g} of {largest:.4g} V"


# --- what is written ---------------------------------------------------------------------------


def _pairs(ours: object, theirs: object) -> list[tuple[object, object]] | None:
    if isinstance(theirs, dict):
        if not isinstance(ours, dict) or ours.keys() != theirs.keys():
            return None
        return [(ours[key], theirs[key]) for key in theirs]
    if isinstance(theirs, (list, tuple, np.ndarray)):
        if not isinstance(ours, (list, tuple, np.ndarray)) or len(ours) != len(theirs):
            return None
        found = []
        for mine, other in zip(ours, theirs, strict=True):
            inner = _pairs(mine, other)
            if inner is None:
                return None
            found += inner
        return found
    return [(ours, theirs)]


def _near(mine: Any, theirs: Any, rel: float | None, least: float | None) -> bool:
    if rel is None and least is None:
        return bool(mine == theirs)
    return bool(mine == pytest.approx(theirs, rel=rel, abs=least))


def _within(theirs: Any, rel: float | None, least: float | None) -> str:
    said = []
    if rel and theirs:
        said.append(f"{100 * rel:.3g} %" if rel > 1e-5 else f"{rel:.0e}")
    if least:
        said.append(f"{least:.3g}")
    return " or ".join(said) or "equal"


def _plain(value: Any) -> str | float:
    if isinstance(value, enum.Enum):
        return str(value.value)
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, complex | np.complexfloating):
        return f"{value.real:.6g}{value.imag:+.6g}j" if value.imag else float(value.real)
    if isinstance(value, int | float | np.number):
        return float(value) if math.isfinite(value) else "without end"
    return str(value)


def _difference(mine: Any, theirs: Any) -> float | None:
    try:
        gap = abs(mine - theirs)
        return float(gap / abs(theirs)) if theirs else None
    except (TypeError, ZeroDivisionError):
        return None


def _write(mine: object, theirs: object, said: Mapping[str, str | None], within: str) -> None:
    gap = _difference(mine, theirs) if within not in {"at most", "at least"} else None
    _row(said, ours=_plain(mine), published=_plain(theirs), difference=gap, within=within)


def _write_circuit(nodes: int, worst: float, within: float) -> None:
    _row({}, ours=f"{nodes} nodes", published=f"{nodes} nodes", difference=worst,
         within=f"{within:g} of the largest voltage")  # fmt: skip


def _row(said: Mapping[str, str | None], **what: object) -> None:
    if not _running:
        message = "a published value is compared within a test only"
        raise LookupError(message)
    test = _running[-1]
    mark = test.get_closest_marker("outside")
    given = {**(mark.kwargs if mark else {}), **{k: v for k, v in said.items() if v is not None}}
    for key in ("source", "status"):
        if not given.get(key):
            message = f"{test.nodeid} compares with a value from outside but names no {key}"
            raise LookupError(message)
    spec = getattr(test, "callspec", None)
    row = {
        "test": test.nodeid.partition("[")[0],
        "place": _place.get(test.nodeid, 0),
        "case": spec.id if spec is not None else "",
        **given,
        **what,
    }
    test.user_properties.append((PROPERTY, json.dumps(row)))


# --- hooks, called by tests/conftest.py --------------------------------------------------------


def in_order(items: Sequence[pytest.Item]) -> None:
    """Remember the order of the tests, which running them side by side loses."""
    _place.update({item.nodeid: number for number, item in enumerate(items)})


@contextmanager
def written_down(item: pytest.Item) -> Iterator[None]:
    """Let what a test compares be written into its report."""
    if not isinstance(item, pytest.Function):
        yield
        return
    _running.append(item)
    try:
        yield
    finally:
        _running.pop()
