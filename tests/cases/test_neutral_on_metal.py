"""Neutral current on metal, and neutrals that fail, as people found them.

The basis of each verdict is one of: stated by the source, replies in the discussion, compiled
reasoning (by us, not in the source).
"""

from __future__ import annotations

import pytest

from bondwright.rules.answer import Severity, Verdict
from bondwright.studies.stray import Nature, study_stray
from bondwright.studies.whatif import tie_added
from tests.cases.asking import amperes, broken, case, clamp, opened, phasor, volts
from tests.outside import outside, published

TOL = 0.05  # where a case gives no tolerance


@pytest.mark.parametrize(
    ("name", "metal_share", "rel"),
    [("S04-lab-bond-screw", 0.50, 0.10), ("S04-lab-bond-screw-10awg", 0.28, TOL)],
)
@outside("case S04, stated by the source", "one-source", unit="of the current")
def test_s04_screw_in_a_subpanel(name: str, metal_share: float, rel: float) -> None:
    """S04: a training rig; all in the neutral with the screw out, half and half with it in.

    Verdict (stated by the source; the 28 % of 10 AWG beside 6 AWG is compiled reasoning): equal
    sizes share equally (10 %), otherwise by conductance. Source: published article, "Never bond
    ground and neutral in a subpanel".
    """
    network = case(name).in_use
    out = network.solver.solve()
    line = amperes(network, out, "feeder", "L1")
    assert amperes(network, out, "feeder", "N") == pytest.approx(line, rel=1e-3)
    assert amperes(network, out, "feeder", "metal") < 1e-3
    story = tie_added(network, "subpanel")
    assert not story.before.objectionable
    assert story.after.objectionable
    (on_metal,) = [c for c in story.after.currents if c.flow.id == "feeder"]
    assert on_metal.nature is Nature.OBJECTIONABLE
    assert on_metal.causes == (story.name,)
    lines = {f.conductor: f.amperes for f in story.after.flows if f.id == "feeder"}
    assert lines["metal"] / lines["L1"] == pytest.approx(metal_share, rel=rel)
    assert lines["N"] / lines["L1"] == published(1 - metal_share, rel=rel)


@outside("case S12, stated by the source", "one-source", unit="A")
def test_s12_conduit_carries_the_load_and_nothing_trips() -> None:
    """S12: 15 A on the conduit of a 20 A circuit after its neutral failed.

    Verdict (stated by the source): to the breaker the returning current is load current, so it
    does not open. A clamp around the wires inside shows all of it; around wires and conduit
    together they cancel. Source: public Q&A thread, "Metallic conduit as ground: measured
    currents".
    """
    found = case("S12-conduit-15A")
    assert "tie-load-side" in found.rules("contact in the machine")
    network = found.in_use
    now = network.solver.solve(broken(network, "branch", "N"))
    assert amperes(network, now, "branch", "raceway") == published(15, rel=TOL)
    assert clamp(network, now, "branch", metal=False) == published(15, rel=TOL)
    assert clamp(network, now, "branch", metal=True) < 0.01
    (pole,) = network.devices["device branch"].poles
    assert abs(now.switch_current(pole.switch)) < network.devices["device branch"].rating.rating_a


@outside("case S12, stated by the source", "one-source")
def test_s12_a_bad_joint_makes_a_touch_voltage() -> None:
    """S12: 15 A across a joint of 2 ohm are 30 V. Basis and source as above."""
    network = case("S12-conduit-15A-bad-joint").in_use
    now = network.solver.solve(
        [*broken(network, "branch", "N"), *broken(network, "branch", "raceway", 2.0)]
    )
    assert amperes(network, now, "branch", "L1") == published(15, rel=TOL, unit="A")
    assert volts(now, "machine:G", "panel:G") == published(30, rel=TOL, unit="V")


@outside("case S16, an example of ours", "computed", unit="V")
def test_s16_open_supply_neutral_lifts_all_metal() -> None:
    """S16: a severe shock at a garden tap, no residual-current device operated.

    Verdict (replies in the discussion, regulator's investigation; the numbers are an example of
    ours): the load's return lifts the earthing, V R/(R + Z) = about 160 V for 2.4 kW and 50 ohm;
    downstream devices see balanced current. Source: public Q&A thread, "WA March 2018 electric
    shock - report release".
    """
    network = case("S16-perth-tap").in_use
    whole = network.solver.solve()
    gone = network.solver.solve(broken(network, "mains entry", "N"))
    assert volts(gone, "garden tap:G") == published(160, rel=TOL)
    load = 230**2 / 2400
    assert volts(gone, "garden tap:G") == published(230 * 50 / (50 + load), rel=0.01)
    assert amperes(network, gone, "kitchen circuit", "L1") > 3
    assert clamp(network, gone, "kitchen circuit", metal=False) < 0.001
    # Weeks before, with a joint that still conducts, nothing is to be seen.
    assert volts(whole, "garden tap:G") < 2


def test_r01_neutral_bonded_at_poles_falls_short() -> None:
    """R01: light poles on three wires, the neutral bonded at each pole and rod.

    Verdict (replies in the discussion): not permitted for new work; the cure is an equipment
    grounding conductor. Source: public Q&A thread, "Grounding site lights".
    """
    found = case("R01-rest-area-poles")
    for number in (1, 2, 3, 4):
        finding = found.finding("tie-load-side", f"bond at pole {number}")
        assert finding.severity is Severity.FALLS_SHORT
        assert "Don't take" in finding.cure
        assert "equipment grounding conductor" in finding.cure
    assert found.worst() is Severity.FALLS_SHORT
    cured = case("R01-rest-area-poles-with-egc")
    assert cured.rules() & {"tie-load-side", "fault-path", "earth-not-a-path"} == set()
    assert cured.fault("pole 4").verdict is Verdict.HOLDS


def test_r01_trap_taking_the_bond_off_is_worse() -> None:
    """R01, its trap: the temporary fix, bonds off and rods left, has no fault path at all."""
    before, after = case("R01-rest-area-poles"), case("R01-rest-area-poles-bonds-removed")
    assert after.worst() is Severity.DANGER
    for number in (1, 2, 3, 4):
        assert after.finding("fault-path", f"to pole {number}").severity is Severity.DANGER
        assert "earth-not-a-path" in after.rules(f"rod {number}")
    assert before.fault("pole 4").cleared
    stays = after.fault("pole 4")
    assert not stays.cleared
    assert stays.openings == ()
    assert stays.live_after > 90


@outside("case R01, replies in a public thread", "one-source", unit="V")
def test_r01_an_open_neutral_lifts_the_poles_beyond_it() -> None:
    """R01: beyond a break in the neutral the poles rise towards 120 V.

    Verdict (replies in the discussion): 120 V. With two 25 ohm rods beyond the break and two
    250 W lamps we find 34 V; the published value is the limit without useful rods.
    """
    network = case("R01-rest-area-poles").in_use
    gap = broken(network, "to pole 3", "N")
    rods = network.solver.solve(gap)
    dry = network.solver.solve(
        [
            *gap,
            *opened(network, "electrode conductor rod 3", "metal"),
            *opened(network, "electrode conductor rod 4", "metal"),
        ]
    )
    for pole in ("pole 3", "pole 4"):
        assert volts(rods, f"{pole}:G") > 25
        assert volts(dry, f"{pole}:G") == published(120, rel=TOL)
    for pole in ("pole 1", "pole 2"):
        assert volts(dry, f"{pole}:G") < 5


def test_r03_metal_beside_the_neutral_ahead_of_the_main_is_normal() -> None:
    """R03: a metal raceway between meter and main, bonded at both ends.

    Verdict (replies in the discussion, many contributors): inherent and accepted on the supply
    side, no violation. The trap is to flag every loop. Source: public Q&A threads, "Objectionable
    current; Parallel path???".
    """
    found = case("R03-meter-main-raceway")
    assert {(f.rule, f.where) for f in found.plan.findings} == {("supply-side-loop", "nipple")}
    assert found.worst() is Severity.NOTE
    study = study_stray(found.in_use)
    assert not study.objectionable
    (shared,) = [c for c in study.currents if c.flow.id == "nipple"]
    assert shared.nature is Nature.SUPPLY_SIDE
    assert 0.05 < shared.share < 0.95
    assert shared.causes == ()


def test_r03_the_same_past_the_main_is_a_violation() -> None:
    """R03: the same geometry on the load side must be a violation. Basis, source as above."""
    found = case("R03-meter-main-raceway-load-side")
    assert found.finding("tie-load-side", "second bond").severity is Severity.FALLS_SHORT
    study = study_stray(found.in_use)
    assert study.objectionable
    (shared,) = [c for c in study.currents if c.flow.id == "nipple"]
    assert shared.nature is Nature.OBJECTIONABLE
    assert shared.causes == ("second bond",)
    assert shared.without is not None
    assert shared.without < 0.01
    # Wires and raceway together carry no net current, as far as the earth takes none.
    network = found.in_use
    now = network.solver.solve()
    assert clamp(network, now, "nipple", metal=True) < 0.1
    assert abs(phasor(network, now, "nipple", "raceway")) > 1
