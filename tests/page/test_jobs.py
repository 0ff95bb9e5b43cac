"""Long work in a process of its own: progress, cancel, failure, and what is kept."""

from __future__ import annotations

import json
import time
from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient

from bondwright.page.app import create_app
from bondwright.page.edits import Edit
from bondwright.page.jobs import AT_ONCE, BusyError, Job, Jobs
from bondwright.page.wire import DefectsResult, StudyResult
from bondwright.page.work import Order, Outcome, do
from bondwright.papers.results import study
from bondwright.site.generator import large_site
from tests.page.serving import farmhouse

OWN = "http://127.0.0.1:8642"
LONG_S = 60.0


def _wait(job: Job, until: Callable[[Job], bool]) -> None:
    end = time.monotonic() + LONG_S
    while not until(job):
        assert time.monotonic() < end, job.answer()
        time.sleep(0.02)


def _nobody(order: Order, outcome: Outcome) -> None:
    del order, outcome


def test_work_tells_how_far_it_is() -> None:
    told: list[tuple[str, int, int]] = []
    order = Order("defects", farmhouse().site, (), "")
    outcome = do(order, lambda what, done, of: told.append((what, done, of)))
    assert isinstance(outcome.result, DefectsResult)
    assert outcome.result.rows[0].rank == "silent and deadly"
    assert told[0] == ("reading the site", 0, 1)
    assert told[-1][1] == told[-1][2]


def test_the_whole_study_is_the_papers_own() -> None:
    desk = farmhouse()
    outcome = do(Order("whole study", desk.site, (), ""), lambda *_: None)
    assert isinstance(outcome.result, StudyResult)
    assert outcome.findings == study(desk.base).findings


def test_changes_are_studied_too() -> None:
    desk = farmhouse()
    edits = (Edit("put on", "pump house panel"),)
    outcome = do(Order("whole study", desk.site, edits, ""), lambda *_: None)
    assert any("pump house panel" in f.where + f.text for f in outcome.findings)
    assert isinstance(outcome.result, StudyResult)
    assert outcome.result.verdict == "falls short"


def test_a_job_runs_to_its_end() -> None:
    ready: list[Outcome] = []
    jobs = Jobs(lambda _, outcome: ready.append(outcome))
    job = jobs.start(Order("defects", farmhouse().site, (), ""))
    _wait(job, lambda one: one.status != "running")
    answer = job.answer()
    assert answer.status == "done", answer.problem
    assert isinstance(answer.result, DefectsResult)
    assert len(ready) == 1
    took = answer.seconds
    time.sleep(0.15)
    assert job.answer().seconds == took


def test_a_cancelled_job_is_over_at_once_and_keeps_nothing() -> None:
    ready: list[Outcome] = []
    jobs = Jobs(lambda _, outcome: ready.append(outcome))
    job = jobs.start(Order("defects", large_site(1500, 0), (), ""))
    began = time.monotonic()
    job.cancel()
    assert job.answer().status == "cancelled"
    _wait(job, lambda one: not one.alive)
    assert time.monotonic() - began < 20
    assert (job.answer().result, ready) == (None, [])
    job.cancel()
    assert job.answer().status == "cancelled"


def test_a_failure_is_told_in_words() -> None:
    job = Jobs(_nobody).start(Order("defects", farmhouse().site, (Edit("take off", "none"),), ""))
    _wait(job, lambda one: one.status != "running")
    answer = job.answer()
    assert answer.status == "failed"
    assert "is no tie of this plan" in answer.problem


def test_only_so_many_run_at_once() -> None:
    jobs = Jobs(_nobody)
    order = Order("defects", large_site(800, 0), (), "")
    for _ in range(AT_ONCE):
        jobs.start(order)
    with pytest.raises(BusyError, match="wait, or cancel one"):
        jobs.start(order)
    jobs.close()
    assert {jobs.get(f"job-{k + 1}").status for k in range(AT_ONCE)} == {"cancelled"}


def test_events_follow_a_job_and_findings_are_kept() -> None:
    desk = farmhouse()
    with TestClient(create_app(desk, 8642), base_url=OWN) as client:
        assert not client.get("/api/findings").json()["whole"]
        started = client.post("/api/jobs", json={"kind": "whole study"}, headers={"origin": OWN})
        name = started.json()["id"]
        with client.stream("GET", f"/api/jobs/{name}/events") as stream:
            lines = [line for line in stream.iter_lines() if line.startswith("data:")]
        told = [json.loads(line.removeprefix("data:")) for line in lines]
        assert told[-1]["status"] == "done"
        assert len({(one["what"], one["done"]) for one in told}) > 1
        found = client.get("/api/findings").json()
        assert found["whole"]
        body = {"action": "put on", "name": "pump house panel", "view": {}}
        client.post("/api/edit", json=body, headers={"origin": OWN})
        assert not client.get("/api/findings").json()["whole"]


def test_events_of_no_job_are_refused_before_the_answer_begins() -> None:
    with TestClient(create_app(farmhouse(), 8642), base_url=OWN) as client:
        answer = client.get("/api/jobs/job-99/events")
    assert answer.status_code == 404
    assert answer.json()["problems"][0]["problem"] == "there is no job 'job-99'"
