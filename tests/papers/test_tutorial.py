"""The page on Python: its code runs in order, and the notebook is made of it."""

from __future__ import annotations

import ast
import json
import re
from typing import Any

import pytest

from scripts.make_notebook import PAGE, TARGET, blocks, notebook

TEXT = PAGE.read_text(encoding="utf-8")


def test_the_code_runs_in_order(capsys: pytest.CaptureFixture[str]) -> None:
    space: dict[str, Any] = {}
    shown: list[Any] = []
    for number, source in enumerate(blocks(TEXT)):
        tree = ast.parse(source)
        last = tree.body[-1]
        if isinstance(last, ast.Expr):  # as a notebook shows the last value of a cell
            body = ast.Module(tree.body[:-1], [])
            exec(compile(body, f"block {number}", "exec"), space)
            value = eval(compile(ast.Expression(last.value), f"block {number}", "eval"), space)
            shown.append(value)
        else:
            exec(compile(tree, f"block {number}", "exec"), space)
    said = capsys.readouterr().out
    assert "Cider store, Harrow Creek Cidery by nec-2023" in said
    assert "MBJ store" in said
    assert "<text>:16:13: '150' has no unit" in said
    assert re.search(r"The weakest fault is at cooler: \d+ A", said)
    assert "Danger" in said.split("The weakest fault")[1]
    assert "report.pdf True" in said
    assert sum(hasattr(one, "_repr_svg_") for one in shown) == 2


def test_the_notebook_is_that_of_the_page() -> None:
    assert TARGET.read_text(encoding="utf-8") == notebook(TEXT), "run scripts/make_notebook.py"
    made = json.loads(notebook(TEXT))
    cells = ["".join(c["source"]) for c in made["cells"] if c["cell_type"] == "code"]
    assert cells == [block.strip("\n") for block in blocks(TEXT)]
    assert all(c["outputs"] == [] for c in made["cells"] if c["cell_type"] == "code")
