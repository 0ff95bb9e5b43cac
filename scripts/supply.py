"""What the tool is made of: licences, a bill of materials, and known vulnerabilities.

``licences`` writes docs/licences.md from what the locked packages say of themselves. ``bill``
writes the lock as a CycloneDX bill of materials with its hashes. ``audit`` asks public advisories
about every locked version; without a network it says loudly that nothing was asked.
"""

from __future__ import annotations

import importlib.metadata
import json
import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import click
from packaging.requirements import Requirement

ROOT: Final = Path(__file__).resolve().parents[1]
LOCK: Final = ROOT / "requirements.lock"
PROJECT: Final = ROOT / "pyproject.toml"
PAGE: Final = ROOT / "docs" / "licences.md"
BILL: Final = ROOT / "out" / "bill-of-materials.json"

_PIN: Final = re.compile(r"^(?P<name>[A-Za-z0-9_.-]+)==(?P<version>[\w.+!]+)", re.MULTILINE)
_HASH: Final = re.compile(r"--hash=sha256:([0-9a-f]{64})")

SAID: Final[Mapping[str, str]] = {
    # Packages that say it in a file, in loose words or nowhere among their facts; read by hand.
    "atheris": "Apache-2.0",
    "axe-playwright-python": "MIT",
    "colorama": "BSD-3-Clause",
    "grimp": "BSD-2-Clause",
    "httpx2-jsfetch": "BSD-3-Clause",
    "import-linter": "BSD-2-Clause",
    "partd": "BSD-3-Clause",
    "pypdfium2": "BSD-3-Clause AND Apache-2.0",
    "pyyaml-ft": "MIT",
    "scikit-fem": "BSD-3-Clause",
    "scipy": "BSD-3-Clause",
    "tzdata": "Apache-2.0",
    "zict": "BSD-3-Clause",
}
_WORDS: Final[Mapping[str, str]] = {
    "Apache 2.0": "Apache-2.0",
    "Apache Software License": "Apache-2.0",
    "BSD License": "BSD-3-Clause",
    "MIT License": "MIT",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "Python Software Foundation License": "PSF-2.0",
    "SIL Open Font License 1.1 (OFL-1.1)": "OFL-1.1",
}
ALLOWED: Final = frozenset(
    {
        "0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "LGPL-3.0-only",
        "LGPL-3.0-or-later", "MIT", "MIT-CMU", "MPL-2.0", "OFL-1.1", "PSF-2.0", "Zlib",
    }
)  # fmt: skip
"""SPDX ids of what may be used beside Apache-2.0 code without taking it over. LGPL and MPL: as
libraries that stay files of their own.
"""


@dataclass(frozen=True, slots=True)
class Pin:
    """A locked package.

    Attributes:
        name: as the lock has it.
        versions: one, or one for each range of interpreters.
        hashes: SHA-256 of every file that may be installed, for each of the versions.
        groups: what of the tool it comes with: "tool", or extras.
    """

    name: str
    versions: tuple[str, ...]
    hashes: tuple[tuple[str, ...], ...]
    groups: tuple[str, ...]


def pins(lock: str) -> tuple[Pin, ...]:
    """Return every package of a lock file, by name.

    Raises:
        ValueError: a package without hashes.
    """
    starts = [(m["name"], m["version"], m.start()) for m in _PIN.finditer(lock)]
    found: dict[str, Pin] = {}
    for number, (name, version, start) in enumerate(starts):
        end = starts[number + 1][2] if number + 1 < len(starts) else len(lock)
        hashes = tuple(_HASH.findall(lock[start:end]))
        if not hashes:
            raise ValueError(f"{name} {version} has no hash; lock the dependencies anew")
        known = found.get(name)
        versions = (*known.versions, version) if known else (version,)
        both = (*known.hashes, hashes) if known else (hashes,)
        found[name] = Pin(name, versions, both, ())
    reach = _reach()
    return tuple(
        Pin(one.name, one.versions, one.hashes, tuple(sorted(reach.get(_key(one.name), ()))))
        for _, one in sorted(found.items())
    )


def _key(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _reach() -> dict[str, set[str]]:
    """Return by package with which parts of the tool it comes, from what is installed."""
    found: dict[str, set[str]] = {}
    lines = [Requirement(line) for line in importlib.metadata.requires("bondwright") or ()]
    extras = importlib.metadata.metadata("bondwright").get_all("Provides-Extra") or ()
    for group in ("tool", *extras):
        wanted = "" if group == "tool" else group
        todo = [(one.name, extra) for one in lines if _asked(one, wanted, bool(wanted))
                for extra in ("", *one.extras)]  # fmt: skip
        done: set[tuple[str, str]] = set()
        while todo:
            name, extra = todo.pop()
            if (name, extra) in done:
                continue
            done.add((name, extra))
            found.setdefault(_key(name), set()).add(group)
            todo += _needs(name, extra)
    return found


def _asked(line: Requirement, extra: str, only: bool) -> bool:
    """Whether a requirement is asked for with an extra, and if wanted without it not."""
    if line.marker is None:
        return not only
    if not line.marker.evaluate({"extra": extra}):
        return False
    return not only or not line.marker.evaluate({"extra": ""})


def _needs(name: str, extra: str) -> Iterator[tuple[str, str]]:
    try:
        lines = importlib.metadata.requires(name) or ()
    except importlib.metadata.PackageNotFoundError:
        return
    for line in map(Requirement, lines):
        if _asked(line, extra, bool(extra)):
            yield from ((line.name, one) for one in ("", *line.extras))


def licence(name: str) -> str:
    """Return the licence of a package as an SPDX expression, or "" where it isn't known."""
    if name in SAID:
        return SAID[name]
    try:
        facts = importlib.metadata.metadata(name)
    except importlib.metadata.PackageNotFoundError:
        return ""
    said = facts.get_all("License-Expression")
    if said:
        return str(said[0])
    for line in facts.get_all("Classifier") or ():
        word = line.rpartition(" :: ")[2]
        if line.startswith("License") and word in _WORDS:
            return _WORDS[word]
    loose = str((facts.get_all("License") or [""])[0]).splitlines()
    word = loose[0].strip() if loose else ""
    return _WORDS.get(word, word)


def refused(expression: str) -> tuple[str, ...]:
    """Return the parts of a licence expression that may not be used here."""
    words = re.findall(r"[A-Za-z0-9.+-]+", expression)
    parts = [word for word in words if word not in {"AND", "OR", "WITH"}]
    return tuple(part for part in parts if part not in ALLOWED) or (() if parts else ("unknown",))


def page(found: tuple[Pin, ...]) -> str:
    """Return docs/licences.md."""
    rows = [
        f"| {one.name} | {licence(one.name)} | {', '.join(one.groups) or 'other systems'} |"
        for one in found
    ]
    return "\n".join(
        [
            "# Licences",
            "",
            "bondwright is under Apache-2.0. It is made with these packages, installed and never",
            "copied in; the lock has the hash of every file of them. *With* says what brings a",
            "package: the tool itself, or one of its extras. Those for other systems are installed",
            "on Windows or in a browser's interpreter only.",
            "",
            "Made by `python scripts/supply.py licences` from what the packages say of themselves.",
            "`python scripts/supply.py bill` writes the same as a CycloneDX bill of materials, and",
            "`python scripts/supply.py audit` asks public advisories about every locked version.",
            "",
            "| Package | Licence (SPDX) | With |",
            "| --- | --- | --- |",
            *rows,
            "",
        ]
    )


def bill(found: tuple[Pin, ...], version: str) -> str:
    """Return the bill of materials, CycloneDX 1.6 as JSON; the same lock gives the same bytes."""
    from uuid import NAMESPACE_URL, uuid5

    from cyclonedx.contrib.license.factories import LicenseFactory
    from cyclonedx.model import HashAlgorithm, HashType
    from cyclonedx.model.bom import Bom
    from cyclonedx.model.component import Component, ComponentType
    from cyclonedx.output.json import JsonV1Dot6
    from packageurl import PackageURL

    licences = LicenseFactory()
    whole = Bom()
    whole.metadata.component = Component(
        name="bondwright", version=version, type=ComponentType.APPLICATION,
        bom_ref="bondwright", licenses=[licences.make_from_string("Apache-2.0")],
    )  # fmt: skip
    for one in found:
        for number, hashes in zip(one.versions, one.hashes, strict=True):
            whole.components.add(
                Component(
                    name=one.name,
                    version=number,
                    type=ComponentType("library"),
                    bom_ref=f"{one.name}@{number}",
                    purl=PackageURL("pypi", name=_key(one.name), version=number),
                    licenses=[licences.make_from_string(licence(one.name))],
                    hashes=[HashType(alg=HashAlgorithm.SHA_256, content=h) for h in hashes],
                )
            )
    whole.register_dependency(whole.metadata.component, whole.components)
    stamp = LOCK.read_bytes()
    whole.serial_number = uuid5(NAMESPACE_URL, f"bondwright {version} {hash_of(stamp)}")
    whole.metadata.timestamp = None  # type: ignore[assignment]
    return JsonV1Dot6(whole).output_as_string(indent=2) + "\n"


def hash_of(content: bytes) -> str:
    """Return the SHA-256 of some bytes, in hexadecimal."""
    import hashlib

    return hashlib.sha256(content).hexdigest()


@click.group()
def main() -> None:
    """Licences, bill of materials and known vulnerabilities of what the tool is made of."""


@main.command()
@click.option("--check", is_flag=True, help="Write nothing; fail if the page is old.")
def licences(*, check: bool) -> None:
    """Renew docs/licences.md; fail if a licence isn't known or not to be used here."""
    found = pins(LOCK.read_text(encoding="utf-8"))
    bad = {one.name: refused(licence(one.name)) for one in found if refused(licence(one.name))}
    if bad:
        told = "; ".join(f"{name}: {', '.join(parts)}" for name, parts in bad.items())
        raise click.ClickException(f"licences that may not be used, or aren't known: {told}")
    text = page(found)
    if check:
        if PAGE.read_text(encoding="utf-8") != text:
            raise click.ClickException("docs/licences.md is old; run scripts/supply.py licences")
        return
    PAGE.write_text(text, encoding="utf-8")
    click.echo(f"{len(found)} packages, every licence known")


@main.command("bill")
@click.option("--out", type=click.Path(path_type=Path), default=BILL, show_default=True)
def write_bill(out: Path) -> None:
    """Write the bill of materials."""
    version = importlib.metadata.version("bondwright")
    text = bill(pins(LOCK.read_text(encoding="utf-8")), version)
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(text, encoding="utf-8")
    click.echo(str(out))


@main.command()
def audit() -> None:
    """Ask public advisories about every locked version.

    Exit code 1 where one is known to be vulnerable. Without a network nothing can be asked; then
    it says so and ends with 0, for a gate must work without one.
    """
    command = [
        sys.executable, "-m", "pip_audit", "--requirement", str(LOCK), "--require-hashes",
        "--disable-pip", "--progress-spinner", "off", "--format", "json", "--timeout", "20",
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT)
    try:
        answers: list[dict[str, Any]] = json.loads(done.stdout)["dependencies"]
    except (ValueError, KeyError):
        answers = []
    asked = [one for one in answers if "skip_reason" not in one]
    bad = [one for one in asked if one["vulns"]]
    for one in bad:
        told = "; ".join(f"{v['id']} (mended in {', '.join(v['fix_versions']) or 'nothing yet'})"
                         for v in one["vulns"])  # fmt: skip
        click.echo(f"{one['name']} {one['version']}: {told}")
    click.echo(f"{len(asked)} of {len(pins(LOCK.read_text('utf-8')))} packages asked, "
               f"{len(bad)} known to be vulnerable")  # fmt: skip
    if len(asked) < len(answers) or not answers:
        reasons = [one["skip_reason"] for one in answers if "skip_reason" in one]
        line = reasons[0] if reasons else (done.stderr.strip() or "no answer").splitlines()[-1]
        click.echo("=" * 72, err=True)
        click.echo("SKIPPED: no advisory service answered about the other packages.", err=True)
        click.echo(f"  {line[:200]}", err=True)
        click.echo("Run 'make audit' where there is a network.", err=True)
        click.echo("=" * 72, err=True)
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
