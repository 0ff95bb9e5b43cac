"""Make the notebook of docs/python.md: each block of Python a cell, the text between them too.

Usage: ``python scripts/make_notebook.py`` (writes examples/job.ipynb)
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parents[1]
PAGE: Final = ROOT / "docs" / "python.md"
TARGET: Final = ROOT / "examples" / "job.ipynb"
_BLOCK: Final = re.compile(r"^```python\n(.*?)^```\n", re.DOTALL | re.MULTILINE)
_LINK: Final = re.compile(r"\]\((?!https?:|#|\.\./)([^)]+)\)")


def main() -> None:
    """Write the notebook."""
    TARGET.write_text(notebook(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    print(f"wrote {TARGET.relative_to(ROOT)}")


def blocks(page: str) -> list[str]:
    """Return the blocks of Python of a page, in order."""
    return _BLOCK.findall(page)


def notebook(page: str) -> str:
    """Return a notebook (nbformat 4.5) of a page, without any output in it."""
    parts = _BLOCK.split(page)
    cells: list[dict[str, Any]] = []
    for number, text in enumerate(parts):
        if number % 2 == 0:
            # From examples/ the other pages of docs/ are one folder further away.
            text = _LINK.sub(r"](../docs/\1)", text.replace("](../examples/", "]("))
        if text.strip():
            cells.append(_cell("code" if number % 2 else "markdown", text.strip("\n"), len(cells)))
    whole = {
        "cells": cells,
        "metadata": {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
            "language_info": {"name": "python"},
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }
    return json.dumps(whole, ensure_ascii=False, indent=1) + "\n"


def _cell(kind: str, text: str, number: int) -> dict[str, Any]:
    cell: dict[str, Any] = {
        "cell_type": kind,
        "id": f"cell-{number}",
        "metadata": {},
        "source": text.splitlines(keepends=True),
    }
    return {**cell, "execution_count": None, "outputs": []} if kind == "code" else cell


if __name__ == "__main__":
    main()
