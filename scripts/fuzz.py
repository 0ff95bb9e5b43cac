"""Every reader, and the served page, given a great many broken inputs, led by the code they reach.

atheris (libFuzzer) keeps what reaches new code and changes it further; a mutator of our own knows
lines, cells and numbers. A case fails if a reader raises anything but its own error, takes longer
than five seconds, needs more than a gibibyte, or doesn't say where the trouble is. The same seed
tries the same cases.

    python scripts/fuzz.py --runs 20000 --seed 1          # of every target
    python scripts/fuzz.py --target site --again FILE     # one case that failed
"""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import click

ROOT: Final = Path(__file__).resolve().parents[1]
EXAMPLES: Final = ROOT / "examples"
LONGEST_S: Final = 5
MOST_MIB: Final = 1024
FOUND: Final = ROOT / "out" / "fuzz"
"""Where cases that failed are kept."""

NUMBERS: Final = (
    "0", "-1", "1e-6", "1e6", "1e308", "nan", "inf", "1 mm", "10 km", "1e-300 ohm", "99999 AWG",
    "600 kcmil", "0 A", "400..4 A", "1/0", "-0.0", "\u221e", "1,000", "\u0661 A", "2 x 2 x 3 AWG",
)  # fmt: skip
PIECES: Final = (
    "&a", "*a", "!!python/object:os.system", "<<: *a", "? ", "- ", "|", ">", "#", "'", '"', "\t",
    "\ufeff", "\x00", "\u202e", "{}", "[]", "{a: 1, a: 2}", "=1+1", "@SUM(A1)", "N-G", "L1-N", ",",
    ";", ":", "\\", "../../etc", "x" * 300, "\U0001f50c", "yes", "null", "~",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Target:
    """A reader to try.

    Attributes:
        seeds: inputs that are read without an error, or nearly so.
        try_: reads an input; raises for a case that fails.
    """

    seeds: tuple[bytes, ...]
    try_: Callable[[bytes], None]


class NoPlaceError(AssertionError):
    """An error that doesn't say where."""


_LINE: Final = re.compile(r":\d+:\d+|line \d+|row \d+|[A-Z]+\d+|first line")


def _text(data: bytes) -> str:
    return data.decode("utf-8", errors="surrogateescape").encode("utf-8", "replace").decode("utf-8")


def _site() -> Target:
    from bondwright.site.reader import read
    from bondwright.site.site_error import SiteError

    def try_(data: bytes) -> None:
        try:
            read(_text(data), "fuzz.yaml")
        except SiteError as error:
            for line in str(error).splitlines():
                if line.startswith("fuzz.yaml") and not _LINE.search(line):
                    raise NoPlaceError(line) from error

    return Target(tuple(p.read_bytes() for p in sorted(EXAMPLES.glob("*.yaml"))), try_)


def _solved() -> Target:
    """A site that is read is planned and solved, or it is said what can't be."""
    from bondwright.network.build import build
    from bondwright.network.changes import SolveError
    from bondwright.plan.build import plan
    from bondwright.site.reader import read
    from bondwright.site.site_error import SiteError

    def try_(data: bytes) -> None:
        try:
            site = read(_text(data), "fuzz.yaml")
        except SiteError:
            return
        if len(site.places) > 60:
            return
        try:
            solved = build(plan(site)).solver.solve()
        except (SolveError, SiteError):
            return
        if not solved.residuals.kirchhoff < 1e-6:
            raise AssertionError(f"a residual of {solved.residuals.kirchhoff:g}")

    small = ("harrow-creek-farmhouse", "flat-over-the-cider-shop", "workshop-transformer")
    return Target(tuple((EXAMPLES / f"{name}.yaml").read_bytes() for name in small), try_)


def _circuits() -> Target:
    from bondwright.exchange.circuits import read_schedule
    from bondwright.exchange.sheets import SheetError, read_text

    seed = (
        "Panel: LP-1,,,\n"
        "Ckt,Description,Breaker,Wire,Poles,Load,Load,Wire,Breaker,Description,Ckt\n"
        "1,lights,20A,#12,1,600 W,1.2 kVA,12,20/1,outlets,2\n"
        "3,pump,30/2,10 AWG,2,2 hp,,,,spare,4\n"
        '5,",,,,,,,,,6\n'
    )

    def try_(data: bytes) -> None:
        try:
            read_schedule(read_text(_text(data), "fuzz.csv"))
        except SheetError:
            return

    return Target((seed.encode(), seed.replace(",", ";").encode(), b"a\tb\n1\t2\n"), try_)


def _workbook() -> Target:
    from bondwright.exchange.circuits import read_schedule
    from bondwright.exchange.sheets import SheetError, read_sheets, workbook

    seed = workbook([("LP-1", [["Ckt", "Description", "Breaker"], ["1", "lights", "20 A"]])])

    def try_(data: bytes) -> None:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "fuzz.xlsx"
            path.write_bytes(data)
            try:
                for sheet in read_sheets(path):
                    read_schedule(sheet)
            except SheetError:
                return

    return Target((bytes(seed),), try_)


def _ifc() -> Target:
    if str(ROOT) not in sys.path:  # run as a script, this one knows its own folder only
        sys.path.insert(0, str(ROOT))
    from bondwright.exchange.ifc import site_ifc
    from bondwright.site.reader import load
    from scripts.fuzz_ifc import foreign, reader

    ours = site_ifc(load(EXAMPLES / "three-building-farm.yaml"))
    return Target((ours.encode(), foreign(ours).encode()), reader(LONGEST_S, MOST_MIB))


def _readings(yaml: bool) -> Callable[[], Target]:
    def made() -> Target:
        from bondwright.network.build import build
        from bondwright.plan.build import plan
        from bondwright.site.reader import load
        from bondwright.site.site_error import SiteError
        from bondwright.studies.hunt.readings import read_readings

        network = build(plan(load(EXAMPLES / "harrow-creek-farmhouse.yaml")))
        table = (
            "what,where,of,value,state,with,accuracy,note\n"
            "current,well water pipe,,0.7 A,normal,leakage clamp,,\n"
            "net current,pump house feeder,all,> 0.3 A,farmhouse panel off,,2 % + 0.1 A,x\n"
            "voltage,pump house panel,N-G,0.8 V,no load; test load 1.5 kW at well pump,,,\n"
            "resistance,pump house panel,N-G,> 2000 ohm,power off,low-ohm meter,,\n"
        )
        grouped = "readings:\n- {what: voltage, where: pump house panel, of: N-G, value: 0.8 V}\n"

        def try_(data: bytes) -> None:
            try:
                read_readings(_text(data), network, "fuzz", yaml=yaml)
            except SiteError:
                return

        return Target((grouped.encode() if yaml else table.encode(),), try_)

    return made


def _prices() -> Target:
    from bondwright.plan.cost import PriceError, read_prices

    def try_(data: bytes) -> None:
        try:
            read_prices(_text(data))
        except PriceError as error:
            if not _LINE.search(str(error)):
                raise NoPlaceError(str(error)) from error

    seed = "item,unit,price\n4 AWG Cu bare,100 ft,85.50\nground rod,each,19\n"
    return Target((seed.encode(),), try_)


def _devices() -> Target:
    from bondwright.catalog.device_rating import DeviceRating

    def try_(data: bytes) -> None:
        try:
            DeviceRating.parse(_text(data))
        except ValueError:
            return

    seeds = (
        "20 A breaker", "400 A electronic breaker, long 1 12 s, short 2 kA 0.2 s, interrupts 35 kA",
        "C16, RCD 30 mA type A", "200 A class RK1 fuse", "63 A gG fuse", "20 A GFCI",
    )  # fmt: skip
    return Target(tuple(seed.encode() for seed in seeds), try_)


def _units() -> Target:
    from bondwright.units import Dimension, UnitError, parse

    def try_(data: bytes) -> None:
        text = _text(data)
        for dimension in Dimension:
            try:
                value = parse(text, dimension)
            except UnitError:
                continue
            if value != value:
                raise AssertionError(f"{text!r} is {value}")

    seeds = ("75 ft", "3/0 AWG", "12.5 %", "25 kA", "1-1/4 in", "100 ohm m", "2 ft 3 in", "60 Hz")
    return Target(tuple(seed.encode() for seed in seeds), try_)


def _bundle() -> Target:
    from bondwright.store.bundle import bundle, unbundle
    from bondwright.store.errors import StoreError
    from bondwright.store.store import Store

    with tempfile.TemporaryDirectory() as folder, Store(f"sqlite:///{folder}/jobs.db") as store:
        farm = (EXAMPLES / "harrow-creek-farmhouse.yaml").read_bytes()
        store.add("farm", {"site.yaml": farm}, who="fuzz", why="first")
        seed = bundle(store)

    def try_(data: bytes) -> None:
        try:
            unbundle(data)
        except StoreError:
            return

    return Target((seed,), try_)


def _web() -> Target:
    if str(ROOT) not in sys.path:  # run as a script, this one knows its own folder only
        sys.path.insert(0, str(ROOT))
    from scripts.fuzz_web import check, parse, requests, served

    page = served()
    seeds = [text.encode() for document in page.documents() for text in requests(document)]

    def try_(data: bytes) -> None:
        method, address, body = parse(data)
        if address.partition("?")[0].endswith("/events"):
            return
        try:
            check(*page.ask(method, address, body))
        finally:
            page.put_back()

    return Target(tuple(seeds), try_)


TARGETS: Final[dict[str, Callable[[], Target]]] = {
    "site": _site,
    "solved": _solved,
    "circuits": _circuits,
    "workbook": _workbook,
    "ifc": _ifc,
    "readings": _readings(False),
    "readings-yaml": _readings(True),
    "prices": _prices,
    "devices": _devices,
    "units": _units,
    "bundle": _bundle,
    "web": _web,
}


def changed(data: bytes, luck: random.Random, others: tuple[bytes, ...]) -> bytes:
    """Return an input changed at a few places, as people and programs break files."""
    text = data.decode("utf-8", errors="surrogateescape")
    for _ in range(luck.choice((1, 1, 1, 2, 3, 8))):
        lines = text.splitlines(keepends=True) or [""]
        k = luck.randrange(len(lines))
        match luck.randrange(10):
            case 0:
                del lines[k]
            case 1:
                lines.insert(luck.randrange(len(lines) + 1), lines[k])
            case 2:
                j = luck.randrange(len(lines))
                lines[k], lines[j] = lines[j], lines[k]
            case 3:
                lines[k] = " " * luck.randrange(9) + lines[k].lstrip(" ")
            case 4:
                found = list(re.finditer(r"\d[\d./]*(?: ?[A-Za-z%\u00b5\u2126]+)?", lines[k]))
                if found:
                    one, line = luck.choice(found), lines[k]
                    lines[k] = line[: one.start()] + luck.choice(NUMBERS) + line[one.end() :]
            case 5:
                at = luck.randrange(len(lines[k]) + 1)
                lines[k] = lines[k][:at] + luck.choice(PIECES) + lines[k][at:]
            case 6:
                words = lines[k].split(" ")
                words[luck.randrange(len(words))] = luck.choice(luck.choice(lines).split(" "))
                lines[k] = " ".join(words)
            case 7:
                at = luck.randrange(len(lines[k]) + 1)
                lines[k] = lines[k][:at]
            case 8 if others:
                other = luck.choice(others).decode("utf-8", errors="surrogateescape")
                theirs = other.splitlines(keepends=True) or [""]
                lines[k] = luck.choice(theirs)
            case _:
                raw = bytearray("".join(lines).encode("utf-8", errors="surrogateescape"))
                if raw:
                    raw[luck.randrange(len(raw))] = luck.randrange(256)
                return bytes(raw)
        text = "".join(lines)
    return text.encode("utf-8", errors="surrogateescape")


def _inside(name: str, runs: int, seed: int, corpus: Path, kept: Path) -> None:
    """Try one target in this process; it doesn't come back."""
    import atheris

    with atheris.instrument_imports(include=["bondwright"], enable_loader_override=False):
        target = TARGETS[name]()
    binary = name in {"workbook", "bundle"}

    def mutate(data: bytes, most: int, number: int) -> bytes:
        luck = random.Random(number)
        if binary or luck.random() < 0.2:
            return bytes(atheris.Mutate(data, most))
        return changed(data, luck, target.seeds)[:most]

    for number, one in enumerate(target.seeds):
        (corpus / f"seed-{number}").write_bytes(one)
    longest = max(len(one) for one in target.seeds)
    atheris.Setup(
        [
            sys.argv[0], f"-runs={runs}", f"-seed={seed}", f"-timeout={LONGEST_S}",
            f"-rss_limit_mb={MOST_MIB}", f"-max_len={2 * longest + 64}",
            f"-artifact_prefix={kept}/{name}-", "-print_final_stats=1", "-verbosity=1", str(corpus),
        ],
        target.try_,
        custom_mutator=mutate,
    )  # fmt: skip
    atheris.Fuzz()


@click.command()
@click.option("--target", "names", multiple=True, type=click.Choice(list(TARGETS)))
@click.option("--runs", default=20_000, show_default=True, help="Cases of each target.")
@click.option("--seed", default=1, show_default=True, help="The same seed tries the same cases.")
@click.option("--again", type=click.Path(path_type=Path), help="Try this one case only.")
@click.option("--inside", is_flag=True, hidden=True)
@click.option("--corpus", type=click.Path(path_type=Path), hidden=True)
def main(
    names: tuple[str, ...], runs: int, seed: int, again: Path | None, inside: bool, corpus: Path
) -> None:
    """Give every reader a great many broken inputs."""
    if inside:
        _inside(names[0], runs, seed, corpus, FOUND)
        return
    if again is not None:
        for name in names:
            TARGETS[name]().try_(again.read_bytes())
        click.echo("nothing failed")
        return
    FOUND.mkdir(parents=True, exist_ok=True)
    failed, tried = [], 0
    for name in names or TARGETS:
        begun = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            command = [
                sys.executable, __file__, "--inside", "--target", name, "--runs", str(runs),
                "--seed", str(seed), "--corpus", folder,
            ]  # fmt: skip
            env = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONHASHSEED": "0"}
            done = subprocess.run(command, capture_output=True, text=True, env=env, cwd=ROOT)
        said = done.stdout + done.stderr
        count = re.search(r"number_of_executed_units:\s*(\d+)", said)
        reached = re.findall(r"cov: (\d+)", said)
        tried += int(count[1]) if count else 0
        state = "ok" if done.returncode == 0 else "FAILED"
        click.echo(
            f"{name}: {count[1] if count else '?'} cases, {reached[-1] if reached else '?'} places "
            f"reached, {time.monotonic() - begun:.0f} s: {state}"
        )
        if done.returncode != 0:
            failed.append(name)
            lines = [line for line in said.splitlines() if not line.startswith(("INFO", "#"))]
            click.echo("\n".join(lines)[-3000:], err=True)
    click.echo(f"{tried} cases in all, seed {seed}; failed: {', '.join(failed) or 'none'}")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
