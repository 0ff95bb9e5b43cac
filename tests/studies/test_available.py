"""Available fault current: all places side by side give what each gives by itself."""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.network.build import build, first_cycles
from bondwright.plan.build import plan
from bondwright.site.reader import load
from bondwright.studies.availability import available_at_places
from bondwright.studies.available import available_current, availables
from bondwright.studies.protection import duties

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.yaml")), ids=lambda p: p.stem)
def test_a_block_of_places_gives_what_single_joins_give(path: Path) -> None:
    """Two methods: ports from one block of solutions, and one bordered solution for each join."""
    network = first_cycles(build(plan(load(path)), loads=False))
    heads = {name: name for name in network.plan.topology.order}
    together = availables(network, heads)
    for head, place in heads.items():
        alone = available_current(network, head, place)
        # In an ungrounded system the current to metal is set by the capacitance of nodes alone.
        assert together[head].current == pytest.approx(alone.current, rel=1e-6)
        if alone.current > 1:
            assert together[head].peak == pytest.approx(alone.peak, rel=1e-6)


def test_a_place_carries_the_rating_of_what_stands_there() -> None:
    network = build(plan(load(EXAMPLES / "harrow-creek.yaml")), loads=False)
    found = {one.place: one for one in available_at_places(network, duties(network))}
    board = found["hall switchboard"]
    main = next(d for d in board.duties if d.device == "main hall switchboard")
    assert board.available.current == pytest.approx(main.available, rel=1e-6)
    assert "farm utility" not in found
    assert set(found) <= set(network.plan.topology.order)
