"""The range of the answers of a study, and what they depend on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.site.ranges import Unknown
from bondwright.studies.fault_model import Fault
from bondwright.studies.fault_table import VERDICTS
from bondwright.studies.flows import Flow
from bondwright.studies.many.run import HERE, How, run
from bondwright.studies.many.work import unpacked
from bondwright.studies.spread.matters import Spread, spread
from bondwright.studies.spread.work import Asker, Samples
from bondwright.studies.stray import NOISE_A


@dataclass(frozen=True, slots=True)
class FaultSpread:
    """One fault over all samples.

    Attributes:
        fault: the fault.
        current: at its start, A.
        clearing: latest time at which it stops, s; infinite if never.
        touch: highest voltage of metal to remote earth, V.
        verdicts: part of the samples with each verdict.
    """

    fault: Fault
    current: Spread
    clearing: Spread
    touch: Spread
    verdicts: dict[Verdict, float]


@dataclass(frozen=True, slots=True)
class StraySpread:
    """One current on metal over all samples.

    Attributes:
        flow: what carries it, at the nominal values.
        amperes: the current at the system's frequency, A.
        objectionable: part of the samples in which it is neutral current where it should not be.
    """

    flow: Flow
    amperes: Spread
    objectionable: float


@dataclass(frozen=True, slots=True, eq=False)
class Sampled:
    """A study of many samples.

    Attributes:
        plan: at the nominal values.
        unknown: what was sampled.
        samples: how many.
        seed: which.
        faults: the faults, where they were asked for.
        currents: the currents on metal that some sample has, the largest first.
        resized: part of the samples in which the plan itself would be another.
        as_table: whether steel raceways are as they are without current.
    """

    plan: Plan
    unknown: tuple[Unknown, ...]
    samples: int
    seed: int
    faults: tuple[FaultSpread, ...]
    currents: tuple[StraySpread, ...]
    resized: float
    as_table: bool


def study_samples(work: Samples, how: How = HERE) -> Sampled:
    """Study every sample of a site, wherever ``how`` says.

    Args:
        work: the samples.
        how: where they are studied, and where what is done is kept.

    Raises:
        ValueError: a sample is no site that can be studied.
    """
    found = [unpacked(data) for data in run(work, how).values()]
    whole = {name: np.concatenate([piece[name] for piece in found]) for name in found[0]}
    asker = Asker(work.site, work.what)
    nominal = asker.answer(work.site)

    def of(name: str, k: int) -> Spread:
        return spread(float(nominal[name][k]), whole[name][:, k], work.values)

    faults = tuple(
        FaultSpread(
            fault,
            of("current", k),
            of("clearing", k),
            of("touch", k),
            {v: float((whole["verdict"][:, k] == i).mean()) for i, v in enumerate(VERDICTS)},
        )
        for k, fault in enumerate(asker.faults)
    )
    currents = [
        StraySpread(asker.flows[key], of("amperes", k), float(whole["objectionable"][:, k].mean()))
        for k, key in enumerate(asker.keys)
        if max(whole["amperes"][:, k].max(), nominal["amperes"][k]) >= NOISE_A
    ]
    currents.sort(key=lambda one: -one.amperes.greatest)
    return Sampled(
        asker.plan,
        work.unknown,
        work.samples,
        work.seed,
        faults,
        tuple(currents),
        float(whole["resized"].mean()),
        bool(asker.faults) and asker.as_table,
    )
