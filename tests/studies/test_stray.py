"""Stray current: which tie causes it, how it divides, and what is normal."""

from __future__ import annotations

import pytest

from bondwright.network.build import Network
from bondwright.studies.flows import Carrier
from bondwright.studies.stray import Nature, StrayStudy, study_stray
from tests.outside import outside, published
from tests.plan.sites import Described, described
from tests.studies.sites import (
    OHM_PER_FT,
    SECOND_TIE,
    SUBPANEL,
    TWO_WRONG_TIES,
    WHOLE_SITES,
    example,
    network,
)

LEAKAGE_A = 2e-3
"""A dozen terminals of 1 nF to earth at 277 V and 60 Hz leak 1.3 mA."""


def on(study: StrayStudy, id: str, conductor: str = "metal") -> float:
    """Return the amperes of one conductor in normal use."""
    (flow,) = [f for f in study.flows if (f.id, f.conductor) == (id, conductor)]
    return flow.amperes


# --- a second tie ------------------------------------------------------------------------------


@pytest.mark.parametrize("egc", ["6 AWG Cu", "8 AWG Cu", "10 AWG Cu", "12 AWG Cu"])
@outside("NEC chapter 9, table 8, current divider", "computed")
def test_the_share_on_metal_is_that_of_the_resistances(egc: str) -> None:
    """Current divider: R_N / (R_N + R_G) by NEC Chapter 9 Table 8 (the join adds next to
    nothing); half and half for equal sizes, about 28 % for 10 AWG beside 6 AWG."""
    study = study_stray(network(SUBPANEL, loads=True, runs__feeder__egc=egc))
    divider = OHM_PER_FT["6 AWG Cu"] / (OHM_PER_FT["6 AWG Cu"] + OHM_PER_FT[egc])
    (current,) = [c for c in study.currents if c.flow.id == "feeder"]
    # "neutral" is the largest on site: that of the supply, which carries the whole.
    assert current.share == published(divider, rel=0.03)
    assert current.flow.amperes == published(10 * divider, rel=0.04, unit="A")


def test_the_second_tie_is_named_as_the_cause() -> None:
    study = study_stray(network(SUBPANEL, loads=True))
    (current,) = [c for c in study.currents if c.flow.id == "feeder"]
    assert current.nature is Nature.OBJECTIONABLE
    assert study.objectionable
    # Lifting the right one would quiet the metal too, and take the fault path away with it.
    assert current.causes == ("stray screw",)
    assert not current.together
    assert current.without is not None
    assert current.without < 1e-3


def test_without_the_second_tie_the_metal_is_quiet() -> None:
    base = {**SUBPANEL, "ties": {"bond": SUBPANEL["ties"]["bond"]}}
    study = study_stray(network(base, loads=True))
    assert not study.objectionable
    assert on(study, "feeder") < 1e-3
    assert on(study, "feeder", "N") == pytest.approx(study.neutral, rel=1e-3)


def test_neutral_to_metal_voltage_by_hand() -> None:
    """Tied once: at the far panel it is the drop of the neutral, 10 A x 60 ft x 0.491 mohm/ft."""
    base = {**SUBPANEL, "ties": {"bond": SUBPANEL["ties"]["bond"]}}
    study = study_stray(network(base, loads=True))
    drop = study.neutral * 60 * OHM_PER_FT["6 AWG Cu"]
    assert study.neutral_to_metal["sub"] == pytest.approx(drop, rel=0.01)
    assert study.neutral_to_metal["main"] < 0.01
    tied = study_stray(network(SUBPANEL, loads=True))
    assert tied.neutral_to_metal["sub"] < 1e-3


@pytest.mark.parametrize("base", WHOLE_SITES.values(), ids=WHOLE_SITES)
def test_kirchhoff_around_every_place(base: Described) -> None:
    """All that comes to a place on runs, pipes and electrode conductors adds up to nothing."""
    site = network(base, loads=True)
    study = study_stray(site)
    for place in site.terminals:
        if place in site.plan.site.sources:
            continue
        outward = sum(
            (f.from_ == place) * f.current - (f.to == place) * f.current
            for f in study.flows
            if f.carrier is not Carrier.TIE
        )
        assert abs(outward) < LEAKAGE_A, place


def test_shares_of_neutral_and_metal_add_up_to_the_load() -> None:
    """Kirchhoff: neutral and ground together bring the line's current back."""
    study = study_stray(network(SUBPANEL, loads=True, runs__feeder__egc="10 AWG Cu"))
    back = sum(f.current for f in study.flows if f.id == "feeder" and f.terminal in {"N", "G"})
    line = next(f.current for f in study.flows if f.id == "feeder" and f.terminal == "L1")
    assert abs(back + line) < LEAKAGE_A


# --- several wrong ties ------------------------------------------------------------------------


def test_when_only_both_together_explain_it_both_are_named() -> None:
    """Lifting one of two wrong ties only sends the current to the other."""
    site = network(TWO_WRONG_TIES, loads=True)
    study = study_stray(site)
    (feeder,) = [c for c in study.currents if c.flow.id == "feeder"]
    for name in ("wrong screw", "shed screw"):
        other = study_stray(site, [site.solver.open_switch(f"tie {name}")])
        assert on(other, "feeder") > 0.5 * feeder.flow.amperes
    both = [site.solver.open_switch(f"tie {name}") for name in ("wrong screw", "shed screw")]
    assert on(study_stray(site, both), "feeder") < 1e-3
    assert feeder.nature is Nature.OBJECTIONABLE
    assert set(feeder.causes) == {"wrong screw", "shed screw"}
    assert feeder.together
    assert feeder.without is not None
    assert feeder.without < 1e-3


def test_two_added_ties_are_named_too() -> None:
    """The same with ties added for the question."""
    one_tie = described(TWO_WRONG_TIES, ties={"screw": {"at": "main", "by": "screw"}})
    site = network(one_tie, loads=True)
    names = [("first", "panel"), ("second", "shed")]
    joins = [site.solver.join(f"{at}:N", f"{at}:G", 5e-4) for _, at in names]
    study = study_stray(site, joins, names)
    (feeder,) = [c for c in study.currents if c.flow.id == "feeder"]
    assert set(feeder.causes) == {"first", "second"}
    (spur,) = [c for c in study.currents if c.flow.id == "spur"]
    assert spur.causes == ("second",)


# --- what is normal ----------------------------------------------------------------------------

NIPPLE: Described = {
    "site": "service with a metal nipple",
    "describes": "as found",
    "sources": {
        "utility": {
            "system": "120/240 V",
            "transformer": {"rating": "50 kVA", "impedance": "2 %"},
            "electrode": "5 ohm",
        }
    },
    "places": {
        "meter": {"kind": "meter"},
        "panel": {
            "kind": "service",
            "main": "200 A",
            "loads": [{"on": "L1-N", "power": "6 kW"}, {"on": "L2-N", "power": "1.2 kW"}],
        },
    },
    "runs": {
        "drop": {"from": "utility", "to": "meter", "length": "60 ft", "lines": "4/0 AWG Al"},
        "nipple": {
            "from": "meter",
            "to": "panel",
            "length": "10 ft",
            "raceway": {"kind": "emt", "size": "2 in"},
            "lines": "3/0 AWG Cu",
            "neutral": "1 AWG Cu",
        },
    },
    "ties": {"meter bond": {"at": "meter", "by": "bus"}, "main bond": {"at": "panel", "by": "bus"}},
    "electrodes": {
        "rod": {"kind": "rod", "at": "panel", "resistance": "20 ohm", "conductor": "6 AWG Cu"}
    },
}


def test_a_supply_side_loop_is_normal() -> None:
    """Metal raceway between meter and main, neutral bonded at both ends: normal there
    (common practice; the same loop past the main is not)."""
    study = study_stray(network(NIPPLE, loads=True))
    (raceway,) = [c for c in study.currents if c.flow.conductor == "raceway"]
    assert raceway.flow.amperes > 0.1
    assert raceway.nature is Nature.SUPPLY_SIDE
    assert raceway.causes == ()
    assert not study.objectionable


def test_the_same_loop_past_the_main_is_objectionable() -> None:
    past = described(
        NIPPLE,
        places__meter={"kind": "service", "main": "200 A"},
        places__panel__kind="panel",
        electrodes__rod__at="meter",
    )
    study = study_stray(network(past, loads=True))
    (raceway,) = [c for c in study.currents if c.flow.conductor == "raceway"]
    assert raceway.nature is Nature.OBJECTIONABLE
    assert raceway.causes == ("main bond",)
    assert study.objectionable


def test_the_electrodes_share_by_hand() -> None:
    """The neutral's drop drives a little current through rod and pole: V / (R1 + R2)."""
    base = described(NIPPLE, runs__nipple__raceway={"kind": "pvc", "size": "2 in"})
    study = study_stray(network(base, loads=True))
    (rod,) = study.currents
    assert rod.flow.carrier is Carrier.ELECTRODE
    assert rod.nature is Nature.EARTH_SHARE
    drop = study.neutral * (60 * OHM_PER_FT["4/0 AWG Al"] + 10 * OHM_PER_FT["1 AWG Cu"])
    assert rod.flow.amperes == pytest.approx(drop / 25, rel=0.1)
    assert not study.objectionable


def quiet_sites() -> dict[str, Network]:
    """Return the whole sites whose ties are where they belong."""
    found = {name: network(base, loads=True) for name, base in WHOLE_SITES.items()}
    found["example"] = example(loads=True)
    return {n: s for n, s in found.items() if all(tie.belongs for tie in s.plan.ties)}


def test_sites_with_the_right_ties_have_no_objectionable_current() -> None:
    sites = quiet_sites()
    assert len(sites) >= 10
    for name, site in sites.items():
        study = study_stray(site)
        assert not study.objectionable, name
        assert all(c.nature is not Nature.OBJECTIONABLE for c in study.currents), name


def test_sites_with_a_wrong_tie_have() -> None:
    for name in ("second tie", "two wrong ties"):
        assert study_stray(network(WHOLE_SITES[name], loads=True)).objectionable


def test_balanced_loads_leave_the_metal_quiet_even_with_a_second_tie() -> None:
    """No neutral current, nothing to share."""
    base = described(
        SECOND_TIE,
        places__main__loads=...,
        places__panel__loads=[{"on": "L1-L2-L3", "power": "9 kW"}],
        places__press__loads=...,
    )
    study = study_stray(network(base, loads=True))
    assert not study.objectionable
    # What remains is what the lines induce in the loop that the second tie closes.
    assert on(study, "feeder") < 0.02 * 9000 / 208


def test_a_site_without_ties_or_loads_is_quiet() -> None:
    study = study_stray(network({**SUBPANEL, "ties": {}}, loads=False))
    assert study.currents == ()
    assert study.neutral < 0.01
