"""What a story is made of: scenes, each with a case to look at and most with a question."""

from __future__ import annotations

from dataclasses import dataclass

from bondwright.page.model import Case
from bondwright.page.wire import Target


@dataclass(frozen=True, slots=True)
class Option:
    """An answer to choose.

    Attributes:
        text: the answer.
        told: what there is to say to whoever chooses it.
        right: whether it is right.
    """

    text: str
    told: str
    right: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """A question; one of its options is right.

    Attributes:
        text: the question.
        options: to choose from.
    """

    text: str
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Scene:
    """A scene.

    Attributes:
        title: in a few words.
        sentences: what is told.
        case: what the picture shows.
        fault: place where line L1 touches metal; "" for normal use.
        points: things that the picture points at.
        question: at its end; the next scene shows the answer.
    """

    title: str
    sentences: tuple[str, ...]
    case: Case
    fault: str = ""
    points: tuple[Target, ...] = ()
    question: Question | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """A story, told.

    Attributes:
        scenes: in order.
        lesson: what to take home.
    """

    scenes: tuple[Scene, ...]
    lesson: tuple[str, ...]


def yes(text: str, told: str) -> Option:
    """Return the right answer."""
    return Option(text, told, right=True)


def run(name: str) -> Target:
    """Point at a run."""
    return Target(kind="run", id=name)


def place(name: str) -> Target:
    """Point at a place."""
    return Target(kind="place", id=name)


def tie(name: str) -> Target:
    """Point at a tie."""
    return Target(kind="tie", id=name)
