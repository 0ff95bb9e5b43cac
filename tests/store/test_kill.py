from pathlib import Path

from scripts import kill_store
from scripts.postgres_server import running


def test_killed_writers_lose_nothing_they_had_acknowledged(where: str) -> None:
    outcome = kill_store.run(where, times=2, seed=1)
    assert outcome.wrong == ()
    assert outcome.acknowledged > outcome.kills


def test_a_killed_server_loses_nothing_it_had_acknowledged(postgres_programs: Path) -> None:
    with running(postgres_programs) as server:
        outcome = kill_store.run(server.address, times=3, seed=1, server=server)
    assert outcome.wrong == ()
    assert outcome.of_server == 1
    assert outcome.acknowledged > outcome.kills
