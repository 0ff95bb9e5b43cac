"""What goes over the wire for learning: stories on a small model, each scene with its picture."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from bondwright.page.wire import Light, PictureAnswer, Target


class _Wire(BaseModel):
    model_config = ConfigDict(extra="forbid")


class StoryTitle(_Wire):
    """A story that can be opened."""

    id: str
    title: str
    about: str


class StoriesAnswer(_Wire):
    """Every story."""

    format: Literal["bondwright/page-lessons"] = "bondwright/page-lessons"
    version: Literal[1] = 1
    stories: list[StoryTitle]
    caution: str


class OptionInfo(_Wire):
    """An answer to choose, whether it is right, and what there is to say to it."""

    text: str
    right: bool
    told: str


class QuestionInfo(_Wire):
    """A question with answers to choose from."""

    text: str
    options: list[OptionInfo]


class SceneInfo(_Wire):
    """A scene: what the picture shows, what is told, and the question it ends with."""

    title: str
    sentences: list[str]
    headline: str
    verdict: str
    mark: str
    picture: int
    changes: list[tuple[str, dict[str, str | float]]]
    light: Light | None
    opened: bool
    points: list[Target]
    question: QuestionInfo | None


class LessonAnswer(_Wire):
    """A story, computed: its pictures and its scenes."""

    format: Literal["bondwright/page-lesson"] = "bondwright/page-lesson"
    version: Literal[1] = 1
    id: str
    title: str
    models: list[str]
    pictures: list[PictureAnswer]
    scenes: list[SceneInfo]
    lesson: list[str]
    caution: str
