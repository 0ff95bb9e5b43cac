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


def print_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print rows of text under a heading, wrapped to the terminal (100 columns in a pipe)."""
    width = shutil.get_terminal_size((100, 40)).columns
    table = Table(box=SIMPLE_HEAD, pad_edge=False, header_style="bold")
    for k, name in enumerate(head):
        # A column is never narrower than its longest word, within reason: a label cut in two
        # is not the label any more.
        longest = max((len(word) for row in rows for word in row[k].split()), default=0)
        table.add_column(name, overflow="fold", min_width=min(longest, WORD))
    for row in rows:
        # Text, not str: a person's label may hold brackets that rich would take for markup.
        table.add_row(*(Text(said(cell)) for cell in row))
    Console(width=width, highlight=False).print(table)
