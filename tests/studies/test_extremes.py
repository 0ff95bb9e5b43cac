"""Values at the ends of what can be written: solved with a small residual.

No result holds a number that is none. An infinite one means "never" or "beyond reckoning", only in
the fields that say so.
"""

from __future__ import annotations

import copy
import dataclasses
import math
from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np
import pytest

from bondwright.explain.findings import residual_findings
from bondwright.network.build import Network
from bondwright.network.solve import Residuals
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Severity
from bondwright.site.check import problems
from bondwright.site.model import Site

SITE: Final[dict[str, Any]] = {
    "site": "a house, a barn and a shop on a transformer",
    "soil": "100 ohm m",
    "sources": {
        "utility": {
            "system": "480Y/277 V",
            "transformer": {"rating": "300 kVA", "impedance": "4 %"},
            "electrode": "5 ohm",
        }
    },
    "places": {
        "board": {"kind": "service", "main": "400 A breaker, instantaneous 2 kA"},
        "shop": {"kind": "panel", "main": "150 A breaker", "loads": [
            {"on": "L1-N", "power": "3 kW", "harmonics": {3: "50 %"}},
            {"on": "L1-L2-L3", "power": "9 kW", "pf": 0.8, "draws": "power"},
        ]},
        "lathe": {"kind": "equipment"},
    },
    "transformers": {
        "unit": {
            "primary": "480 V delta", "secondary": "208Y/120 V", "rating": "45 kVA",
            "impedance": "3 %",
        }
    },
    "runs": {
        "service": {
            "from": "utility", "to": "board", "length": "60 ft", "lines": "500 kcmil Cu",
            "neutral": "1/0 AWG Cu", "raceway": {"kind": "pvc", "size": "4 in"},
        },
        "primary": {
            "from": "board", "to": "unit", "length": "40 ft", "lines": "4 AWG Cu",
            "neutral": "none", "device": "80 A breaker", "raceway": {"kind": "emt", "size": "1 in"},
        },
        "secondary": {
            "from": "unit", "to": "shop", "length": "10 ft", "lines": "1/0 AWG Cu",
            "raceway": {"kind": "emt", "size": "2 in"},
        },
        "branch": {
            "from": "shop", "to": "lathe", "length": "70 ft", "lines": "10 AWG Cu",
            "device": "30 A breaker", "egc": "raceway",
            "raceway": {"kind": "emt", "size": "3/4 in"},
        },
    },
    "electrodes": {"rods": {"kind": "rod", "at": "board", "count": 2}},
    "metal": {
        "pipe": {
            "kind": "water pipe", "from": "board", "to": "lathe", "length": "100 ft",
            "resistance": "0.1 ohm", "earth": "20 ohm",
        }
    },
}  # fmt: skip

EXTREMES: Final[dict[str, dict[str, Any]]] = {
    "runs of a millimetre": {f"runs__{r}__length": "1 mm" for r in SITE["runs"]},
    "a run of ten kilometres": {"runs__branch__length": "10 km"},
    "runs of ten kilometres": {f"runs__{r}__length": "10 km" for r in SITE["runs"]},
    "a millimetre beside ten kilometres": {
        "runs__secondary__length": "1 mm",
        "runs__branch__length": "10 km",
    },
    "a pipe of a microohm": {"metal__pipe__resistance": "1e-6 ohm"},
    "a pipe of a megohm": {"metal__pipe__resistance": "1e6 ohm", "metal__pipe__earth": "1e6 ohm"},
    "a pipe to earth of a microohm": {"metal__pipe__earth": "1e-6 ohm"},
    "electrodes of a microohm": {"electrodes__rods__resistance": "1e-6 ohm"},
    "electrodes of a megohm": {
        "electrodes__rods__resistance": "1e6 ohm",
        "sources__utility__electrode": "1e6 ohm",
    },
    "a source grounded by nothing": {"sources__utility__electrode": "0 ohm"},
    "a tie of no resistance, twice": {
        "ties": {
            "one": {"at": "board", "by": "screw", "resistance": "0 ohm"},
            "two": {"at": "board", "by": "strap", "resistance": "0 ohm"},
            "three": {"at": "unit", "by": "screw", "resistance": "0 ohm"},
            "four": {"at": "shop", "by": "screw", "resistance": "0 ohm"},
        }
    },
    "a tie of a megohm": {"ties": {"one": {"at": "board", "by": "wire", "resistance": "1e6 ohm"}}},
    "twenty parallel sets": {
        "runs__service__lines": "20 x 500 kcmil Cu",
        "runs__service__neutral": "20 x 500 kcmil Cu",
    },
    "an enormous source": {
        "sources__utility__transformer": {"rating": "1e6 kVA", "impedance": "0.1 %"}
    },
    "a tiny source": {"sources__utility__transformer": {"rating": "10 VA", "impedance": "20 %"}},
    "an enormous transformer": {
        "transformers__unit__rating": "1e6 kVA",
        "transformers__unit__impedance": "0.1 %",
    },
    "a tiny transformer": {
        "transformers__unit__rating": "10 VA",
        "transformers__unit__impedance": "20 %",
    },
    "nothing grounded": {"ties": {}, "describes": "as found", "electrodes": {}},
    "a millimetre at an enormous source": {
        "sources__utility__transformer": {"rating": "1e6 kVA", "impedance": "0.1 %"}
    }
    | {f"runs__{r}__length": "1 mm" for r in SITE["runs"]},
    "soil that conducts nothing": {"soil": "1e5 ohm m"},
    "cold conductors": {"conductor temperature": "-40 degC"},
}
MAY_BE_INFINITE: Final = frozenset(
    ["clearing", "fastest", "slowest", "loop", "temperature", "allowed_i2t", "i2t", "time_s",
     "takes_s", "loop_ohm", "clearing_s"]
)  # fmt: skip
SMALL: Final = 1e-3
"""Voltages are known to a part in 1e16: across a microohm at 277 V that leaves a milliampere."""


def site(changes: Mapping[str, Any]) -> Site:
    data = copy.deepcopy(SITE)
    for path, value in changes.items():
        *way, last = path.split("__")
        at = data
        for step in way:
            at = at[step]
        at[last] = value
    return Site.model_validate(data)


def numbers(value: Any, at: str, seen: set[int]) -> Iterator[tuple[str, complex]]:
    """Walk through everything that a result holds and yield its numbers by where they stand."""
    if isinstance(value, bool) or value is None or isinstance(value, str | Network | Plan | Site):
        return
    if isinstance(value, int | float | complex | np.number):
        yield at, complex(value)
        return
    if id(value) in seen:
        return
    seen.add(id(value))
    if isinstance(value, np.ndarray):
        if value.dtype.kind in "fc":
            for one in value.ravel():
                yield at, complex(one)
    elif isinstance(value, Mapping):
        for key, one in value.items():
            yield from numbers(one, f"{at}[{key}]", seen)
    elif isinstance(value, list | tuple | set | frozenset):
        for one in value:
            yield from numbers(one, at, seen)
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from numbers(getattr(value, field.name), f"{at}.{field.name}", seen)


@pytest.mark.parametrize("extreme", EXTREMES)
def test_extremes_are_solved_or_told(extreme: str) -> None:
    made = site(EXTREMES[extreme])
    assert problems(made) == []
    said = study(plan(made))
    rough = any(finding.rule == "solution-rough" for finding in said.findings)
    worst = max(said.residuals.kirchhoff, said.residuals.power)
    assert worst < SMALL
    assert not rough
    count = 0
    for where, number in numbers(said, "results", set()):
        count += 1
        assert not math.isnan(number.real), where
        assert not math.isnan(number.imag), where
        if math.isinf(number.real) or math.isinf(number.imag):
            field = where.rpartition(".")[2].partition("[")[0]
            assert field in MAY_BE_INFINITE, where
    assert count > 300


@pytest.mark.parametrize("field", ["kirchhoff", "power"])
def test_an_answer_that_is_none_is_told(field: str) -> None:
    """Nothing that can be described was found to bring it about; it is told all the same."""
    good = Residuals(kirchhoff=1e-9, power=1e-9)
    assert residual_findings(good) == ()
    (told,) = residual_findings(dataclasses.replace(good, **{field: 2e-3}))
    assert told.severity is Severity.CANNOT_TELL
    assert "0.002 of the largest" in told.text


def test_the_walk_finds_a_number_that_is_none() -> None:
    said = study(plan(site({})))
    worse = dataclasses.replace(said.faults[0], current=math.nan)
    found = [where for where, n in numbers(worse, "fault", set()) if math.isnan(n.real)]
    assert found == ["fault.current"]


@pytest.mark.parametrize("length", ["0 ft", "0 m", "-1 ft", "nan ft", "inf ft"])
def test_a_run_of_no_length_is_refused(length: str) -> None:
    with pytest.raises(ValueError, match="length"):
        site({"runs__branch__length": length})
