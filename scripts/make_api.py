"""Write docs/api.md: what there is for whoever uses the package from Python.

Made from the source alone: signatures and the first sentences of docstrings, and whole docstrings
of what most jobs need. A test fails while the page is stale.

    python scripts/make_api.py
"""

from __future__ import annotations

import ast
import inspect
import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parents[1]
SOURCE: Final = ROOT / "src" / "bondwright"
PAGE: Final = ROOT / "docs" / "api.md"

LAYERS: Final = {
    "units": "Quantities in text and in SI",
    "catalog": "Tables: conductors, raceways, devices, rule tables",
    "site": "The description",
    "exchange": "Panel schedules and building models",
    "rules": "Rules: sizes, findings",
    "plan": "The plan: every join and conductor placed and sized",
    "network": "The circuit",
    "devices": "Breakers, fuses, residual devices",
    "safety": "People and conductors under fault current",
    "earth": "Soil and electrodes",
    "studies": "Studies: faults, stray current, defects, the hunt",
    "explain": "Words",
    "draw": "Pictures",
    "papers": "Papers and tables",
    "store": "Jobs with their revisions",
}
"""Layers in the order of a job; the command line and the page are no interface for programs."""

WHOLE: Final = (
    "site.reader.read",
    "site.reader.load",
    "plan.build.plan",
    "papers.results.study",
    "papers.frames.frame",
    "draw.ribbon.ribbon_picture",
    "network.build.build",
    "network.solve.Solver",
    "studies.faults.study_fault",
    "studies.faults.possible_faults",
    "studies.stray.study_stray",
    "studies.whatif.tie_added",
    "rules.jumpers.bonding_jumper",
    "rules.electrodes.electrode_conductor",
    "rules.equipment.equipment_ground",
    "earth.system.solve",
    "safety.withstand.withstand",
    "devices.bands.band",
    "units.parse",
    "units.show",
)
"""What most jobs need: told whole."""

_HEAD: Final = """# The Python interface

What there is beside the commands. [A job from Python](python.md) shows how it goes together; this
page is made from the source by `scripts/make_api.py`, and a test fails while it is stale. All
numbers are SI floats (ohm, A, V, m, s, ohm m; temperatures in degC). Results are frozen
dataclasses; nothing writes into them.

Names that begin with `_` and modules that aren't listed may change without notice. Until version
1.0 so may the rest, and [the changelog](../CHANGELOG.md) says so.
"""


def modules(layer: str) -> Iterator[tuple[str, ast.Module]]:
    """Return the modules of a layer with their source."""
    single = SOURCE / f"{layer}.py"
    paths = [single] if single.exists() else sorted((SOURCE / layer).rglob("*.py"))
    for path in paths:
        parts = path.relative_to(SOURCE).with_suffix("").parts
        if not any(part.startswith("_") for part in parts):
            yield ".".join(parts), ast.parse(path.read_text(encoding="utf-8"))


def public(tree: ast.Module) -> Iterator[ast.FunctionDef | ast.ClassDef]:
    """Return the public functions and classes of a module, in its order."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node


def sentence(node: ast.FunctionDef | ast.ClassDef | ast.Module) -> str:
    """Return the first sentence of a docstring, on one line."""
    text = " ".join((ast.get_docstring(node) or "").partition("\n\n")[0].split())
    return _marks(re.split(r"(?<=[.:;])\s+(?=[A-Z])", text, maxsplit=1)[0])


def signature(node: ast.FunctionDef | ast.ClassDef) -> str:
    """Return how it is called."""
    if isinstance(node, ast.ClassDef):
        made = next(
            (f for f in node.body if isinstance(f, ast.FunctionDef) and f.name == "__init__"), None
        )
        if made is None:
            return node.name
        arguments = ast.unparse(made.args).removeprefix("self").removeprefix(", ")
        return f"{node.name}({arguments})"
    returns = f" -> {ast.unparse(node.returns)}" if node.returns is not None else ""
    return f"{node.name}({ast.unparse(node.args)}){returns}"


def _plain(docstring: str) -> str:
    """Return a Google-style docstring as Markdown: sections as lists."""
    lines = []
    for line in inspect.cleandoc(docstring).splitlines():
        head = re.fullmatch(r"(Args|Returns|Raises|Attributes|Yields):", line)
        if head is not None:
            lines += ["", f"*{head[1]}*", ""]
            continue
        entry = re.fullmatch(r" {4}(\*{0,2}\w[\w.]*): (.*)", line)
        if entry is not None:
            lines.append(f"- `{entry[1]}`: {entry[2]}")
        else:
            lines.append(re.sub(r"^ {4,}", "  ", line))
    return re.sub(r"\n{3,}", "\n\n", _marks("\n".join(lines)))


def _marks(text: str) -> str:
    """Return text with the marks of Markdown instead of those of Sphinx."""
    return re.sub(r"``([^`]+)``", r"`\1`", re.sub(r":\w+:`~?([^`]+)`", r"`\1`", text))


def _found(module: str, wanted: str) -> ast.FunctionDef | ast.ClassDef:
    """Return the definition of a name, which a module may have from another one."""
    tree = dict(modules(module.partition(".")[0]))[module]
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name == wanted:
            return node
        if isinstance(node, ast.ImportFrom) and wanted in {name.name for name in node.names}:
            return _found(str(node.module).removeprefix("bondwright."), wanted)
    message = f"{module} has no {wanted}"
    raise LookupError(message)


def _told_whole() -> Iterator[str]:
    for name in WHOLE:
        module, _, wanted = name.rpartition(".")
        node = _found(module, wanted)
        call = f"from bondwright.{module} import {wanted}\n\n{_wrapped(signature(node))}"
        yield f"### {wanted}\n"
        yield f"```text\n{call}\n```\n"
        yield _plain(ast.get_docstring(node) or "") + "\n"


def _wrapped(text: str) -> str:
    if len(text) <= 96:
        return text
    name, _, rest = text.partition("(")
    arguments, _, returns = rest.rpartition(")")
    parts = re.split(r", (?![^\[(]*[\])])", arguments)
    return f"{name}(\n" + "".join(f"    {part},\n" for part in parts) + f"){returns}"


def page() -> str:
    """Return the page."""
    parts = [_HEAD, "## What most jobs need\n", *_told_whole(), "## Every module\n"]
    for layer, about in LAYERS.items():
        parts.append(f"### Layer {layer}\n\n{about}.\n")
        for name, tree in modules(layer):
            names = list(public(tree))
            if not names:
                continue
            parts.append(f"**`bondwright.{name}`** {sentence(tree)}\n")
            parts += [f"- `{_short(node)}` {sentence(node)}".rstrip() for node in names]
            parts.append("")
    return "\n".join(parts).rstrip() + "\n"


def _short(node: ast.FunctionDef | ast.ClassDef) -> str:
    if isinstance(node, ast.ClassDef):
        return node.name
    spelled = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    return f"{node.name}({', '.join(argument.arg for argument in spelled)})"


def main(arguments: Sequence[str]) -> int:
    """Write the page, or with ``--check`` say whether it is stale."""
    new = page()
    stale = not PAGE.exists() or PAGE.read_text(encoding="utf-8") != new
    if "--check" in arguments:
        if stale:
            print("stale: docs/api.md")
        return int(stale)
    PAGE.write_text(new, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
