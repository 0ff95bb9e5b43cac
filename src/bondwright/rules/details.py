"""Everything that the finer points of a description show to be wrong, in one list."""

from __future__ import annotations

from collections.abc import Mapping

from bondwright.catalog.sizes import Conductor
from bondwright.rules.answer import Finding
from bondwright.rules.areas import area_findings
from bondwright.rules.direct_current import direct_current_findings
from bondwright.rules.electrode_details import electrode_detail_findings
from bondwright.rules.equipment import RACEWAY_RULE
from bondwright.rules.must_ground import must_ground_findings
from bondwright.rules.other_systems import intersystem_findings
from bondwright.rules.paths import Standing
from bondwright.rules.planes import plane_findings
from bondwright.rules.pv_points import grounding_point_findings
from bondwright.rules.raceway_ends import HIGH_RULE, SERVICE_RULE, raceway_end_findings
from bondwright.rules.shared_grounds import flexible_findings
from bondwright.rules.special_places import special_place_findings

RACEWAY_RULES = frozenset({SERVICE_RULE, HIGH_RULE, RACEWAY_RULE})
"""Ids of the findings after which a raceway can't be said to do a conductor's job."""


def detail_findings(
    standing: Standing,
    conductors: Mapping[str, Conductor | None],
    without_wire: frozenset[str],
    rules: str,
) -> tuple[Finding, ...]:
    """Return every finding on raceway ends, electrodes' details, areas and other systems.

    Args:
        standing: what stands.
        conductors: the electrode conductor of every electrode, by id.
        without_wire: load-side runs whose raceway is the ground, with no wire in it.
        rules: name of the rule set.
    """
    tree = standing.tree
    return (
        *raceway_end_findings(tree, rules),
        *flexible_findings(tree, without_wire, rules),
        *electrode_detail_findings(standing, conductors, rules),
        *must_ground_findings(tree, standing.ties, rules),
        *intersystem_findings(tree, rules),
        *area_findings(tree, rules),
        *plane_findings(tree, rules),
        *special_place_findings(tree, without_wire, rules),
        *direct_current_findings(tree, rules),
        *grounding_point_findings(tree.site),
    )
