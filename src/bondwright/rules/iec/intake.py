"""Where the network ends and the installation begins: cut-out, tails, main earthing terminal.

The network operator's cable ends at the intake. From there tails lead to the first board, where
the main earthing terminal is; where there are no tails, the intake is that board itself.
"""

from __future__ import annotations

from bondwright.rules.inputs import SupplyConductors
from bondwright.site.topology import Topology


def intakes(tree: Topology, origin: str) -> tuple[str, ...]:
    """Return the places where a network ends, one for each cable of it.

    Args:
        tree: the supply tree.
        origin: id of the source.
    """
    ends = (tree.site.runs[run].to for run in tree.feeds.get(origin, ()))
    return tuple(end for end in ends if end in tree.site.places)


def tails(tree: Topology, origin: str) -> tuple[str, ...]:
    """Return the runs from where a network ends to the first boards.

    A place where the network ends and that feeds one run without a device of its own is a
    cut-out, whatever fuse it holds, and that run are the tails.

    Args:
        tree: the supply tree.
        origin: id of the source.
    """
    found = []
    for intake in intakes(tree, origin):
        out = tree.feeds.get(intake, ())
        if len(out) == 1 and tree.site.runs[out[0]].device is None:
            found.append(out[0])
    return tuple(found)


def main_terminals(tree: Topology, origin: str) -> tuple[str, ...]:
    """Return the places that have a main earthing terminal, one for each intake.

    Args:
        tree: the supply tree.
        origin: id of the source.
    """
    by_intake = {tree.site.runs[run].from_: tree.site.runs[run].to for run in tails(tree, origin)}
    return tuple(by_intake.get(intake, intake) for intake in intakes(tree, origin))


def supply_lines(tree: Topology, origin: str) -> SupplyConductors | None:
    """Return the conductors that earthing and bonding conductors of an installation follow.

    Those of the tails; where there are none, those that end at the intakes; of a system of the
    installation's own those that leave it.

    Args:
        tree: the supply tree.
        origin: id of the source, generator, inverter or transformer.

    Raises:
        ValueError: several, of different metals.
    """
    runs = tails(tree, origin) or tuple(tree.fed_by[place] for place in intakes(tree, origin))
    if origin not in tree.site.sources or not runs:
        runs = tuple(tree.feeds.get(origin, ()))
    if not runs:
        return None
    return SupplyConductors(tuple(tree.site.runs[run].lines for run in runs))
