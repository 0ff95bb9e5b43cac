"""Changes of a working copy's ties: taken off and put on."""

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
    """The ties that were changed.

    Attributes:
        done: in order.
    """

    done: tuple[Edit, ...] = ()

    def add(self, edit: Edit) -> Edits:
        """Return these with one more."""
        return Edits((*self.done, edit))


def that_apply(plan: Plan, edits: Sequence[Edit]) -> tuple[Edit, ...]:
    """Return those changes that can still be made to a plan which was described anew."""
    kept: tuple[Edit, ...] = ()
    for edit in edits:
        try:
            changed(plan, (*kept, edit))
        except EditError:
            continue
        kept = (*kept, edit)
    return kept


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
