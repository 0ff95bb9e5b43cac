"""From a panel schedule into the site file, and from the site to a panel schedule."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Conductor
from bondwright.exchange.circuits import Circuit, Left, Schedule, Use
from bondwright.site.model import Place, Run, Site
from bondwright.site.reader import read
from bondwright.site.topology import Topology
from bondwright.site.writer import set_values
from bondwright.units import FOOT, Dimension, UnitError, show


@dataclass(frozen=True, slots=True)
class Assumed:
    """What to take where a schedule says nothing.

    Attributes:
        length: of a branch circuit, e.g. ``"60 ft"``; None lists such circuits as doubtful.
        wire: of a branch circuit, with its metal; None the same.
        metal: of a wire whose metal isn't said: ``"Cu"`` or ``"Al"``; None the same.
    """

    length: str | None = None
    wire: str | None = None
    metal: str | None = None


@dataclass(frozen=True, slots=True)
class Added:
    """What a schedule brought into a site file.

    Attributes:
        text: the new file.
        places: ids of the places that are new, by the first number of their circuit.
        doubts: circuits that were left out, and why.
    """

    text: str
    places: tuple[str, ...]
    doubts: tuple[Left, ...]


def add_circuits(text: str, panel: str, schedule: Schedule, assumed: Assumed) -> Added:
    """Add the circuits of a schedule to a site file, each as a run to a place of its own.

    Args:
        text: the site file.
        panel: id of the panel they leave.
        schedule: as read.
        assumed: what to take where the schedule says nothing.

    Returns:
        The new text; nothing that was there is touched.

    Raises:
        ValueError: there is no such panel.
        bondwright.site.site_error.SiteError: the file is no sound site.
    """
    site = read(text)
    lines, neutral = reach(site, panel)
    taken = {*site.places, *site.runs, *site.transformers, *site.sources, *site.generators,
             *site.inverters, *site.transfers, *site.metal, *site.electrodes}  # fmt: skip
    changes: list[tuple[Sequence[str], object]] = []
    places: list[str] = []
    doubts: list[Left] = []
    for circuit in schedule.circuits:
        if circuit.use is not Use.CIRCUIT:
            continue
        try:
            run = _run(circuit, panel, lines, neutral, assumed)
        except _LeftOutError as error:
            said = f"{_numbers(circuit)} {circuit.description}".strip()
            doubts.append(Left(circuit.where, said, str(error)))
            continue
        place = _unique(_id(circuit.description), taken)
        branch = _unique(f"{place} branch", taken)
        building = site.places[panel].building
        entry: dict[str, Any] = {"kind": _kind(circuit.description)}
        if building:
            entry["building"] = building
        if circuit.power:
            on = _terminals(run["on"], neutral)
            if on is not None:
                entry["loads"] = [{"on": on, "power": show(circuit.power, Dimension.REAL_POWER)}]
        changes.append((("places", place), entry))
        changes.append((("runs", branch), {**run, "to": place}))
        places.append(place)
    new = set_values(text, changes) if changes else text
    return Added(new, tuple(places), tuple(doubts))


class _LeftOutError(ValueError):
    pass


def reach(site: Site, panel: str) -> tuple[tuple[str, ...], bool]:
    """Return the lines that reach a panel, and whether a neutral does.

    Raises:
        ValueError: there is no such panel.
    """
    if panel not in site.places:
        known = ", ".join(site.places)
        raise ValueError(f"there is no place '{panel}'; there are {known}")
    tree = Topology(site)
    return tree.lines_at(panel), tree.neutral_at(panel)


def lines_of(numbers: Iterable[int], lines: Sequence[str]) -> list[str]:
    """Return the lines that positions of a panel are on.

    Odd numbers lie left and even ones right; each row is on the next line (common practice).
    """
    found = dict.fromkeys(lines[((n - 1) // 2) % len(lines)] for n in numbers)
    return [line for line in lines if line in found]


def _run(
    circuit: Circuit, panel: str, lines: Sequence[str], neutral: bool, assumed: Assumed
) -> dict[str, Any]:
    poles = circuit.poles or 1
    if poles > len(lines):
        raise _LeftOutError(f"it has {poles} poles, but {len(lines)} lines reach the panel")
    on = list(circuit.lines) or lines_of(circuit.numbers, lines)
    if not on:
        raise _LeftOutError("neither a circuit number nor the lines it is on are given")
    if len(on) != poles or not set(on) <= set(lines):
        raise _LeftOutError(
            f"it has {poles} {'pole' if poles == 1 else 'poles'}, but its positions lie on "
            f"{' and '.join(on)}"
        )
    size = circuit.wire.size
    if size and not size.endswith((" Cu", " Al")):
        if assumed.metal is None:
            raise _LeftOutError(f"nothing says whether its wire, {size}, is copper or aluminum")
        size = f"{size} {assumed.metal}"
    size = size or assumed.wire or ""
    if not size:
        raise _LeftOutError("nothing says what its wire is")
    if circuit.length is None and assumed.length is None:
        raise _LeftOutError("nothing says how long it is")
    if circuit.device is None:
        raise _LeftOutError("it has no device")
    far = assumed.length if circuit.length is None else show(circuit.length, Dimension.LENGTH)
    run: dict[str, Any] = {"from": panel, "to": "", "length": far, "lines": size, "on": on}
    # Of a circuit between lines a schedule rarely says whether a neutral goes along.
    if poles > 1 and neutral:
        counted = circuit.wire.count
        run["neutral"] = size if counted is not None and counted > poles else "none"
    if circuit.wire.ground:
        ground = circuit.wire.ground
        run["egc"] = ground if ground.endswith(("Cu", "Al")) else f"{ground} {size[-2:]}"
    words = f" {circuit.device.words}" if circuit.device.words else ""
    run["device"] = f"{circuit.device.amps:g} A" + (words or " breaker")
    try:
        DeviceRating.parse(run["device"])
        for wire in (size, run.get("egc")):
            if wire:
                Conductor.parse(wire)
    except UnitError as error:
        raise _LeftOutError(str(error)) from error
    said = [f"circuit {_numbers(circuit)}" if circuit.numbers else "", circuit.note]
    said += ["length assumed"] if circuit.length is None else []
    said += ["wire assumed"] if not circuit.wire.size else []
    run["note"] = "; ".join(each for each in said if each)
    return run


def _numbers(circuit: Circuit) -> str:
    return ",".join(str(n) for n in circuit.numbers)


_OUTLET: Final = re.compile(r"\b(rec(ep(t(acle)?s?)?)?|outlets?|plugs?|sockets?|duplex)\b", re.I)


def _kind(words: str) -> str:
    return "outlet" if _OUTLET.search(words) else "equipment"


def _id(words: str) -> str:
    """Return a description as an id: what an id may hold of it, in small letters."""
    plain = re.sub(r"[^\w .()/-]+", " ", words)
    plain = " ".join(plain.split()).strip(" .-/").lower()[:60].strip(" .-/")
    return plain if re.match(r"[^\W_]", plain) else f"load {plain}".strip()


def _unique(name: str, taken: set[str]) -> str:
    found, number = name, 2
    while found in taken:
        found, number = f"{name} {number}", number + 1
    taken.add(found)
    return found


def _terminals(on: Sequence[str], neutral: bool) -> str | None:
    """Return what the load of a circuit is connected between; None where it can't be told."""
    if len(on) == 1:
        return f"{on[0]}-N" if neutral else None
    if len(on) == 2:
        return {"L1L2": "L1-L2", "L2L3": "L2-L3", "L1L3": "L3-L1"}["".join(on)]
    return "L1-L2-L3"


def in_words(circuit: Circuit) -> tuple[str, ...]:
    """Return a circuit for a person: number, what, device, poles, load, wire, length, cell."""
    device, wire = circuit.device, circuit.wire
    rating = f"{device.amps:g} A {device.words}".strip() if device else ""
    conductors = f"{wire.count} x {wire.size}" if wire.count and wire.size else wire.size
    what = circuit.description or "(nothing said)"
    if circuit.use is not Use.CIRCUIT:
        what = circuit.use.value
    return (
        _numbers(circuit),
        what,
        rating,
        str(circuit.poles) if circuit.poles and circuit.use is not Use.SPACE else "",
        f"{circuit.power:.0f} VA" if circuit.power else "",
        ", ".join(
            filter(None, (conductors, wire.ground and f"ground {wire.ground}", wire.raceway))
        ),
        show(circuit.length, Dimension.LENGTH) if circuit.length is not None else "",
        circuit.where,
    )


HEAD: Final = (
    "circuit", "description", "breaker", "poles", "load (VA)", "wire", "ground", "raceway",
    "length (ft)", "lines", "remarks",
)  # fmt: skip


def table(site: Site, panel: str) -> list[list[str]]:
    """Return the circuits that leave a panel as a table, in the order of the site file.

    A circuit whose note names its positions ("circuit 1,3") keeps them; the others have none.

    Args:
        site: the site.
        panel: id of the panel.

    Returns:
        Rows of cells, :data:`HEAD` first, behind two rows that name the panel.

    Raises:
        ValueError: there is no such panel.
    """
    lines, neutral = reach(site, panel)
    carried = ", ".join((*lines, "N") if neutral else lines)
    main = site.places[panel].main
    rows = [[f"panel: {panel}", "", f"main: {main}" if main else ""], [f"reached by {carried}"]]
    rows.append(list(HEAD))
    tree = Topology(site)
    for name, run in site.runs.items():
        if run.from_ == panel:
            rows.append(_cells(site, tree, name, run))
    rows[3:] = sorted(
        rows[3:], key=lambda row: [int(n) for n in re.findall(r"\d+", row[0])] or [999]
    )
    return [[*row, *[""] * (len(HEAD) - len(row))] for row in rows]


def _cells(site: Site, tree: Topology, name: str, run: Run) -> list[str]:
    on = tree.lines_of(name)
    place = site.places.get(run.to)
    power = sum(load.power / load.pf for load in place.loads) if isinstance(place, Place) else 0
    named = re.match(r"circuit ([\d,]+)(?:; |$)", run.note)
    count = len(on) + tree.has_neutral(name)
    raceway = f"{run.raceway.size} {run.raceway.kind}" if run.raceway else ""
    return [
        named[1] if named else "",
        run.to,
        str(run.device) if run.device else "",
        str(len(on)),
        f"{power:.0f}" if power else "",
        str(run.lines) if run.lines.sets > 1 else f"{count}#{run.lines}",
        str(run.egc) if run.egc else "",
        raceway,
        f"{run.length / FOOT:.4g}",
        "-".join(on),
        run.note[named.end() :] if named else run.note,
    ]
