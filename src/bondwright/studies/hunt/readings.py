"""A table of readings: what was read, where, in which state of the site, and with what.

CSV with a heading, or YAML with a list of groups under ``readings``, with these columns:

* ``what``: current, net current, voltage, resistance, loop, earth loop (an earth tester that
  clamps round an electrode's conductor) or load;
* ``where``: a run, tie, electrode or metal for currents, a place for the others;
* ``of``: the conductor ("N", "L1", "EGC", "raceway"), ``wires`` or ``all`` of a run for a net
  current, the two terminals of a voltage, resistance or loop ("L1-N", "G-earth",
  "G-other place:G"), the terminals of a load ("L1-N");
* ``value``: with its unit; ``> 2000 ohm`` for over range;
* ``state``: parts joined by ``;``: a state of the site, ``<place or run> off``,
  ``<place> out`` (a meter pulled: lines open, neutral not), ``<run> neutral lifted``,
  ``<electrode> lifted``, ``no load``, ``test load 1.5 kW at <place>``, ``power off``, and
  ``@word`` for another time, when other loads may be on;
* ``with``: a class of instrument; ``accuracy``: "2 % + 0.1 A", or one of both parts;
* ``noticed``: ``yes`` where somebody who knows the site says that it isn't what it used to be;
* ``time`` and ``note``: kept, and not reckoned with.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bondwright.network.build import Network
from bondwright.network.circuit import EARTH
from bondwright.network.runs import strands
from bondwright.site.site_error import SiteError
from bondwright.site.text_file import decode, read_bytes
from bondwright.studies.hunt.instruments import USUAL, Instrument, Quantity, instruments
from bondwright.studies.hunt.moments import Moment, nearest, read_moment
from bondwright.studies.hunt.ports import Port, across, is_there, through, within
from bondwright.studies.hunt.table import Problems, Row, csv_rows, yaml_rows
from bondwright.units import Dimension, UnitError, parse

_DIMENSION: Final = {
    Quantity.CURRENT: Dimension.CURRENT,
    Quantity.NET_CURRENT: Dimension.CURRENT,
    Quantity.VOLTAGE: Dimension.VOLTAGE,
    Quantity.RESISTANCE: Dimension.RESISTANCE,
    Quantity.LOOP: Dimension.RESISTANCE,
    Quantity.EARTH_LOOP: Dimension.RESISTANCE,
    Quantity.LOAD: Dimension.REAL_POWER,
}
_EXAMPLE: Final = {
    Quantity.CURRENT: "N",
    Quantity.NET_CURRENT: "wires",
    Quantity.VOLTAGE: "N-G",
    Quantity.RESISTANCE: "N-G",
    Quantity.LOOP: "L1-G",
    Quantity.EARTH_LOOP: "",
    Quantity.LOAD: "L1-N",
}


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading, as ports of the circuit.

    Attributes:
        number: from 1, in the order of the table.
        text: what was read, as told: "clamp on N of garage feeder".
        quantity: what sort.
        where: id it was read at.
        of: conductor or terminals.
        terms: (port, weight) pairs whose sum it is.
        value: in SI.
        sigma: standard uncertainty of the instrument, in SI.
        over: whether the instrument was over its range: the value is the least there is.
        moment: the state of the site.
        state: the state as written.
        instrument: what it was read with.
        noticed: whether somebody who knows the site says that it isn't what it used to be.
    """

    number: int
    text: str
    quantity: Quantity
    where: str
    of: str
    terms: tuple[tuple[Port, float], ...]
    value: float
    sigma: float
    over: bool
    moment: Moment
    state: str
    instrument: Instrument
    noticed: bool = False


def load_readings(path: str | Path, network: Network, state: str = "") -> tuple[Reading, ...]:
    """Read a table of readings from a file; ``.yaml`` and ``.yml`` are YAML, all else CSV.

    Args:
        path: the file.
        network: the site in normal running.
        state: of rows that name none.

    Raises:
        SiteError: something in it can't be used; every problem with its place in the file.
    """
    path = Path(path)
    text = decode(read_bytes(path), str(path)).removeprefix("\ufeff")
    yaml = path.suffix in {".yaml", ".yml"}
    return read_readings(text, network, str(path), yaml=yaml, state=state)


def read_readings(
    text: str,
    network: Network,
    name: str = "<text>",
    *,
    yaml: bool = False,
    state: str = "",
) -> tuple[Reading, ...]:
    """Read a table of readings.

    Args:
        text: the table.
        network: the site in normal running.
        name: of the file, for messages.
        yaml: whether it is YAML.
        state: of rows that name none.

    Raises:
        SiteError: something in it can't be used.
    """
    problems = Problems(name)
    rows = yaml_rows(text, name, problems) if yaml else csv_rows(text, problems)
    found = readings_of(rows, network, problems, state)
    if not found and not problems.found:
        start = Row({}, {"what": (1, 1)})
        problems.add(start, "what", "no readings", "give at least one row under the heading")
    if problems.found:
        raise SiteError(tuple(problems.found))
    return found


def readings_of(
    rows: Sequence[Row], network: Network, problems: Problems, state: str = ""
) -> tuple[Reading, ...]:
    """Return the readings of rows; what can't be used of them is noted and left out.

    Args:
        rows: of a table.
        network: the site in normal running.
        problems: where what is wrong is noted.
        state: of rows that name none.
    """
    found: list[Reading] = []
    for row in rows:
        item = _Reader(network, row, problems, state).read(len(found) + 1)
        if item is not None:
            found.append(item)
    return tuple(found)


class _Reader:
    """Turns one row into a reading, noting what is wrong with it."""

    def __init__(self, network: Network, row: Row, problems: Problems, state: str) -> None:
        self.usual = state
        self.network = network
        self.plan = network.plan
        self.row = row
        self.problems = problems

    def cell(self, column: str) -> str:
        return self.row.cells.get(column, "")

    def wrong(self, column: str, problem: str, hint: str = "") -> None:
        self.problems.add(self.row, column, problem, hint)

    def read(self, number: int) -> Reading | None:
        before = len(self.problems.found)
        try:
            quantity = Quantity(self.cell("what"))
        except ValueError:
            self.wrong("what", "is nothing that can be read", f"one of {', '.join(Quantity)}")
            return None
        terms = tuple(self._terms(quantity))
        over = self.cell("value").startswith(">")
        value = self._number("value", self.cell("value").lstrip("> "), _DIMENSION[quantity])
        state = self.cell("state") or self.usual
        moment = read_moment(state, self.network, lambda p, h: self.wrong("state", p, h))
        instrument = self._instrument(quantity)
        if len(self.problems.found) > before or value is None or instrument is None:
            return None
        sigma = self._sigma(quantity, value, instrument)
        noticed = self.cell("noticed").lower()
        if noticed not in ("", "no", "yes"):
            self.wrong(
                "noticed", "is neither 'yes' nor 'no'", "whether it isn't what it was before"
            )
        if sigma is None or len(self.problems.found) > before:
            return None
        return Reading(
            number,
            self._told(quantity),
            quantity,
            self.cell("where"),
            self.cell("of"),
            terms,
            abs(value),
            sigma,
            over,
            moment,
            state or "loads on",
            instrument,
            noticed == "yes",
        )

    def _told(self, quantity: Quantity) -> str:
        where, of = self.cell("where"), self.cell("of")
        match quantity:
            case Quantity.CURRENT:
                return f"current in {of} of {where}" if of else f"current in {where}"
            case Quantity.NET_CURRENT:
                return f"clamp round {'all' if of == 'all' else 'the wires'} of {where}"
            case Quantity.EARTH_LOOP:
                return f"earth tester clamped round the conductor of {where}"
            case _:
                return f"{quantity.value} {of} at {where}"

    def _number(self, column: str, text: str, dimension: Dimension) -> float | None:
        try:
            return parse(text, dimension)
        except UnitError as error:
            self.wrong(column, error.problem, error.hint or "")
            return None

    def _instrument(self, quantity: Quantity) -> Instrument | None:
        name = self.cell("with") or USUAL[quantity]
        known = instruments()
        if name not in known:
            self.wrong("with", "is no class of instrument", nearest(name, known))
            return None
        if quantity not in known[name].measures:
            self.wrong("with", f"does not read a {quantity.value}")
            return None
        return known[name]

    def _sigma(self, quantity: Quantity, value: float, instrument: Instrument) -> float | None:
        text = self.cell("accuracy")
        if not text:
            return instrument.uncertainty(value)
        limit = 0.0
        for part in text.replace("+-", "").replace("±", "").split("+"):
            ratio = part.strip().endswith("%")
            found = self._number(
                "accuracy", part.strip(), Dimension.RATIO if ratio else _DIMENSION[quantity]
            )
            if found is None:
                return None
            limit += found * abs(value) if ratio else found
        if limit <= 0:
            self.wrong("accuracy", "is no accuracy", "no instrument is exact: '2 % + 0.1 A'")
            return None
        return limit / math.sqrt(3)

    # --- where it was read ---------------------------------------------------------------

    def _terms(self, quantity: Quantity) -> Iterator[tuple[Port, float]]:
        where, of = self.cell("where"), self.cell("of")
        if quantity in (Quantity.CURRENT, Quantity.NET_CURRENT):
            yield from self._clamped(where, of, net=quantity is Quantity.NET_CURRENT)
            return
        if quantity is Quantity.EARTH_LOOP:
            if where not in self.plan.electrodes and where not in self.plan.site.metal:
                known = [*self.plan.electrodes, *self.plan.site.metal]
                self.wrong("where", "is no electrode or metal", nearest(where, known))
                return
            yield from self._clamped(where, of, net=False)
            return
        if where not in self.network.terminals:
            self.wrong("where", "is no place", nearest(where, self.network.terminals))
            return
        first, dash, second = of.partition("-")
        if not dash:
            self.wrong("of", "names no two points", f"say, {_EXAMPLE[quantity]!r}")
            return
        port = across(self._node(where, first.strip()), self._node(where, second.strip()))
        if not is_there(self.network, port):
            there = ", ".join(self.network.terminals[where])
            self.wrong("of", f"is not at {where}", f"its terminals are {there}")
            return
        yield port, 1.0

    def _node(self, where: str, text: str) -> str:
        if text == EARTH:
            return EARTH
        return text if ":" in text else f"{where}:{text}"

    def _clamped(self, where: str, of: str, *, net: bool) -> Iterator[tuple[Port, float]]:
        site = self.plan.site
        if where in self.plan.runs:
            yield from self._in_run(where, of, net=net)
        elif any(tie.id == where for tie in self.plan.ties):
            yield through(f"tie {where}"), 1.0
        elif where in self.plan.electrodes:
            yield within(f"electrode conductor {where}", "metal"), 1.0
        elif where in site.metal:
            yield from self._in_metal(where)
        elif where in site.sources:
            yield within(f"electrode of {where}", "z"), 1.0
        else:
            known = [*self.plan.runs, *self.plan.electrodes, *site.metal]
            known += [tie.id for tie in self.plan.ties]
            self.wrong("where", "is no run, tie, electrode or metal", nearest(where, known))

    def _in_metal(self, where: str) -> Iterator[tuple[Port, float]]:
        for section in self.network.circuit.sections:
            for name in section.names:
                owner = name if name.startswith("metal ") else section.id
                if owner in (f"metal {where}", f"metal {where} 1"):
                    yield within(section.id, name), 1.0
                    return

    def _in_run(self, where: str, of: str, *, net: bool) -> Iterator[tuple[Port, float]]:
        section = f"run {where}"
        parts = strands(self.plan.runs[where])
        if net:
            if of not in ("", "wires", "all"):
                self.wrong("of", "is no bundle", "'wires' (lines and neutral) or 'all'")
                return
            chosen = [p for p in parts if of == "all" or p.terminal != "G"]
        elif of in ("EGC", "metal", "SSBJ", "raceway"):
            tube = of == "raceway"
            chosen = [p for p in parts if p.terminal == "G" and (p.conductor is None) == tube]
        else:
            chosen = [p for p in parts if p.terminal == of and p.terminal != "G"]
        if not chosen:
            words = sorted({p.terminal for p in parts} - {"G"})
            words += ["EGC"] if any(p.terminal == "G" and p.conductor for p in parts) else []
            words += ["raceway"] if any(p.conductor is None for p in parts) else []
            self.wrong("of", f"is no conductor of {where}", f"it has {', '.join(words)}")
        for part in chosen:
            yield within(section, part.name), 1.0
