"""The command that opens the page."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest
from click.testing import CliRunner

from bondwright.cli import main
from bondwright.page.listen import Address, check_policy
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user
from tests.page.serving import FARMHOUSE, ROOT


def test_it_serves_and_ends_at_the_keyboard() -> None:
    before = FARMHOUSE.read_bytes()
    command = [sys.executable, "-m", "bondwright", "serve", str(FARMHOUSE), "--port", "0"]
    env = {**os.environ, "PYTHONUNBUFFERED": "1", "PYTHONPATH": str(ROOT / "src")}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env
    ) as server:
        assert server.stdout is not None
        try:
            line = server.stdout.readline()
            assert line.startswith(
                "Harrow Creek Cidery, farmhouse and pump house: http://127.0.0.1:"
            )
            address = line.rpartition(" ")[2].strip()
            with urllib.request.urlopen(address) as answer:
                assert b"bondwright" in answer.read()
        finally:
            server.send_signal(signal.SIGINT)
        assert server.wait(60) == 0
    assert FARMHOUSE.read_bytes() == before


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.4", "example.org"])
def test_another_address_is_refused_before_anything_is_read(host: str, tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["serve", str(tmp_path / "none.yaml"), "--host", host])
    assert result.exit_code == 2
    assert "could read and change" in result.output
    assert not (tmp_path / "none.yaml").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "name a site file, or --jobs"),
        (["x.yaml", "--jobs", "y.sqlite"], "name a site file, or --jobs"),
        (["x.yaml", "--public", "https://x.example"], "go with --jobs"),
        (["x.yaml", "--users"], "go with --jobs"),
        (["x.yaml", "--policy", __file__], "go with --jobs"),
        (["--jobs", "STORE", "--users"], "without a user who has a password"),
        (["--jobs", "STORE", "--host", "0.0.0.0"], "reads the passwords"),
        (["--jobs", "STORE", "--host", "0.0.0.0", "--plain"], "without a user who has a password"),
        (["x.yaml", "--plain"], "go with --jobs"),
        (["--jobs", "STORE", "--public", "https://x.example"], "without a user"),
        (["--jobs", "STORE", "--public", "x.example"], "write it like"),
        (["--jobs", "STORE", "--rules", "nec-2020"], "a job names its own"),
        (["--jobs", "mysql://x/y"], "can't be kept in 'mysql'"),
    ],
)
def test_what_does_not_go_together_is_told(tmp_path: Path, words: list[str], told: str) -> None:
    asked = [str(tmp_path / "jobs.sqlite") if word == "STORE" else word for word in words]
    result = CliRunner().invoke(main, ["serve", *asked])
    assert result.exit_code == 2
    assert told in " ".join(result.output.split())


def test_others_are_served_only_with_who_answers_for_what_is_kept(tmp_path: Path) -> None:
    where = str(tmp_path / "jobs.sqlite")
    with Store(where) as store:
        add_user(store, "anna", Role.KEEP, "four words are enough")
    asked = ["serve", "--jobs", where, "--host", "0.0.0.0", "--plain", "--port", "0"]
    result = CliRunner().invoke(main, asked)
    assert result.exit_code == 2
    assert "who answers for what is kept of them" in " ".join(result.output.split())
    bad = tmp_path / "policy.yaml"
    bad.write_text("answers: Anna\n", encoding="utf-8")
    result = CliRunner().invoke(main, [*asked, "--policy", str(bad)])
    assert result.exit_code == 2
    assert "has to say" in " ".join(result.output.split())
    check_policy(Address("0.0.0.0"), given=True)
    check_policy(Address(), given=False)  # only this machine reaches it


def test_a_certificate_that_is_none_is_told(tmp_path: Path) -> None:
    path = tmp_path / "c.pem"
    path.write_text("no certificate", encoding="utf-8")
    store = str(tmp_path / "j.sqlite")
    asked = ["serve", "--jobs", store, "--certificate", str(path), "--port", "0"]
    result = CliRunner().invoke(main, asked)
    assert result.exit_code == 2
    assert "certificate can't be used" in " ".join(result.output.split())


def test_a_bad_file_is_told_as_everywhere(tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text("site: x\nrules: nec-1897\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["serve", str(path), "--port", "0"])
    assert result.exit_code == 2
    assert "nec-1897" in result.output
