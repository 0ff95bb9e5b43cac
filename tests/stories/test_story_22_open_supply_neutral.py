"""The supply's neutral opens where neutral and metal are joined: all metal becomes live.

The case (a garden tap, a severe shock, no residual-current device operated; published report and
replies) gives the formula V R/(R + Z) and the example of 160 V for 2.4 kW and 50 ohm. Both are
held against the network, and the network against ngspice.
"""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from bondwright.cli.main import main
from bondwright.draw.open_neutral import open_neutral_plot
from bondwright.explain.open_neutral import tell_open_neutral
from bondwright.network.build import build
from bondwright.network.circuit import EARTH
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.site.reader import load
from bondwright.studies.open_neutral import study_open_neutral, supply_runs
from tests.network.test_ngspice import assert_agrees
from tests.outside import outside, published

TESTS = Path(__file__).parents[1]
EXAMPLES = TESTS.parent / "examples"
TAP = TESTS / "cases" / "S16-perth-tap.yaml"


def tap() -> Plan:
    return plan(load(TAP))


def test_the_metal_follows_electrode_and_load() -> None:
    """V R/(R + Z) over a table of loads and electrodes; wires and supply take what is left."""
    ohms = [1.0, 5.0, 20.0, 50.0, 100.0, 1000.0]
    study = study_open_neutral(tap(), powers=[500, 2400, 5000], resistances=ohms)
    for watts, row in zip(study.powers, study.points, strict=True):
        for resistance, point in zip(ohms, row, strict=True):
            due = 230 * resistance / (resistance + 230**2 / watts)
            assert point.metal == pytest.approx(due, rel=0.05)
            assert point.earth == pytest.approx(point.metal / resistance, rel=1e-9)
            assert point.low == pytest.approx(1 - due / 230, abs=0.05)


@outside(
    "published report of a shock at a garden tap, and replies to it (S16)", "one-source", unit="V"
)
def test_the_example_of_the_case() -> None:
    study = study_open_neutral(tap())
    assert study.now is not None
    assert study.now.metal == published(160, rel=0.02)
    assert study.resistance == pytest.approx(50, rel=0.01)
    assert study.powers[study.described] == 2400
    # 50 V = 230 R/(R + 22.04): R = 6.12 ohm (the formula, solved for R).
    assert study.crosses(study.described) == pytest.approx(6.12, rel=0.03)
    assert tell_open_neutral(study).verdict is Verdict.FALLS_SHORT


def test_no_residual_current_device_sees_it() -> None:
    """30 mA devices on every circuit of a TN-C-S flat: what goes out comes back (Kirchhoff)."""
    study = study_open_neutral(plan(load(EXAMPLES / "flat-over-the-cider-shop.yaml")))
    assert study.residual_devices
    assert study.tied
    assert study.trips == pytest.approx(0.03)
    assert study.residual < 1e-3
    assert study.metal.max() > 200
    assert "none opens" in " ".join(tell_open_neutral(study).sentences)


def test_where_neutral_and_metal_are_apart_nothing_rises() -> None:
    """TT: the electrode is the installation's own, the neutral is not on it."""
    study = study_open_neutral(plan(load(EXAMPLES / "cider-makers-cottage.yaml")))
    assert not study.tied
    assert study.metal.max() < 0.01
    assert tell_open_neutral(study).verdict is Verdict.HOLDS
    assert math.isinf(study.crosses(0))


def test_a_split_phase_house_sees_its_lines_shift() -> None:
    """120/240 V: with no path left, loads in series share 240 V by their impedances.

    At 1000 ohm little flows by the earth: the voltages of the two legs sum to 240 V (elementary
    circuit), less what a quarter of the load drops on the lines.
    """
    study = study_open_neutral(plan(load(EXAMPLES / "harrow-creek-farmhouse.yaml")))
    least = study.points[0][-1]
    assert least.low + least.high == pytest.approx(2, abs=0.02)
    assert least.high > 1.3
    assert "burns out" in " ".join(tell_open_neutral(study).sentences)


@outside("ngspice, an open supply neutral", "computed", unit="V")
def test_ngspice_says_the_same(ngspice: Path, tmp_path: Path) -> None:
    """The same circuit with its neutral's gap and another electrode, by another program."""
    study = study_open_neutral(tap(), powers=[2400], resistances=[20.0])
    network = build(tap())
    solver = network.solver
    changes = [
        solver.open_conductor("run mains entry", "N"),
        solver.open_conductor("electrode conductor house electrode", "metal"),
        solver.join("switchboard:G", EARTH, 20.0),
    ]
    assert_agrees(ngspice, tmp_path, network.circuit, solver, changes)
    volts = abs(solver.solve(changes).voltage("switchboard:G"))
    assert volts == pytest.approx(study.points[0][0].metal, rel=1e-9)


def test_the_plot_has_a_curve_a_load_and_the_residual_current() -> None:
    study = study_open_neutral(tap(), powers=[500, 2400])
    drawn = open_neutral_plot(study)
    for words in ("500 W", "2.4 kW", "metal to earth", "residual", "30 mA"):
        assert f">{words}</text>" in drawn.svg
    assert "as described: 50 ohm, 159 V" in drawn.svg
    curves = re.findall(r'class="curve">.*?<path d="([^"]+)"', drawn.svg)
    assert len(curves) == 2
    # Upwards is less px: every curve rises all the way.
    for data in curves:
        heights = [float(y) for _, y in re.findall(r"([0-9.]+) ([0-9.]+)", data)]
        assert heights == sorted(heights, reverse=True)
    with pytest.raises(ValueError, match="too small"):
        open_neutral_plot(study, wide=100)


def test_the_command(tmp_path: Path) -> None:
    picture = tmp_path / "open.svg"
    asked = ["open-neutral", str(TAP), "--load", "2.4 kW", "--picture", str(picture)]
    done = CliRunner().invoke(main, asked)
    assert done.exit_code == 0
    told = " ".join(done.output.split())
    assert "stands at 159 V to remote earth" in told
    assert "call the utility" in told
    assert picture.exists()
    said: dict[str, Any] = json.loads(CliRunner().invoke(main, [*asked, "--json"]).output)
    assert (said["format"], said["version"]) == ("bondwright/open-neutral", 1)
    assert said["as_described"]["metal_v"] == pytest.approx(160, rel=0.02)
    assert len(said["curves"]) == 1


@pytest.mark.parametrize(
    ("more", "problem"),
    [
        (["--load", "2.4"], "has no unit"),
        (["--load", "0 W"], "more than nothing"),
        (["--run", "kitchen circuit"], "no supply run with a neutral; there is mains entry"),
    ],
)
def test_what_cannot_be_asked(more: list[str], problem: str) -> None:
    done = CliRunner().invoke(main, ["open-neutral", str(TAP), *more])
    assert done.exit_code == 2
    assert problem in " ".join(done.output.split())


def test_sites_without_what_it_takes() -> None:
    steel = plan(load(EXAMPLES / "fermentation-hall.yaml"))
    assert supply_runs(steel) == ()
    with pytest.raises(ValueError, match="no supply of this site has a neutral"):
        study_open_neutral(steel)
    with pytest.raises(ValueError, match="must be positive"):
        study_open_neutral(tap(), powers=[-1])
