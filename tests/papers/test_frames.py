"""Tables as data frames and Parquet: read back by other libraries, nothing lost."""

from __future__ import annotations

import io
import json
import math
from functools import cache
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from bondwright.papers.frames import FORMAT, columns, frame, frames, parquet
from bondwright.papers.results import Results, study
from bondwright.plan.build import plan
from bondwright.site.reader import load
from tests.explain.sites import NASTY, studied

SITE = Path(__file__).parents[2] / "examples" / "harrow-creek.yaml"


@cache
def results(name: str) -> Results:
    return studied(NASTY) if name == "nasty" else study(plan(load(SITE)))


@pytest.mark.parametrize("site", ["farm", "nasty"])
@pytest.mark.parametrize("name", list(columns()))
def test_a_table_comes_back_from_its_file(site: str, name: str) -> None:
    made = frame(results(site), name)
    data = parquet(results(site), name)
    back = pd.read_parquet(io.BytesIO(data))
    assert list(back.columns) == list(columns()[name])
    for column in back.columns:
        before, after = made[column].tolist(), back[column].tolist()
        for one, other in zip(before, after, strict=True):
            assert (bool(pd.isna(one)) and bool(pd.isna(other))) or one == other


def test_the_frames_have_every_fault_and_row() -> None:
    made = results("farm")
    found = frames(made)
    assert len(found["faults"]) == len(made.faults)
    assert len(found["schedule"]) == len(made.plan.schedule)
    assert len(found["available"]) == len(made.available)
    for row, fault in zip(found["faults"].to_dict("records"), made.faults, strict=True):
        assert row["current_a"] == fault.current
        assert row["slowest_never"] == math.isinf(fault.clearing)
        assert bool(pd.isna(row["slowest_s"])) == math.isinf(fault.clearing)


def test_a_file_says_what_its_columns_mean() -> None:
    schema = pq.read_schema(io.BytesIO(parquet(results("farm"), "faults")))
    about = json.loads(schema.metadata[b"bondwright"])
    assert about["format"] == FORMAT
    assert about["table"] == "faults"
    for column, one in columns()["faults"].items():
        assert schema.field(column).metadata[b"about"].decode() == one["about"]


def test_an_unknown_table_is_refused() -> None:
    with pytest.raises(ValueError, match="no table 'x'"):
        frame(results("nasty"), "x")
