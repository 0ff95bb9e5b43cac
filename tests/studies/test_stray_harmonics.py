"""Stray current with loads that make harmonics, by hand calculation."""

from __future__ import annotations

import pytest

from bondwright.explain.stray import tell_stray
from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.site.model import Site
from bondwright.studies.stray import Nature, study_stray
from bondwright.studies.whatif import ADDED_TIE_OHM


def shop() -> Network:
    """Return a 208Y/120 V panel with balanced electronic loads at the end of a feeder."""
    loads = [{"on": f"L{k}-N", "power": "2.4 kW", "harmonics": {3: "60 %"}} for k in (1, 2, 3)]
    return build(
        plan(
            Site.model_validate(
                {
                    "site": "bench",
                    "sources": {
                        "utility": {"system": "208Y/120 V", "available": {"current": "20 kA"}}
                    },
                    "places": {
                        "service": {"kind": "service", "main": "200 A breaker"},
                        "panel": {"kind": "panel", "loads": loads},
                    },
                    "runs": {
                        "drop": {"from": "utility", "to": "service", "length": "30 ft",
                                 "lines": "3/0 AWG Cu"},
                        "feeder": {"from": "service", "to": "panel", "device": "60 A breaker",
                                   "length": "100 ft", "lines": "6 AWG Cu", "egc": "6 AWG Cu"},
                    },
                }
            )
        )
    )  # fmt: skip


def test_balanced_electronic_loads_put_third_harmonic_in_the_neutral_only() -> None:
    """3 x 60 % of 20 A in the neutral (triplen currents are in step), none on metal."""
    found = study_stray(shop())
    assert found.settled
    assert found.neutral < 0.1
    assert dict(found.neutral_harmonics)[3] == pytest.approx(3 * 0.6 * 20, rel=0.02)
    assert not found.objectionable
    assert not found.currents


def test_a_second_tie_shares_the_third_harmonic_between_neutral_and_ground_wire() -> None:
    """Equal wires share about evenly: near 18 A on each though the loads are balanced."""
    network = shop()
    join = network.solver.join("panel:N", "panel:G", ADDED_TIE_OHM)
    found = study_stray(network, [join], [("wrong", "panel")])
    (ground,) = (c for c in found.currents if c.flow.id == "feeder")
    third = dict(ground.harmonics)[3]
    assert third == pytest.approx(18, rel=0.12)
    assert ground.rms == pytest.approx(third, rel=0.01)
    assert third + dict(found.neutral_harmonics)[3] >= 3 * 0.6 * 20 * 0.99
    assert "third harmonic" in tell_stray(found, network.plan).text
    assert ground.nature is Nature.OBJECTIONABLE
    assert ground.causes == ("wrong",)
