"""A ranking in the words of the page: causes, what speaks for them, and what to read next."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Final

from bondwright.draw.phasors import phasor_picture
from bondwright.explain.hunt import (
    HEATER_CAUTION,
    LEAST,
    cure_words,
    headline,
    lessons,
    tell_cause,
    tell_proposal,
    utility_asks,
)
from bondwright.explain.phasors import heading, tell_plane
from bondwright.explain.words import capital
from bondwright.network.build import Network
from bondwright.page.wire import Target
from bondwright.page.wire_field import AskInfo, CauseInfo, HuntResult, PlaneInfo
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.studies.hunt.candidates import Candidate, candidates
from bondwright.studies.hunt.hypotheses import Hypothesis
from bondwright.studies.hunt.instruments import Quantity, instruments
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.next_reading import Proposal, grouped, ports_of, propose
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.phasors import PhasorPlane, phasor_planes
from bondwright.studies.hunt.ports import Port
from bondwright.studies.hunt.rank import Ranking, hunt
from bondwright.studies.hunt.readings import readings_of
from bondwright.studies.hunt.staged import everything, with_main_off
from bondwright.studies.hunt.table import COLUMNS, Problems, Row

Cells = Mapping[str, str]
SHOWN: Final = 6
"""Causes, and readings to take next, that are told."""
MOST_ASKED: Final = 3000
"""Where there is more to be asked for, nothing is that has loads switched off or a heater plugged
in: a person in front of a panel doesn't wait for a minute."""
UNITS: Final = {
    Quantity.CURRENT: ("A", "mA"),
    Quantity.NET_CURRENT: ("A", "mA"),
    Quantity.VOLTAGE: ("V", "mV"),
    Quantity.RESISTANCE: ("ohm", "kohm", "Mohm"),
    Quantity.LOOP: ("ohm", "mohm"),
    Quantity.EARTH_LOOP: ("ohm", "kohm"),
    Quantity.LOAD: ("W", "kW"),
}
"""Units that a reading is written in, the usual one first."""
OVER: Final = frozenset({Quantity.RESISTANCE, Quantity.LOOP, Quantity.EARTH_LOOP})
"""What can be over an instrument's range."""
COVER_OFF: Final = "Cover off: for a qualified person, with the protection that goes with it."
_COVER: Final = "cover off"
_DEAD: Final = ", with the power off, locked out and proved dead"
_PLACE_PORTS: Final = (
    ("electrode conductor ", "electrode"),
    ("electrode of ", "source"),
    ("run ", "run"),
    ("tie ", "tie"),
    ("transformer ", "transformer"),
)


def ranked(site: Site, readings: Sequence[Cells]) -> HuntResult:
    """Rank what may be wrong with a site, as described, by readings.

    Args:
        site: as described.
        readings: cells of the hunt's table.
    """
    made, network, asked = _ground(_Same(site))
    rows = [Row(cells, dict.fromkeys(COLUMNS, (1, 1))) for cells in readings]
    found = readings_of(rows, network, Problems(""))
    ranking = grouped(hunt(made, found, more=ports_of(asked)), asked)
    return _result(ranking, propose(ranking, asked, SHOWN))


def meters_for(quantity: Quantity) -> list[str]:
    """Return the classes of instruments that read a quantity."""
    return [meter.name for meter in instruments().values() if quantity in meter.measures]


class _Same:
    """A site that is looked up by what it says: descriptions have no hash."""

    def __init__(self, site: Site) -> None:
        self.site = site

    def __hash__(self) -> int:
        return hash(self.site.site)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.site == other.site


@lru_cache(maxsize=2)
def _ground(same: _Same) -> tuple[Plan, Network, tuple[Candidate, ...]]:
    made = plan(same.site)
    network = network_at(made, Moment())
    asked = everything(network, made)
    if len(asked) > MOST_ASKED:
        asked = (*candidates(network), *with_main_off(network, made))
    return made, network, asked


def _result(ranking: Ranking, proposals: Sequence[Proposal]) -> HuntResult:
    made = ranking.field.plan
    told = [c for c in ranking.causes if c.probability >= LEAST][:SHOWN]
    top = ranking.causes[0]
    cure = ranking.stands_out and top.id != "nothing-wrong"
    return HuntResult(
        readings=len(ranking.readings),
        headline=headline(ranking),
        stands_out=ranking.stands_out,
        fits_nothing=ranking.fits_nothing,
        contradictions=[item.text for item in ranking.contradictions],
        planes=[_plane(number, plane) for number, plane in enumerate(phasor_planes(ranking))],
        causes=[
            CauseInfo(
                name=capital(cause.hypothesis.name),
                share=round(cause.probability, 4),
                percent=f"{cause.probability:.0%}",
                told=list(tell_cause(cause, ranking)),
                targets=targets_of(cause.hypothesis, made),
            )
            for cause in told
        ],
        cure=cure_words(top) if cure else "",
        lessons=[*lessons(ranking, made), *utility_asks(ranking)],
        asks=[_ask(proposal, ranking) for proposal in proposals],
    )


def _plane(number: int, plane: PhasorPlane) -> PlaneInfo:
    drawn = phasor_picture([plane], f"phasors{number}-", told=False)
    return PlaneInfo(
        name=heading(plane),
        svg=drawn.svg[drawn.svg.index("<svg") :],
        told=list(tell_plane(plane)),
    )


def _ask(proposal: Proposal, ranking: Ranking) -> AskInfo:
    candidate, made = proposal.candidate, ranking.field.plan
    reading = candidate.reading
    title = reading.text.removesuffix(_DEAD)
    words = candidate.how.removeprefix(title).removeprefix(", ")
    return AskInfo(
        what=str(reading.quantity),
        where=reading.where,
        of=reading.of,
        state=reading.state,
        meter=reading.instrument.name,
        meters=meters_for(reading.quantity),
        title=capital(title),
        in_state=capital(words) if words else "As it is, with its loads on",
        instrument=reading.instrument.word,
        units=list(UNITS[reading.quantity]),
        over=reading.quantity in OVER,
        expect=list(tell_proposal(proposal, ranking)[1:2]),
        cautions=list(_cautions(candidate)),
        target=target_of(reading.where, made),
    )


def _cautions(candidate: Candidate) -> Iterator[str]:
    if candidate.reading.moment.test:
        yield HEATER_CAUTION
    if candidate.sort.endswith(_COVER):
        yield COVER_OFF


def target_of(name: str, made: Plan) -> Target | None:
    """Return what a name of the site points at in the picture."""
    site = made.site
    kinds = (
        ("run", made.runs),
        ("tie", {tie.id: tie for tie in made.ties}),
        ("electrode", made.electrodes),
        ("metal", site.metal),
        ("source", site.sources),
        ("transformer", site.transformers),
        ("generator", site.generators),
        ("inverter", site.inverters),
        ("transfer", site.transfers),
        ("place", site.places),
    )
    kind = next((word for word, known in kinds if name in known), None)
    return Target(kind=kind, id=name) if kind else None


def targets_of(cause: Hypothesis, made: Plan) -> list[Target]:
    """Return where a cause lies in the picture."""
    found: dict[tuple[str, str], Target] = {}
    for part in cause.parts:
        for target in _port_targets(part.port, made) if not part.off else ():
            found.setdefault((target.kind, target.id), target)
    return list(found.values())


def _port_targets(port: Port, made: Plan) -> Iterator[Target]:
    if not port.gap:
        ends = [node.rpartition(":")[0] or node for node in (port.a, port.b)]
        for name in dict.fromkeys(ends):
            target = target_of(name, made)
            if target is not None:
                yield target
        return
    if port.a.startswith("metal "):
        name = port.a.removeprefix("metal ")
        metal = name if name in made.site.metal else name.rpartition(" ")[0]
        if metal in made.site.metal:
            yield Target(kind="metal", id=metal)
        return
    for name in made.site.transfers:
        if port.a.startswith(f"transfer {name} "):
            yield Target(kind="transfer", id=name)
            return
    for start, kind in _PLACE_PORTS:
        if port.a.startswith(start):
            yield Target(kind=kind, id=port.a.removeprefix(start))
            return
