"""What must hold for what faults do to the ground, wherever electrodes lie in whatever soil."""

from __future__ import annotations

import random
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.site.model import Site
from bondwright.studies.faults import FaultKind, possible_faults, study_faults
from bondwright.studies.ground import electrode_currents, electrode_rises, study_ground
from bondwright.studies.ground_model import GroundStudy
from bondwright.studies.ground_parts import joined_resistance
from bondwright.studies.scene import Scene
from tests.studies.anywhere import seeds


def described(seed: int) -> dict[str, Any]:
    """A shop with an outbuilding, electrodes strewn about, and a neighbour's."""
    dice = random.Random(f"ground {seed}")

    def spot() -> list[str]:
        return [f"{dice.uniform(-12, 12):.2f} m", f"{dice.uniform(-12, 12):.2f} m"]

    soil = f"{dice.randint(20, 800)} ohm m"
    if dice.random() < 0.6:
        soil += f" / {dice.randint(1, 5)} m / {dice.randint(20, 800)} ohm m"
    electrodes: dict[str, Any] = {}
    for k in range(dice.randint(2, 4)):
        at = dice.choice(["main", "shed"])
        rod = {"kind": "rod", "at": at, "position": spot(), "conductor": "6 AWG Cu"}
        if dice.random() < 0.3:
            rod["resistance"] = f"{dice.randint(5, 60)} ohm"
        electrodes[f"rod {k}"] = rod
    if dice.random() < 0.5:
        x, y = spot()
        far = f"{float(x.split()[0]) + dice.uniform(3, 9):.2f} m"
        electrodes["footing"] = {
            "kind": "concrete", "at": "main", "along": [[x, y], [far, y]], "depth": "2 ft",
            "conductor": "4 AWG Cu",
        }  # fmt: skip
    return {
        "site": "strewn about",
        "soil": soil,
        "seasons": {"dry": {"factor": dice.uniform(1.5, 4), "down to": "1 m"}},
        "sources": {
            "utility": {
                "system": "120/240 V",
                "transformer": {"rating": "25 kVA", "impedance": "2 %"},
                "electrode": f"{dice.randint(2, 20)} ohm",
            }
        },
        "places": {
            "main": {"kind": "service", "main": "100 A breaker", "position": ["0 m", "0 m"]},
            "shed": {"kind": "panel", "building": "shed", "main": "60 A breaker",
                     "position": ["14 m", "3 m"]},
        },
        "runs": {
            "drop": {"from": "utility", "to": "main", "length": "90 ft", "wiring": "cable",
                     "lines": "2/0 AWG Cu", "neutral": "2/0 AWG Cu"},
            "feeder": {"from": "main", "to": "shed", "length": f"{dice.randint(40, 200)} ft",
                       "lines": "6 AWG Cu", "egc": "10 AWG Cu", "device": "60 A breaker",
                       "wiring": "direct buried"},
        },
        "electrodes": electrodes,
        "neighbours": {"cottage rod": {"kind": "rod", "position": spot()}},
    }  # fmt: skip


@lru_cache(maxsize=4)
def studied(seed: int) -> tuple[Network, GroundStudy]:
    network = build(plan(Site.model_validate(described(seed))), loads=False)
    faults = study_faults(network, possible_faults(network, [FaultKind.LINE_TO_METAL]))
    return network, study_ground(network, faults, most=1)


@pytest.mark.parametrize("seed", seeds(2))
def test_what_one_electrode_does_to_another_is_mutual_and_takes_power(seed: int) -> None:
    ground = studied(seed)[0].plan.ground
    matrix = np.array(ground.resistance)
    assert np.abs(matrix - matrix.T).max() <= 1e-9 * matrix.max()
    assert np.linalg.eigvalsh(matrix).min() > 0
    # No electrode lifts another higher than itself.
    assert (matrix <= np.diag(matrix)[None, :] * (1 + 1e-6)).all()


@pytest.mark.parametrize("seed", seeds(2))
def test_one_more_electrode_never_harms(seed: int) -> None:
    network, study = studied(seed)
    names, ground = list(study.joined), network.plan.ground
    random.Random(seed).shuffle(names)
    before = np.inf
    for k in range(1, len(names) + 1):
        ohms = joined_resistance(ground, names[:k])
        assert ohms is not None
        assert 0 < ohms <= before * (1 + 1e-9)
        # Nor is it ever better than if the others didn't feel it.
        apart = 1 / sum(1 / ground.between(name, name) for name in names[:k])
        assert ohms >= apart * (1 - 1e-9)
        before = ohms
    assert study.resistance_ohm == pytest.approx(before, rel=1e-9)


@pytest.mark.parametrize("seed", seeds(2))
def test_currents_into_the_ground_are_what_lifts_it(seed: int) -> None:
    """Rises are the matrix times the currents; touch and step stay below the highest rise."""
    network, study = studied(seed)
    ground = network.plan.ground
    assert study.faults
    for one in study.faults:
        solution = Scene(network, one.fault).solve()
        into, rises = electrode_currents(network.plan, solution), electrode_rises(network, solution)
        amps = np.array([into.get(name, 0j) for name in ground.names])
        volts = np.array([rises[name] for name in ground.names])
        due = np.array(ground.resistance) @ amps
        assert np.abs(volts - due).max() <= 1e-3 * np.abs(volts).max() + 1e-6
        assert one.total_a == pytest.approx(abs(amps.sum()), rel=1e-9)
        assert one.total_a <= one.fault_a * (1 + 1e-6)
        highest = max(one.rise_v.values())
        for touch in one.touch:
            assert touch.touch_v >= 0
            assert abs(touch.touch_v - touch.metal_v) <= touch.ground_v * (1 + 1e-6) + 1e-6
            assert touch.ground_v <= highest * 1.001
        for drawn in one.maps:
            assert drawn.step_worst_v <= highest * 1.01
        assert len(one.seasons) == 1


@pytest.mark.parametrize("seed", seeds(2))
def test_all_is_in_proportion_to_the_soil(seed: int) -> None:
    """Three times the resistivity everywhere, three times the volts for each ampere.

    Concrete keeps its own resistivity, so no footing here.
    """
    site = described(seed)
    site["electrodes"].pop("footing", None)
    for electrode in site["electrodes"].values():
        electrode.pop("resistance", None)
    one = plan(Site.model_validate(site)).ground
    parts = site["soil"].split(" / ")
    tripled = [f"{3 * int(p.split()[0])} ohm m" if p.endswith("ohm m") else p for p in parts]
    other = plan(Site.model_validate(site | {"soil": " / ".join(tripled)})).ground
    assert np.array(other.resistance) == pytest.approx(3 * np.array(one.resistance), rel=1e-3)
