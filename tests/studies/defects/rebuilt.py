"""Circuits changed by hand and factored anew: what the low-rank answers are held against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from bondwright.network.build import Network, build
from bondwright.network.circuit import Circuit
from bondwright.plan.build import plan
from bondwright.site.generator import large_site
from bondwright.studies.defects.alterations import Alteration, Break, Insert, Join, Lift, Swap
from bondwright.studies.defects.catalogue import Defect
from bondwright.studies.fault_model import Fault
from bondwright.studies.scene import joins_of
from tests.studies.sites import WHOLE_SITES, network

FAULT = "the fault"


def rebuilt(site: Network, defect: Defect | None, fault: Fault | None = None) -> Circuit:
    """Return a site's circuit with a defect and a fault built into it."""
    old = site.circuit
    circuit = Circuit(
        old.frequency,
        old.leakage,
        list(old.sections),
        list(old.sources),
        list(old.switches),
        list(old.transformers),
        [*old.loose, *old.nodes()],
    )
    for number, item in enumerate(defect.alterations if defect else ()):
        _alter(circuit, item, number)
    for number, (a, b) in enumerate(joins_of(fault) if fault else ()):
        assert fault is not None
        name = FAULT if number == 0 else f"{FAULT} {number}"
        if fault.impedance:
            circuit.add_switch(name, a, f"{name} end")
            circuit.add_impedance(f"{name} z", f"{name} end", b, fault.impedance)
        else:
            circuit.add_switch(name, a, b)
    return circuit


def _alter(circuit: Circuit, item: Alteration, number: int) -> None:
    match item:
        case Join(a, b, ohm):
            circuit.add_impedance(f"defect {number}", a, b, ohm)
        case Break(section, conductor):
            k, place = _find(circuit, section, conductor)
            old = circuit.sections[k]
            keep = [i for i in range(len(old.names)) if i != place]
            circuit.sections[k] = replace(
                old,
                names=tuple(old.names[i] for i in keep),
                starts=tuple(old.starts[i] for i in keep),
                ends=tuple(old.ends[i] for i in keep),
                impedance=old.impedance[np.ix_(keep, keep)],
            )
            if not keep:
                del circuit.sections[k]
        case Insert(section, conductor, ohm):
            k, place = _find(circuit, section, conductor)
            z = circuit.sections[k].impedance.copy()
            z[place, place] += ohm
            circuit.sections[k] = replace(circuit.sections[k], impedance=z)
        case Lift(tie, ohm) if ohm is None:
            k = [s.id for s in circuit.switches].index(f"tie {tie}")
            circuit.switches[k] = replace(circuit.switches[k], closed=False)
        case Lift(tie, float(ohm)):
            k, _ = _find(circuit, f"join {tie}", "z")
            old = circuit.sections[k]
            circuit.sections[k] = replace(old, impedance=old.impedance + ohm)
        case Swap(section, first, second, a, b):
            k = [s.id for s in circuit.sections].index(section)
            old = circuit.sections[k]
            ends = [
                b if n in first else a if n in second else end
                for n, end in zip(old.names, old.ends, strict=True)
            ]
            circuit.sections[k] = replace(old, ends=tuple(ends))


def _find(circuit: Circuit, section: str, conductor: str) -> tuple[int, int]:
    k = [s.id for s in circuit.sections].index(section)
    return k, circuit.sections[k].names.index(conductor)


def ten_sites(*, loads: bool = False) -> Sequence[tuple[str, Network]]:
    """Return ten sites: made-up buildings of several sizes, and hand-made ones."""
    found = [
        (f"{places} places, seed {seed}", build(plan(large_site(places, seed)), loads=loads))
        for places, seed in ((4, 1), (9, 2), (17, 3), (30, 4), (45, 5), (64, 6))
    ]
    names = list(WHOLE_SITES)[:4]
    return [*found, *((name, network(WHOLE_SITES[name], loads=loads)) for name in names)]
