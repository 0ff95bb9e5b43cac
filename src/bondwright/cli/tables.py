"""Tables for a terminal."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from typing import Final

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bondwright.cli.common import said

WORD: Final = 18
"""Longest word that a column makes room for."""

PADDINGS: Final[dict[int, tuple[int, int, int, int]]] = {
    3: (0, 1, 0, 1),
    2: (0, 1, 0, 0),
    1: (0, 0, 0, 0),
}
"""By the gap between columns: what rich has to put round each cell, its line aside."""


def print_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print rows of text under a heading, wrapped to the terminal (100 columns in a pipe).

    On a narrow terminal the columns move together; where even that is too wide, each row is
    printed as lines of its own, so that nothing is cut off at the edge.
    """
    width = shutil.get_terminal_size((100, 40)).columns
    columns = list(zip(head, *([said(cell) for cell in row] for row in rows), strict=True))
    # A column is never narrower than its longest word, within reason: a label cut in two
    # is not the label any more.
    least = [max(_longest(cells[:1]), min(_longest(cells[1:]), WORD)) for cells in columns]
    whole = [max(map(len, cells)) for cells in columns]
    gaps = [gap for gap in PADDINGS if sum(least) + gap * (len(head) - 1) <= width - 2]
    if not gaps:
        _print_lines(head, rows, width)
        return
    widths = _shared(least, whole, width - 2 - gaps[0] * (len(head) - 1))
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=PADDINGS[gaps[0]], header_style="bold")
    for name, wide in zip(head, widths, strict=True):
        table.add_column(name, overflow="fold", min_width=wide, max_width=wide)
    for row in rows:
        # Text, not str: a person's label may hold brackets that rich would take for markup.
        table.add_row(*(Text(said(cell)) for cell in row))
    Console(width=width, highlight=False).print(table)


def _longest(cells: Sequence[str]) -> int:
    return max((len(word) for cell in cells for word in cell.split()), default=0)


def _shared(least: Sequence[int], whole: Sequence[int], room: int) -> list[int]:
    """Return widths between the least and the whole of each column that fill the room."""
    widths, left = list(least), room - sum(least)
    while left > 0:
        short = [k for k, wide in enumerate(widths) if wide < whole[k]]
        if not short:
            break
        # Whoever is shortest of what it would need, and of those the first.
        k = max(short, key=lambda k: whole[k] / widths[k] if widths[k] else float(whole[k]))
        widths[k] += 1
        left -= 1
    return widths


def _print_lines(head: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> None:
    console = Console(width=width, highlight=False)
    for row in rows:
        console.print()
        for name, cell in zip(head, row, strict=True):
            if cell:
                console.print(Text(f"{name}: {said(cell)}", overflow="fold"))
    console.print()
