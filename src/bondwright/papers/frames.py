"""The results as tables: data frames of pandas, and Parquet files by pyarrow (extra ``frames``).

Which tables and columns there are, of which type and with what meaning, stands in
``data/frames.yaml``; Parquet files carry it in their metadata.
"""

from __future__ import annotations

import io
import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from bondwright import __version__
from bondwright.catalog._data import load_yaml
from bondwright.explain.faults import openers
from bondwright.explain.schedule import schedule_rows
from bondwright.papers.results import Results
from bondwright.papers.test_sheets import points
from bondwright.plan.cost import material

if TYPE_CHECKING:
    import pandas as pd

FORMAT: Final = "bondwright/frames"
VERSION: Final = 1
_TYPES: Final = {"string": "string", "float": "float64", "bool": "boolean"}

Row = tuple[Any, ...]


class MissingExtraError(RuntimeError):
    """A package is missing that comes with an extra; the message says which."""


@cache
def columns() -> Mapping[str, Mapping[str, Mapping[str, str]]]:
    """Return the columns of every table: name, and its ``type`` and ``about``."""
    text = files("bondwright.papers").joinpath("data", "frames.yaml").read_text(encoding="utf-8")
    raw: dict[str, dict[str, dict[str, str]]] = load_yaml(text)
    return raw


def frames(results: Results) -> dict[str, pd.DataFrame]:
    """Return every table of the results as a data frame, by name.

    Raises:
        MissingExtraError: pandas isn't installed.
    """
    return {name: frame(results, name) for name in columns()}


def frame(results: Results, name: str) -> pd.DataFrame:
    """Return one table of the results as a data frame.

    Args:
        results: what was computed.
        name: one of :func:`columns`.

    Raises:
        ValueError: no such table.
        MissingExtraError: pandas isn't installed.
    """
    try:
        import pandas as pd
    except ImportError as error:
        raise MissingExtraError(_asks("pandas")) from error
    there = _columns(name)
    by_column = _by_column(results, name)
    return pd.DataFrame(
        {
            column: pd.Series(by_column[column], dtype=_TYPES[one["type"]])
            for column, one in there.items()
        }
    )


def parquet(results: Results, name: str) -> bytes:
    """Return one table of the results as a Parquet file.

    Args:
        results: what was computed.
        name: one of :func:`columns`.

    Raises:
        ValueError: no such table.
        MissingExtraError: pyarrow isn't installed.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as error:
        raise MissingExtraError(_asks("pyarrow")) from error
    types = {"string": pa.string(), "float": pa.float64(), "bool": pa.bool_()}
    there = _columns(name)
    fields = [
        pa.field(column, types[one["type"]], metadata={"about": one["about"]})
        for column, one in there.items()
    ]
    about = {"format": FORMAT, "version": VERSION, "table": name, "tool": __version__}
    about["site"] = results.plan.site.site
    schema = pa.schema(fields, metadata={"bondwright": json.dumps(about)})
    by_column = _by_column(results, name)
    table = pa.table([by_column[column] for column in there], schema=schema)
    out = io.BytesIO()
    pq.write_table(table, out)
    return out.getvalue()


def _asks(package: str) -> str:
    return f"{package} isn't installed; it comes with: pip install 'bondwright[frames]'"


def _columns(name: str) -> Mapping[str, Mapping[str, str]]:
    if name not in columns():
        raise ValueError(f"no table {name!r} is known; give one of {', '.join(columns())}")
    return columns()[name]


def _by_column(results: Results, name: str) -> dict[str, Sequence[Any]]:
    rows = list(_ROWS[name](results))
    there = list(_columns(name))
    return {column: [row[k] for row in rows] for k, column in enumerate(there)}


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def _faults(results: Results) -> Iterator[Row]:
    for f in results.faults:
        touch = f.touch_verdict
        yield (
            f.fault.place, str(f.fault.kind), f.fault.a, f.fault.b, f.current, _finite(f.loop),
            openers(f), f.cleared, _finite(f.fastest), _finite(f.clearing),
            math.isinf(f.clearing), f.worst_place, touch.voltage_v, _finite(touch.limit_v),
            f.live_after, None if f.heat is None else _finite(f.heat.temperature),
            str(f.verdict),
        )  # fmt: skip


def _schedule(results: Results) -> Iterator[Row]:
    for r in schedule_rows(results.plan):
        yield (
            r.id, r.purpose, r.from_, r.to, r.required, r.chosen, r.origin == "given", r.clause,
            str(r.verdict), r.remark,
        )  # fmt: skip


def _currents(results: Results) -> Iterator[Row]:
    for c in results.stray.currents:
        flow = c.flow
        yield (
            str(flow.carrier), flow.id, flow.conductor, flow.from_, flow.to, flow.amperes,
            flow.angle, c.share, str(c.nature),
        )  # fmt: skip


def _findings(results: Results) -> Iterator[Row]:
    for f in results.findings:
        yield (str(f.severity), f.rule, f.where, f.title, f.text, f.cure, f.clause)


def _available(results: Results) -> Iterator[Row]:
    for one in results.available:
        found = one.available
        yield (
            one.place, found.current, found.between, found.peak, one.of_motors, one.state,
            str(one.verdict),
        )  # fmt: skip


def _devices(results: Results) -> Iterator[Row]:
    for d in results.duties:
        judged = d.judgement
        yield (d.device, d.at, d.rating, d.available, judged.rating_a, judged.verdict)


def _electrodes(results: Results) -> Iterator[Row]:
    for one in results.plan.electrodes.values():
        wire = None if one.conductor is None else str(one.conductor)
        yield (one.id, one.kind.value, one.at, one.resistance, wire)


def _material(results: Results) -> Iterator[Row]:
    for line in material(results.plan):
        yield (line.row, line.item, line.quantity, line.unit, line.remark)


def _tests(results: Results) -> Iterator[Row]:
    for p in points(results):
        yield (
            p.id, p.place, p.what.value, p.between, p.instrument, p.unit.value,
            _finite(p.expected), p.limit, p.sense.value,
        )  # fmt: skip


def _assumptions(results: Results) -> Iterator[Row]:
    for one in results.assumptions:
        yield (one.where, one.text)


_ROWS: Final[Mapping[str, Callable[[Results], Iterator[Row]]]] = {
    "faults": _faults,
    "schedule": _schedule,
    "currents": _currents,
    "findings": _findings,
    "available": _available,
    "devices": _devices,
    "electrodes": _electrodes,
    "material": _material,
    "tests": _tests,
    "assumptions": _assumptions,
}
