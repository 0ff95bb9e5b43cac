from scripts import kill_store


def test_a_killed_writer_loses_nothing_it_had_acknowledged(where: str) -> None:
    outcome = kill_store.run(where, times=4, seed=1)
    assert outcome.wrong == ()
    assert outcome.acknowledged > outcome.kills
