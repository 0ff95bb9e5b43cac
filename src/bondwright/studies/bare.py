"""The network of a plan without its pipes and frames, and its faults from a line to metal.

Pipes and frames help a loop as long as they are whole, and may be cut or replaced by plastic at any
time; so disconnection is judged without them.
"""

from __future__ import annotations

from dataclasses import replace

from bondwright.network.build import Network, build
from bondwright.plan.model import Plan
from bondwright.rules.paths import Standing
from bondwright.site.topology import topology
from bondwright.studies.faults import FaultKind, FaultResult, possible_faults, study_fault


def without_metal(network: Network) -> Network:
    """Return the network of the same plan without its pipes and frames.

    Args:
        network: built without loads; one that has no such metal is returned as it is.
    """
    plan = network.plan
    if not plan.site.metal:
        return network
    site = plan.site.model_copy(update={"metal": {}})
    return build(
        replace(plan, site=site, topology=topology(site)), loads=False, state=network.state
    )


def faults_to_metal(network: Network) -> tuple[FaultResult, ...]:
    """Follow every bolted fault from a line to metal.

    Args:
        network: built without loads.
    """
    wanted = possible_faults(network, [FaultKind.LINE_TO_METAL])
    return tuple(study_fault(network, fault) for fault in wanted)


def standing_metal(plan: Plan) -> Standing:
    """Return what of a plan joins metal to metal; joins of neutral and earth are left out."""
    with_metal = frozenset(
        name for name, run in plan.runs.items() if run.metal is not None or run.raceway_bonded
    )
    return Standing(plan.topology, {}, with_metal)
