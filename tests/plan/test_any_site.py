"""Whatever the reader accepts can be planned, in every state."""

from __future__ import annotations

from hypothesis import HealthCheck, Phase, given, settings

from bondwright.plan.build import plan
from bondwright.rules.answer import Verdict
from bondwright.site import Site
from bondwright.site.ground import Buried
from tests.site.generated import sites


def _measured(electrode: Buried, soil: float) -> float:
    """Hundreds of rods take long to compute, and their resistance matters nothing here."""
    return electrode.count * soil


# Shrinking a whole site takes minutes and tells little more.
@settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
@given(sites())
def test_any_site_can_be_planned(site: Site) -> None:
    result = plan(site, _measured)
    assert set(result.runs) == set(site.runs)
    assert {state.id for state in result.states} >= set(site.states)
    counted = {(one.state, one.origin) for one in result.tie_counts}
    live = {(state.id, origin) for state in result.states for origin in state.systems}
    assert counted == live
    for one in result.tie_counts:
        right = one.terminal is None or one.count == 1
        assert (one.verdict is Verdict.HOLDS) == right
    about = [row.about for row in result.schedule]
    assert set(site.electrodes) <= set(about)
