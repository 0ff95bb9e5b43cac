"""Changes of a working copy: ties taken off and put on, with undo and redo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from bondwright.explain.words import tie_name
from bondwright.plan.model import Plan
from bondwright.plan.variants import with_tie, without_tie

Kind = Literal["take off", "put on"]


class EditError(ValueError):
    """A change that can't be made; its text says why and what would do."""


@dataclass(frozen=True, slots=True)
class Edit:
    """One change.

    Attributes:
        kind: what is done.
        name: the tie that is taken off, or the place where one is put on.
    """

    kind: Kind
    name: str


@dataclass(frozen=True, slots=True)
class Edits:
    """The changes made so far, and those undone that can be done again.

    Attributes:
        done: in order.
        undone: the next to be done again last.
    """

    done: tuple[Edit, ...] = ()
    undone: tuple[Edit, ...] = ()

    def add(self, edit: Edit) -> Edits:
        """Return these with one more; what was undone is forgotten."""
        return Edits((*self.done, edit))

    def undo(self) -> Edits:
        """Return these without the last.

        Raises:
            EditError: nothing was changed.
        """
        if not self.done:
            raise EditError("nothing was changed yet, so there is nothing to undo")
        return Edits(self.done[:-1], (*self.undone, self.done[-1]))

    def redo(self) -> Edits:
        """Return these with the last undone one done again.

        Raises:
            EditError: nothing was undone.
        """
        if not self.undone:
            raise EditError("nothing was undone, so there is nothing to do again")
        return Edits((*self.done, self.undone[-1]), self.undone[:-1])


def changed(plan: Plan, edits: Sequence[Edit]) -> Plan:
    """Return a plan with changes made to it: of its ties, and of nothing else.

    Raises:
        EditError: one of them can't be made.
    """
    first = plan
    for edit in edits:
        try:
            if edit.kind == "take off":
                plan = without_tie(plan, edit.name)
                continue
            if any(tie.at == edit.name for tie in plan.ties):
                raise EditError(f"neutral and metal are joined at {edit.name!r} already")
            own = tuple(tie for tie in first.ties if tie.at == edit.name)
            # Where the file has a tie, that one is put back, made as it was.
            plan = replace(plan, ties=(*plan.ties, *own)) if own else with_tie(plan, edit.name)
        except ValueError as error:
            raise EditError(str(error)) from error
    return plan


def said(plan: Plan, edits: Sequence[Edit]) -> tuple[str, ...]:
    """Say what is different from the plan, a line a change."""
    names = {tie.id: tie_name(tie) for tie in plan.ties}
    return tuple(
        f"{names.get(edit.name, f'the {edit.name}')} taken off"
        if edit.kind == "take off"
        else f"a tie put on at {edit.name}"
        for edit in edits
    )
