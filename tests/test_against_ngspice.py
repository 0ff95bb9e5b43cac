"""The comparison of random sites with ngspice: it compares, and a difference fails it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from scripts import against_ngspice


@pytest.fixture(scope="module")
def compared(ngspice: Path) -> against_ngspice.Compared:
    return against_ngspice.compare(ngspice, 3)


def test_a_site_agrees_with_ngspice(compared: against_ngspice.Compared) -> None:
    assert len(compared.changes) == against_ngspice.CASES
    assert compared.nodes > 10
    assert 0 < compared.worst <= 1
    assert against_ngspice.report([compared])


def test_a_difference_fails_it(compared: against_ngspice.Compared) -> None:
    assert not against_ngspice.report([compared, replace(compared, worst=1.5)])
    assert not against_ngspice.report([compared, replace(compared, worst=float("nan"))])
