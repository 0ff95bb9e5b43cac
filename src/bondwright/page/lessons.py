"""Stories to learn from: each computed when it is opened, by the engine of everything else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import Final

from fastapi import FastAPI

from bondwright.draw.live import Form
from bondwright.explain.cautions import SHORT
from bondwright.explain.words import MARKS
from bondwright.page import more_stories, stories
from bondwright.page.desk import UnknownError
from bondwright.page.model import day, fault, model, shown_day, shown_fault
from bondwright.page.pictured import picture_answer
from bondwright.page.scenes import Question, Scene, Told
from bondwright.page.seen import fault_headline, light_of
from bondwright.page.wire_lessons import (
    LessonAnswer,
    OptionInfo,
    QuestionInfo,
    SceneInfo,
    StoriesAnswer,
    StoryTitle,
)

CAUTION: Final = f"Nothing here is a reason to work on live parts. {SHORT}"
STORIES: Final[dict[str, tuple[str, str, Callable[[], Told]]]] = {
    "once": (
        "Joined once",
        "Why neutral and metal are joined, and why in one place.",
        stories.once,
    ),
    "never": ("Not joined", "What happens when the tie is missing.", stories.never),
    "twice": ("Joined twice", "What happens with one tie too many.", stories.twice),
    "rod": ("The rod", "Why a ground rod does not clear a fault.", stories.rod),
    "open-neutral": (
        "An open neutral",
        "Why lights burn out and metal lives.",
        stories.open_neutral,
    ),
    "water-pipe": (
        "A shared water pipe",
        "How a pipe hides an open neutral, and what a cut does.",
        more_stories.water_pipe,
    ),
    "generator": (
        "A generator",
        "Switched or solid neutral: how many ties in each state.",
        more_stories.generator,
    ),
}
"""Title, what it is about, and the story, by id."""


def stories_answer() -> StoriesAnswer:
    """Return what stories there are."""
    titles = [
        StoryTitle(id=id, title=title, about=about) for id, (title, about, _) in STORIES.items()
    ]
    return StoriesAnswer(stories=titles, caution=CAUTION)


@lru_cache(maxsize=2 * len(STORIES))
def lesson_answer(id: str, form: Form) -> LessonAnswer:
    """Tell a story with its pictures.

    Raises:
        UnknownError: there is no such story.
    """
    if id not in STORIES:
        raise UnknownError(f"no story {id!r}; there are: {', '.join(STORIES)}")
    title, _, tell = STORIES[id]
    told = tell()
    models = list(dict.fromkeys(scene.case.model for scene in told.scenes))
    return LessonAnswer(
        id=id,
        title=title,
        models=[model(name).site.site for name in models],
        pictures=[picture_answer(model(name), form) for name in models],
        scenes=[_scene(scene, models.index(scene.case.model), form) for scene in told.scenes],
        lesson=list(told.lesson),
        caution=CAUTION,
    )


def _scene(scene: Scene, picture: int, form: Form) -> SceneInfo:
    desk, plan = model(scene.case.model), scene.case.plan
    light, opened, headline, verdict, mark = None, False, "", "", ""
    if scene.fault:
        result = fault(scene.case, scene.fault)
        now = shown_fault(scene.case, result)
        light = light_of(desk.picture(form), plan, result)
        opened = bool(result.openings)
        headline = fault_headline(result)
        verdict, mark = str(result.verdict), MARKS[result.verdict]
    else:
        now = shown_day(day(scene.case))
    return SceneInfo(
        title=scene.title,
        sentences=list(scene.sentences),
        headline=headline,
        verdict=verdict,
        mark=mark,
        picture=picture,
        changes=[(key, dict(look)) for key, look in desk.picture(form).looks(now).items()],
        light=light,
        opened=opened,
        points=list(scene.points),
        question=_question(scene.question) if scene.question else None,
    )


def _question(question: Question) -> QuestionInfo:
    def options() -> Iterator[OptionInfo]:
        for one in question.options:
            yield OptionInfo(text=one.text, right=one.right, told=one.told)

    return QuestionInfo(text=question.text, options=list(options()))


def add_lessons(app: FastAPI) -> None:
    """Add the addresses of the stories."""

    @app.get("/api/lessons")
    def every() -> StoriesAnswer:
        return stories_answer()

    @app.get("/api/lessons/{id}")
    def one(id: str, form: Form = "page") -> LessonAnswer:
        return lesson_answer(id, form)
