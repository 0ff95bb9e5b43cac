"""The fuzzer's own parts: its targets read their seeds, its mutator is led by the seed."""

from __future__ import annotations

import os
import random
import subprocess
import sys

import pytest

from scripts import fuzz
from scripts.fuzz_ifc import BROKE_DOWN, ROOT


@pytest.mark.parametrize("name", fuzz.TARGETS)
def test_seeds_are_read_and_broken_ones_refused_properly(name: str) -> None:
    target = fuzz.TARGETS[name]()
    assert target.seeds
    luck = random.Random(name)
    for seed in target.seeds:
        target.try_(seed)
        for _ in range(8):
            target.try_(fuzz.changed(seed, luck, target.seeds))


def test_the_same_seed_changes_alike() -> None:
    text = b"a: 1\nb: 20 A\nc: {d: 3/0 AWG}\n"
    made = [fuzz.changed(text, random.Random(k), (text,)) for k in range(60)]
    assert made == [fuzz.changed(text, random.Random(k), (text,)) for k in range(60)]
    assert len(set(made)) > 40


def test_a_child_that_is_late_large_or_gone_is_found_out() -> None:
    """Each question forks a child, which does what its path says."""
    code = (
        "import os, time; from pathlib import Path; import scripts.fuzz_ifc as it\n"
        "def check(read, path): exec(path.name)\n"
        "it.check = check\n"
        "for what, most in (('os.abort()', 2e3), ('os._exit(0)', 2e3), ('time.sleep(9)', 2e3),\n"
        "                   ('{}[7]', 2e3), ('1', 1), ('1', 2e3)):\n"
        "    print(it._one(Path(what), 0.5, most))"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT / "src"), str(ROOT)])}
    run = [sys.executable, "-c", code]
    done = subprocess.run(run, env=env, text=True, capture_output=True, check=True)
    gone, silent, late, wrong, large, good = done.stdout.split("\n")[:-1]
    assert gone == silent == BROKE_DOWN
    assert late == "not read within 0.5 s"
    assert wrong == "KeyError: 7"
    assert large.endswith(" MiB")
    assert good == ""
