"""One state of the circuit as hypotheses find it: its readings, and the changes that all share."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bondwright.network.circuit import Complex
from bondwright.studies.hunt.hypotheses import OPEN_OHM, Hypothesis, Part
from bondwright.studies.hunt.instruments import DRIVEN, Quantity
from bondwright.studies.hunt.moments import Heater
from bondwright.studies.hunt.nuisance import Floats, Unknowns, View
from bondwright.studies.hunt.ports import Indices, Port
from bondwright.studies.hunt.readings import Reading

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Readings, taken or to be taken, in one state with the same things lifted.

    Attributes:
        view: the circuit.
        lifted: ports that were opened by hand.
        time: when.
        which: their numbers in the whole set.
        terms: ports and weights of each.
        shown: for resistances and loops the port that the meter drives, else -1.
        round: whether it drives a conductor round which it is clamped, (R,).
        test: a load plugged in for the readings.
        input: resistance of the meter, ohm; inf for clamps.
        phantom: V.
    """

    view: View
    lifted: tuple[Port, ...]
    time: str
    which: Indices
    terms: tuple[tuple[tuple[int, float], ...], ...]
    shown: Indices
    round: Flags
    test: Heater | None
    input: Floats
    phantom: Floats


def rows_of(
    view: View, readings: Sequence[Reading], which: Sequence[int], lifted: Sequence[Port]
) -> Rows:
    """Return readings of one state as rows."""
    at = view.ports.at
    return Rows(
        view=view,
        lifted=tuple(lifted),
        time=readings[0].moment.time,
        which=np.array(which, dtype=np.int64),
        terms=tuple(tuple((at[port], w) for port, w in r.terms) for r in readings),
        shown=np.array([at[r.terms[0][0]] if r.quantity in DRIVEN else -1 for r in readings]),
        round=np.array([r.quantity is Quantity.EARTH_LOOP for r in readings], dtype=np.bool_),
        test=readings[0].moment.test,
        input=np.array([r.instrument.input for r in readings]),
        phantom=np.array([r.instrument.phantom for r in readings]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Base:
    """The circuit of one state with changes made that many hypotheses share.

    Attributes:
        t: T between ports, (P, P).
        drive: q0 for the circuit's own sources, then for a unit at each port shown, (P, X).
        seen: T between readings and ports, (R, P).
        start: q0 of the readings, (R, X).
        column: which column of drive is each reading's, (R,).
        changed: c by the number of a port that was changed.
    """

    t: Complex
    drive: Complex
    seen: Complex
    start: Complex
    column: Indices
    changed: Mapping[int, complex]


def base_of(
    unknowns: Unknowns,
    rows: Rows,
    theta: Floats | None,
    moved: Indices,
    given: Hypothesis | None = None,
) -> Base:
    """Return the circuit of a state with what hypotheses share.

    Args:
        unknowns: of the site.
        rows: the state's readings.
        theta: fitted unknowns, (fitted,); None takes the site as described.
        moved: loads that follow theta.
        given: defects that are there in any case.
    """
    raw = bare_base(rows)
    own = None if theta is None else theta[None]
    at, c = shared_elements(unknowns, rows, own, moved)
    e = np.zeros(len(at), dtype=np.complex128)
    carried = np.zeros((len(rows.terms), len(at)))
    values = c[0]
    if given is not None:
        parts = [element_of(rows.view, unknowns, part, theta) for part in given.parts]
        at = np.concatenate([at, np.array([p for p, _, _ in parts], dtype=np.int64)])
        values = np.concatenate([values, np.array([y for _, y, _ in parts])])
        e = np.concatenate([e, np.array([v for _, _, v in parts])])
        carried = np.concatenate([carried, carried_by(rows, given)], axis=1)
    if not len(at):
        return raw
    t_aa = raw.t[np.ix_(at, at)]
    matrix = np.eye(len(at)) + t_aa * values
    free = raw.drive[at].copy()
    free[:, 0] -= t_aa @ e
    y = values[:, None] * np.linalg.solve(matrix, free)
    y[:, 0] += e
    reach = values[:, None] * np.linalg.solve(matrix, raw.t[at])
    row = raw.seen[:, at] - carried
    changed: dict[int, complex] = {}
    for port, value in zip(at.tolist(), values.tolist(), strict=True):
        changed[port] = changed.get(port, 0j) + value
    return Base(
        t=raw.t - raw.t[:, at] @ reach,
        drive=raw.drive - raw.t[:, at] @ y,
        seen=raw.seen - row @ reach,
        start=raw.start - row @ y,
        column=raw.column,
        changed=changed,
    )


def bare_base(rows: Rows) -> Base:
    """Return the circuit of a state as described, nothing changed."""
    t = rows.view.ports.transfer
    shown = [int(p) for p in rows.shown if p >= 0]
    drive = np.stack([rows.view.ports.quiet, *(t[:, p] for p in shown)], axis=1)
    shows = (rows.shown >= 0).astype(np.int64)
    column = np.cumsum(shows) * shows
    return Base(t, drive, _read(rows, t), _read(rows, drive), column, {})


def _read(rows: Rows, matrix: Complex) -> Complex:
    """Return the readings' combination of a matrix's rows."""
    out = np.zeros((len(rows.terms), *matrix.shape[1:]), dtype=np.complex128)
    for k, terms in enumerate(rows.terms):
        for port, weight in terms:
            out[k] += weight * matrix[port]
    return out


def shared_elements(
    unknowns: Unknowns, rows: Rows, theta: Floats | None, moved: Indices
) -> tuple[Indices, Complex]:
    """Return the ports that every hypothesis changes, (A,), and c there, (H or 1, A)."""
    view, at = rows.view, rows.view.ports.at
    fixed = [(at[port], -OPEN_OHM + 0j) for port in rows.lifted if port in at]
    test = rows.test
    if test is not None and view.powered and test.port in at:
        fixed.append((at[test.port], complex(test.siemens)))
    if view.drives_load:
        fixed += [(at[port], y) for port, y in unknowns.extra(rows.time) if port in at]
    if view.drives_load and theta is None:
        c = unknowns.load_elements(unknowns.start[None], rows.time)[0][0]
        known = unknowns.known_at(rows.time)
        fixed += [(int(view.load_at[k]), complex(c[k])) for k in known]
    count = 1 if theta is None else len(theta)
    ports = [np.array([p for p, _ in fixed], dtype=np.int64)]
    values = [np.tile(np.array([c for _, c in fixed], dtype=np.complex128), (count, 1))]
    if theta is not None:
        ports.append(view.electrode_at)
        values.append(unknowns.electrode_elements(theta)[0])
        if view.drives_load:
            ports.append(view.load_at[moved])
            values.append(unknowns.load_elements(theta, rows.time)[0][:, moved])
    return np.concatenate(ports), np.concatenate(values, axis=1)


def element_of(
    view: View, unknowns: Unknowns, part: Part, theta: Floats | None
) -> tuple[int, complex, complex]:
    """Return the port's number, c and e of a part under theta, (fitted,)."""
    place = view.ports.at.get(part.port)
    if place is None:  # what isn't there in this state can't be wrong in it
        return 0, 0j, 0j
    size = part.ohms
    if theta is not None and part.spread:
        size *= math.exp(part.spread * theta[unknowns.defect_at + part.owner] / 3**0.5)
    if part.drives:
        return place, 0j, cmath.rect(size, math.radians(part.angle))
    return place, (-size + 0j if part.port.gap else 1 / size + 0j), 0j


def carried_by(rows: Rows, item: Hypothesis) -> Floats:
    """Return how much of each part's current a clamp reads besides, (R, parts)."""
    out = np.zeros((len(rows.terms), len(item.parts)))
    for k, part in enumerate(item.parts):
        place = None if part.carries is None else rows.view.ports.at.get(part.carries)
        if place is not None:
            for r, terms in enumerate(rows.terms):
                out[r, k] = sum(weight for port, weight in terms if port == place)
    return out
