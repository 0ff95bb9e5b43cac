"""All papers into one folder: whole or not at all."""

from __future__ import annotations

import os
import signal
import tempfile
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

from bondwright.explain.language import spoken
from bondwright.network.pv import array_netlist, array_network
from bondwright.network.spice import netlist
from bondwright.papers.data import results_json
from bondwright.papers.earth import ground_of
from bondwright.papers.formats import FORMATS, USUAL
from bondwright.papers.html import report_html
from bondwright.papers.pdf import PAPERS, Paper, report_ready
from bondwright.papers.pictures import Pictures, draw_pictures, whole_picture
from bondwright.papers.results import Progress, Results, silent
from bondwright.papers.tables import (
    available_csv,
    earth_tests_csv,
    electrodes_csv,
    faults_csv,
    findings_csv,
    schedule_csv,
    stray_csv,
)
from bondwright.papers.telling import lettered
from bondwright.papers.work_papers import Maker, Wishes, WorkPapers
from bondwright.plan.model import PlannedArray
from bondwright.rules.families import unit_system


def report_date(on: date | None = None) -> date:
    """Return the date that goes on the papers.

    Args:
        on: a date, or None for the one of ``SOURCE_DATE_EPOCH`` (reproducible-builds.org), or
            today's (UTC) where that isn't set either.

    Raises:
        ValueError: ``SOURCE_DATE_EPOCH`` is no number of seconds.
    """
    if on is not None:
        return on
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not epoch:
        return datetime.now(UTC).date()
    try:
        return datetime.fromtimestamp(int(epoch), UTC).date()
    except (ValueError, OverflowError, OSError) as error:
        raise ValueError(
            f"SOURCE_DATE_EPOCH is {epoch!r}; it has to be a whole number of seconds since 1970"
        ) from error


def write_papers(
    results: Results,
    folder: str | os.PathLike[str],
    *,
    paper: Paper = "us-letter",
    formats: Sequence[str] = USUAL,
    wishes: Wishes | None = None,
    on: date | None = None,
    progress: Progress | None = None,
) -> tuple[Path, ...]:
    """Write the papers.

    Every file is made in a folder beside the last one first and moved into place when all are
    made: a run that fails or is interrupted leaves what was there before, and no half file.

    Args:
        results: what was computed.
        folder: where to; made if it isn't there. Files of the same names are replaced.
        paper: one of :data:`bondwright.papers.sizes.PAPERS`.
        formats: some of :data:`FORMATS`.
        wishes: what may be chosen: cover, prices, waste, label stock.
        on: date on the papers, see :func:`report_date`.
        progress: told how far the work is; it may raise.

    Returns:
        The files, in the order of :data:`FORMATS`.

    Raises:
        ValueError: another paper or format, or a bad ``SOURCE_DATE_EPOCH``.
        bondwright.papers.pdf.PaperError: the PDF can't be set.
        OSError: the folder can't be written.
    """
    if paper not in PAPERS:
        raise ValueError(f"no paper {paper!r} is known; give one of {', '.join(PAPERS)}")
    unknown = [name for name in formats if name not in FORMATS]
    if unknown or not formats:
        raise ValueError(f"no format {', '.join(unknown)!r} is known; give some of {FORMATS}")
    day = report_date(on)
    target = Path(folder)
    there = next(p for p in (target, *target.absolute().parents) if p.exists())
    target.mkdir(parents=True, exist_ok=True)
    tell = progress or silent
    makers = list(_makers(results, paper, day, formats, wishes or Wishes()))
    try:
        with tempfile.TemporaryDirectory(prefix=".papers-", dir=target) as beside:
            _make(makers, Path(beside), tell)
            tell("writing", len(makers), len(makers))
            with _uninterrupted():
                for name, _ in makers:
                    (Path(beside) / name).replace(target / name)
    except BaseException:
        _remove_empty(target, there)
        raise
    return tuple(target / name for name, _ in makers)


def _make(makers: Sequence[Maker], beside: Path, tell: Progress) -> None:
    """Make every file: PDFs are made ready first, and set in a thread beside the other files.

    Setting is most of the work on PDFs and needs no Python. One at a time: two would hold twice
    the memory. Drawings come last, when all are set, for the same reason.
    """
    number = 0

    def begin(name: str) -> None:
        nonlocal number
        tell(f"writing {name}", number, len(makers))
        number += 1

    pool = ThreadPoolExecutor(1, "setting")
    try:
        waiting: dict[str, Future[bytes]] = {}
        for name, make in sorted(makers, key=_turn):
            if name.endswith(".dxf"):
                wait(waiting.values())
            begin(name)
            made = make()
            if isinstance(made, bytes):
                (beside / name).write_bytes(made)
            else:
                waiting[name] = pool.submit(made)
        for name, future in waiting.items():
            (beside / name).write_bytes(future.result())
    finally:
        pool.shutdown(cancel_futures=True)


def _turn(maker: Maker) -> int:
    """Return when a file is made: PDFs first, drawings last."""
    return {"pdf": 0, "dxf": 2}.get(maker[0].rpartition(".")[2], 1)


def _remove_empty(target: Path, there: Path) -> None:
    """Take away the folders that were made for papers that didn't come to be."""
    for made in (target.absolute(), *target.absolute().parents):
        if made == there.absolute() or not made.is_dir() or any(made.iterdir()):
            return
        made.rmdir()


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Let an interrupt from the keyboard wait until all files are in place."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    asked: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: asked.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if asked:
        raise KeyboardInterrupt


def _makers(
    results: Results, paper: Paper, day: date, formats: Sequence[str], wishes: Wishes
) -> Iterator[Maker]:
    drawn: list[Pictures] = []

    def pictures() -> Pictures:
        if not drawn:
            drawn.append(draw_pictures(results))
        return drawn[0]

    if "pdf" in formats:
        yield (
            "report.pdf",
            lambda: report_ready(results, pictures(), day, paper=paper, cover=wishes.cover),
        )
    if "html" in formats:
        yield "report.html", lambda: report_html(results, pictures(), day, wishes.cover).encode()
    if "csv" in formats:
        yield "schedule.csv", lambda: schedule_csv(results.plan).encode()
        yield "faults.csv", lambda: faults_csv(results).encode()
        yield "stray.csv", lambda: stray_csv(results).encode()
        yield "available.csv", lambda: available_csv(results).encode()
        yield "findings.csv", lambda: findings_csv(results).encode()
        if results.ground.rows:
            yield "electrodes.csv", lambda: electrodes_csv(results).encode()
        if results.earth_tests:
            yield "earth-tests.csv", lambda: earth_tests_csv(results).encode()
    if "json" in formats:
        yield "results.json", lambda: results_json(results).encode()
    if "netlist" in formats:
        yield "netlist.cir", lambda: _netlist(results).encode()
        for number, array in enumerate(results.plan.arrays.values(), start=1):
            yield f"netlist-array-{number}.cir", partial(_array, results, array)
    if "picture" in formats:
        yield "picture.svg", lambda: _picture_svg(results, pictures())
    if "dxf" in formats:
        yield "picture.dxf", lambda: _picture_dxf(results, pictures())
        if results.ground.ground.shapes:
            yield "electrodes.dxf", lambda: _electrodes_dxf(results)
    if "parquet" in formats:
        from bondwright.papers.frames import columns, parquet

        for table in columns():
            yield f"{table}.parquet", partial(parquet, results, table)
    if "ifc" in formats:
        from bondwright.exchange.ifc import site_ifc

        yield "site.ifc", lambda: site_ifc(results.plan.site).encode()
    yield from WorkPapers(results, paper, day, wishes).makers(formats)


def _picture_svg(results: Results, pictures: Pictures) -> bytes:
    return lettered(whole_picture(results, pictures).svg, spoken()).encode()


def _picture_dxf(results: Results, pictures: Pictures) -> bytes:
    from bondwright.papers.dxf import picture_dxf

    return picture_dxf(whole_picture(results, pictures))


def _electrodes_dxf(results: Results) -> bytes:
    from bondwright.papers.dxf import ground_dxf

    ground = ground_of(results.plan, results.ground)
    system = unit_system(results.plan.site.rules)
    places, ways = ground.places or {}, ground.ways or {}
    return ground_dxf(ground.electrodes, ground.others, places, ways, system)


def _array(results: Results, array: PlannedArray) -> bytes:
    title = f"bondwright: {results.plan.site.site}, direct-current side of {array.id}"
    return array_netlist(array_network(array, results.plan.temperature), title).encode()


def _netlist(results: Results) -> str:
    title = f"bondwright: {results.plan.site.site}, normal use, loads on"
    return netlist(results.loaded.circuit, title)
