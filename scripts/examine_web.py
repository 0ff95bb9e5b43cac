"""Everything the page says it answers, asked a great many times with what fits and what doesn't.

Schemathesis makes the questions from the server's own description (OpenAPI): such as fit it, with
names of the site among them, and such as don't. Each is asked by somebody of each role, mostly as
the page would, sometimes as another site's page. An answer fails where it is an error that nobody
foresaw, tells a secret, lacks a header, takes over five seconds, isn't of the shape that was
declared, is a refusal without words, takes what doesn't fit, or lets somebody do more than their
role allows. Then chains of questions are asked, each with what was answered before in it; the
page is put back after each chain only. The same seed asks the same questions.

    python -m scripts.examine_web --cases 500 --seed 1    # of every address, kind and page
    python -m scripts.examine_web --again FILE            # one that failed
"""

from __future__ import annotations

import copy
import json
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

import click
import requests
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import seed as seeded
from hypothesis import strategies as st
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.core.transport import Response
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    negative_data_rejection,
    response_schema_conformance,
    status_code_conformance,
)

from bondwright.page.guard import METHODS
from scripts.fuzz_web import BODIES, FARMHOUSE, KNOWN, PASSWORD, ROOT
from scripts.web_answers import BadAnswerError, Question, look_at
from scripts.web_pages import ORIGIN, PAGES, Answer, Page

FOUND: Final = ROOT / "out" / "examined"
"""Where questions are kept whose answer failed."""
_REFUSED: Final = (303, 401, 403, 421)
"""What is answered before the question is read."""
_SHAPES: Final = (status_code_conformance, content_type_conformance, response_schema_conformance)
_SETTINGS: Final = settings(
    database=None,
    deadline=None,
    derandomize=False,
    stateful_step_count=12,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)
_SAID: Final = {
    "name": ("farm", "anna", "ben", "pump house panel", "well pump", "bare neutral"),
    "id": ("pump house feeder", "well pump", "farmhouse panel", "well water pipe", "pump branch"),
    "kind": ("run", "place", "tie", "metal", "electrode", "slot", "fall of potential", "soil"),
    "table": ("runs", "places", "ties", "metal", "electrodes", ""),
    "at": ("well pump", "pump house panel"),
    "run": ("pump house feeder", "service drop"),
    "fault": (KNOWN["fault"], "farmhouse panel|line to metal|L1|G"),
    "panel": ("farmhouse panel", "pump house panel"),
    "length": ("40 ft", "12 m", "0"),
    "where": ("pump house feeder", "well water pipe"),
    "value": ("0.7 A", "> 0.3 A", "12 ohm"),
    "starter": ("house", "shop"),
    "role": ("look", "edit", "keep"),
    "password": (PASSWORD, "five words are enough too"),
    "before": (PASSWORD,),
    "after": ("five words are enough too",),
    "mail": ("ben@mail.example", ""),
    "text": (FARMHOUSE.read_text(encoding="utf-8"), "site: x\n", "Ckt,Breaker\n1,20A\n"),
}  # fmt: skip


def seasoned(document: dict[str, Any]) -> dict[str, Any]:
    """Return a description whose questions use names that are known now and then.

    What is described of the answers stays as it is.
    """
    made = copy.deepcopy(document)
    schemas = made["components"]["schemas"]
    for path, methods in made["paths"].items():
        inner = "/" + path.split("/", 3)[3] if path.startswith("/job/") else path
        for about in methods.values():
            for one in about.get("parameters", []):
                one["schema"] = _with(one["name"], one["schema"])
            if "requestBody" in about:
                content = about["requestBody"]["content"]["application/json"]
                if inner in BODIES:
                    content["schema"] = {"anyOf": [{"enum": [BODIES[inner]]}, content["schema"]]}
    for name in _asked_only(document):
        fields = schemas[name].get("properties", {})
        for key, schema in fields.items():
            fields[key] = _with(key, schema)
    return made


def _with(name: str, schema: dict[str, Any]) -> dict[str, Any]:
    if schema.get("type") != "string" or "enum" in schema or name not in _SAID:
        return schema
    return {"anyOf": [{"enum": list(_SAID[name])}, schema]}


def _asked_only(document: dict[str, Any]) -> set[str]:
    """Return the names of what is sent in and never answered."""
    schemas = document["components"]["schemas"]

    def named(part: Any) -> Iterator[str]:
        if isinstance(part, dict):
            if isinstance(part.get("$ref"), str):
                yield part["$ref"].rpartition("/")[2]
            for each in part.values():
                yield from named(each)
        elif isinstance(part, list):
            for each in part:
                yield from named(each)

    def reached(key: str) -> set[str]:
        found: set[str] = set()
        todo = list(named([m.get(key) for p in document["paths"].values() for m in p.values()]))
        while todo:
            name = todo.pop()
            if name not in found:
                found.add(name)
                todo += named(schemas[name])
        return found

    return reached("requestBody") - reached("responses")


def _response(prepared: Any, answer: Answer, seconds: float) -> Response:
    """Return an answer as Schemathesis looks at it."""
    told: dict[str, list[str]] = {}
    for name, value in answer[1]:
        told.setdefault(name.decode(), []).append(value.decode("latin-1"))
    return Response(answer[0], told, answer[2], prepared, seconds, verify=False)


class Examination:
    """Asks one page.

    Args:
        name: of the page.
        page: the page.

    Attributes:
        asked: how many questions were asked.
        failed: what failed, with the question.
    """

    def __init__(self, name: str, page: Page) -> None:
        self.name, self.page = name, page
        self.asked = 0
        self.statuses: dict[int, int] = {}
        self.failed: list[tuple[Question, str]] = []

    def ask(self, question: Question, *, back: bool = True) -> tuple[Answer, float]:
        """Ask, look at the answer, and put the page back, unless more is to come."""
        begun = time.process_time()
        answer = self.page.ask(
            question.who, question.method, question.address, question.body.encode(),
            question.origin,
        )  # fmt: skip
        seconds = time.process_time() - begun
        self.asked += 1
        self.statuses[answer[0]] = self.statuses.get(answer[0], 0) + 1
        try:
            look_at(self.page, question, answer, seconds)
        finally:
            if back and question.changes and answer[0] < 400:
                self.page.put_back(question.address)
        return answer, seconds

    def run(self, cases: int, seed: int, only: str = "") -> None:
        """Ask every address so often with what fits, and as often with what doesn't."""
        for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE):
            fits = mode is GenerationMode.POSITIVE
            document = seasoned(self.page.document) if fits else self.page.document
            schema = schemathesis.openapi.from_dict(document)
            found: Any
            for found in schema.get_all_operations():
                operation = found.ok()
                if only in operation.label and (fits or _can_be_wrong(operation)):
                    self._one(operation, mode, cases, seed)
        self._other_methods(only)

    def _one(self, operation: Any, mode: GenerationMode, cases: int, seed: int) -> None:
        last: list[Question] = []

        @seeded(seed)
        @settings(_SETTINGS, max_examples=cases, phases=[Phase.generate, Phase.shrink])
        @given(
            case=operation.as_strategy(generation_mode=mode),
            who=st.sampled_from(self.page.people),
            origin=st.sampled_from((*[ORIGIN] * 18, "", "http://evil.example")),
        )
        def examine(case: Any, who: str, origin: str) -> None:
            prepared, question = self._written(case, who, origin)
            last[:] = [question]
            answer = _response(prepared, *self.ask(question))
            refused = answer.status_code in _REFUSED
            if not refused and not (question.changes and origin != ORIGIN):
                case.validate_response(answer, checks=[*_SHAPES, negative_data_rejection])

        try:
            examine()
        except Unsatisfiable:  # everything fits
            return
        except (Exception, BaseExceptionGroup) as error:  # kept, and the next address is asked
            self.failed.append((last[0], f"{operation.label}: {_told(error)}"))

    def _written(self, case: Any, who: str, origin: str) -> tuple[Any, Question]:
        """Return a question as it would go over a network, and as it is asked."""
        prepared = requests.Request(**case.as_transport_kwargs(base_url=ORIGIN)).prepare()
        body: Any = prepared.body or b""
        text = body.decode("utf-8", "replace") if isinstance(body, bytes) else body
        address = str(prepared.url).removeprefix(ORIGIN)
        return prepared, Question(self.name, who, str(prepared.method), address, text, origin)

    def chains(self, number: int, seed: int) -> None:
        """Ask one thing after the other, with what was answered before in what is asked next."""
        asked, last = self, list[Question]()
        machine: Any = schemathesis.openapi.from_dict(seasoned(self.page.document))
        machine = machine.as_state_machine()

        class Chain(machine):  # type: ignore[misc]
            def call(self, case: Any, **_: Any) -> Response:
                who = asked.page.people[len(last) % len(asked.page.people)]  # in turn
                prepared, question = asked._written(case, who, ORIGIN)
                last.append(question)
                return _response(prepared, *asked.ask(question, back=False))

            def validate_response(self, response: Response, case: Any, **_: Any) -> None:
                if response.status_code not in _REFUSED:
                    case.validate_response(response, checks=list(_SHAPES))

            def setup(self) -> None:
                last.clear()

            def teardown(self) -> None:
                asked.page.put_back("/house/logout")

        try:
            seeded(seed)(Chain).run(settings=settings(_SETTINGS, max_examples=number))
        except (Exception, BaseExceptionGroup) as error:
            self.failed += [(each, f"in a chain: {_told(error)}") for each in last[-12:]]

    def _other_methods(self, only: str) -> None:
        """Ask every address what nobody declared."""
        for path, methods in self.page.document["paths"].items():
            where = path.replace("{form}", "page").replace("{number}", "0").replace("{", "")
            for method in ("GET", "HEAD", "POST", "DELETE", "PUT", "PATCH", "OPTIONS", "TRACE"):
                if method.lower() in methods or only not in f"{method} {path}":
                    continue
                question = Question(
                    self.name, self.page.people[0], method, where.replace("}", ""), "{}", ORIGIN
                )
                try:
                    status = self.ask(question)[0][0]
                    if status not in ({404, 405} if method in METHODS else {405}):
                        raise BadAnswerError(f"{status} where nothing is declared")
                except Exception as error:
                    self.failed.append((question, f"{method} {path}: {error}"))


def _told(error: BaseException) -> str:
    """Return what went wrong in a few lines."""
    inner = getattr(error, "exceptions", ())
    if inner:
        return "; ".join(_told(one) for one in inner)
    return f"{type(error).__name__}: {error}"


def _can_be_wrong(operation: Any) -> bool:
    """Tell whether something can be sent that doesn't fit."""
    return bool(operation.body) or any(True for _ in operation.iter_parameters())


def _kept(question: Question, number: int) -> Path:
    FOUND.mkdir(parents=True, exist_ok=True)
    path = FOUND / f"{question.page}-{number}.json"
    path.write_text(json.dumps(asdict(question), indent=1), encoding="utf-8")
    return path


@click.command()
@click.option("--page", "names", multiple=True, type=click.Choice(list(PAGES)))
@click.option("--cases", default=50, show_default=True, help="Of each address and kind.")
@click.option("--seed", default=1, show_default=True, help="The same seed asks the same.")
@click.option("--only", default="", help="Addresses that have this in their name.")
@click.option("--again", type=click.Path(path_type=Path), help="Ask this one question only.")
def main(names: tuple[str, ...], cases: int, seed: int, only: str, again: Path | None) -> None:
    """Ask everything that the page says it answers."""
    if again is not None:
        question = Question(**json.loads(again.read_text(encoding="utf-8")))
        page = PAGES[question.page]()
        answer, seconds = Examination(question.page, page).ask(question)
        page.close()
        click.echo(f"{answer[0]} after {seconds:.2f} s: {answer[2][:2000]!r}")
        return
    asked, failed = 0, 0
    for name in names or PAGES:
        begun = time.monotonic()
        page = PAGES[name]()
        examination = Examination(name, page)
        examination.run(cases, seed, only)
        if not only:
            examination.chains(max(2, cases // 4), seed)
        page.close()
        asked += examination.asked
        told = ", ".join(f"{n} of {status}" for status, n in sorted(examination.statuses.items()))
        click.echo(f"{name}: {examination.asked} asked in {time.monotonic() - begun:.0f} s: {told}")
        for question, text in examination.failed:
            failed += 1
            click.echo(f"FAILED {text[:1500]}\n  {question}\n  {_kept(question, failed)}", err=True)
    click.echo(f"{asked} asked in all, seed {seed}; failed: {failed or 'none'}")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
