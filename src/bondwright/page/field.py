"""The hunt in the field: readings kept, ranked beside the page, and the next one asked for."""

from __future__ import annotations

from collections.abc import Iterator
from threading import Lock

from fastapi import FastAPI
from fastapi.responses import Response

from bondwright.explain.hunt import HUNT_CAUTIONS
from bondwright.network.build import Network
from bondwright.network.runs import strands
from bondwright.page.desk import Desk
from bondwright.page.hunted import OVER, UNITS, meters_for
from bondwright.page.notebook import Notebook, as_csv, sifted
from bondwright.page.problems import file_of
from bondwright.page.ranker import Question, Ranker
from bondwright.page.wire_field import (
    Choice,
    HuntAnswer,
    HuntForm,
    NotesRequest,
    QuantityInfo,
    WhereInfo,
)
from bondwright.plan.model import Plan
from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import network_at

_ABOUT = {
    Quantity.CURRENT: "one conductor, tie or pipe in the jaw",
    Quantity.NET_CURRENT: "a whole cable or raceway in the jaw",
    Quantity.VOLTAGE: "between two points",
    Quantity.RESISTANCE: "between two points, power off",
    Quantity.LOOP: "with a loop tester",
    Quantity.EARTH_LOOP: "earth tester clamped round a conductor",
    Quantity.LOAD: "what was on",
}


class FieldHunt:
    """The hunt of one working copy.

    The site is taken as its file has it: the file says how things should be, and what was changed
    on the page is no building.
    """

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.book = Notebook()
        self.ranker = Ranker()
        self._lock = Lock()
        self._known: tuple[Plan, Network] | None = None

    def network(self) -> Network:
        """Return the circuit as described, with its loads."""
        with self._lock:
            plan = self.desk.base
            if self._known is None or self._known[0] is not plan:
                self._known = (plan, network_at(plan, Moment()))
            return self._known[1]

    def rest(self) -> None:
        """Forget what can be worked out again; the readings stay."""
        self.ranker.rest()
        with self._lock:
            self._known = None

    def answer(self, *, again: bool = False) -> HuntAnswer:
        """Say what was written down and what it says; have it ranked where it isn't.

        Args:
            again: whether a ranking that was cancelled or failed is tried again.
        """
        notes = self.book.notes
        good, bad = sifted(notes, self.network())
        if again or self.ranker.status not in {"cancelled", "failed"}:
            self.ranker.ask(Question(self.desk.base.site, good))
        return HuntAnswer(
            born=self.book.born,
            notes=list(notes),
            problems=list(bad),
            status=self.ranker.status,
            seconds=self.ranker.seconds,
            problem=self.ranker.problem,
            result=self.ranker.result,
            cautions=list(HUNT_CAUTIONS),
        )

    def take(self, request: NotesRequest) -> HuntAnswer:
        """Keep readings and forget others.

        Raises:
            bondwright.page.notebook.FullError: there are too many.
        """
        changed = self.book.take(request.notes, request.forget)
        return self.answer(again=changed)


def hunt_form(plan: Plan, network: Network) -> HuntForm:
    """Return what a reading can be of. No state in it has a conductor lifted."""
    return HuntForm(
        quantities=[
            QuantityInfo(
                what=str(quantity),
                about=_ABOUT[quantity],
                units=list(UNITS[quantity]),
                over=quantity in OVER,
                meters=meters_for(quantity),
                wheres=list(_wheres(quantity, plan, network)),
            )
            for quantity in Quantity
        ],
        states=list(_states(plan, network)),
    )


def _wheres(quantity: Quantity, plan: Plan, network: Network) -> Iterator[WhereInfo]:
    if quantity in {Quantity.CURRENT, Quantity.NET_CURRENT}:
        net = quantity is Quantity.NET_CURRENT
        if not net:
            for name in (*(tie.id for tie in plan.ties), *plan.site.metal, *plan.electrodes):
                yield WhereInfo(id=name, of=[])
        for run in plan.runs.values():
            yield WhereInfo(
                id=run.id, of=["all", "wires"] if net else list(_conductors(plan, run.id))
            )
        return
    if quantity is Quantity.EARTH_LOOP:
        for name in (*plan.electrodes, *plan.site.metal):
            yield WhereInfo(id=name, of=[])
        return
    for name, terminals in network.terminals.items():
        of = list(_pairs(quantity, terminals))
        if of:
            yield WhereInfo(id=name, of=of)


def _conductors(plan: Plan, run: str) -> Iterator[str]:
    parts = strands(plan.runs[run])
    yield from dict.fromkeys(p.terminal for p in parts if p.terminal != "G")
    if any(p.terminal == "G" and p.conductor is not None for p in parts):
        yield "EGC"
    if any(p.terminal == "G" and p.conductor is None for p in parts):
        yield "raceway"


def _pairs(quantity: Quantity, terminals: tuple[str, ...] | list[str]) -> Iterator[str]:
    lines = [name for name in terminals if name.startswith("L")]
    has = set(terminals)
    if quantity in {Quantity.VOLTAGE, Quantity.RESISTANCE} and {"N", "G"} <= has:
        yield "N-G"
    if quantity is not Quantity.RESISTANCE:
        for line in lines:
            yield from (f"{line}-{end}" for end in ("N", "G") if end in has)
        for k, line in enumerate(lines):
            yield from (f"{line}-{other}" for other in lines[k + 1 :])
    if "G" in has and quantity in {Quantity.VOLTAGE, Quantity.RESISTANCE}:
        yield "G-earth"


def _states(plan: Plan, network: Network) -> Iterator[Choice]:
    yield Choice(value="loads on", label="as it is, loads on")
    yield Choice(value="no load", label="every load off at its own switch or unplugged")
    for state in plan.states[1:]:
        yield Choice(value=state.id, label=state.id)
    for place in plan.topology.order:
        if f"main {place}" in network.devices and place in plan.topology.supply_side_places:
            yield Choice(value=f"{place} off", label=f"main of {place} switched off")
    yield Choice(value="power off", label="power off, locked out and proved dead")


def add_hunt(app: FastAPI, hunt: FieldHunt) -> None:
    """Add the addresses of the hunt."""

    @app.get("/api/hunt")
    def look() -> HuntAnswer:
        return hunt.answer()

    @app.post("/api/hunt")
    def take(request: NotesRequest) -> HuntAnswer:
        return hunt.take(request)

    @app.post("/api/hunt/ranking")
    def rank() -> HuntAnswer:
        return hunt.answer(again=True)

    @app.delete("/api/hunt/ranking")
    def cancel() -> HuntAnswer:
        hunt.ranker.cancel()
        return hunt.answer()

    @app.get("/api/hunt/form")
    def form() -> HuntForm:
        return hunt_form(hunt.desk.base, hunt.network())

    @app.get("/api/hunt/readings.csv", response_class=Response, responses=file_of("text/csv"))
    def table() -> Response:
        headers = {"content-disposition": 'attachment; filename="readings.csv"'}
        _, bad = sifted(hunt.book.notes, hunt.network())
        text = as_csv(hunt.book.notes, {problem.key for problem in bad})
        return Response(text, media_type="text/csv", headers=headers)
