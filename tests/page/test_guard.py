"""Who may ask: the page itself, by this machine's own names."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from bondwright.page.app import create_app
from bondwright.page.guard import MOST_BYTES, POLICY
from bondwright.page.listen import (
    Address,
    ListenError,
    check_local,
    check_public,
    check_users,
)
from tests.page.serving import farmhouse

OWN = "http://127.0.0.1:8642"


@pytest.fixture(scope="module")
def client() -> Iterator[TestClient]:
    with TestClient(create_app(farmhouse(), 8642), base_url=OWN) as found:
        yield found


@pytest.mark.parametrize("host", ["127.0.0.1:8642", "localhost:8642", "[::1]:8642"])
def test_own_names_are_answered(client: TestClient, host: str) -> None:
    assert client.get("/api/site", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host", ["example.org", "127.0.0.1", "127.0.0.1:80", "localhost:8642.example.org", ""]
)
def test_another_name_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/api/site", headers={"host": host})
    assert answer.status_code == 421
    assert answer.json()["format"] == "bondwright/problems"
    assert "Harrow" not in answer.text


@pytest.mark.parametrize(
    "origin",
    [None, "http://example.org", "null", "https://127.0.0.1:8642", "http://localhost:8642"],
)
def test_a_change_from_elsewhere_is_refused(client: TestClient, origin: str | None) -> None:
    headers = {} if origin is None else {"origin": origin}
    asked = {"action": "start over", "view": {}}
    answer = client.post("/api/edit", json=asked, headers=headers)
    assert answer.status_code == 403
    assert client.post("/api/edit", json=asked, headers={"origin": OWN}).status_code == 200


def test_a_job_is_cancelled_by_the_page_only(client: TestClient) -> None:
    assert client.delete("/api/jobs/job-1").status_code == 403
    assert client.delete("/api/jobs/job-1", headers={"origin": OWN}).status_code == 404


def test_too_much_is_not_read(client: TestClient) -> None:
    answer = client.post("/api/view", content=b" " * (MOST_BYTES + 1), headers={"origin": OWN})
    assert answer.status_code == 413


@pytest.mark.parametrize("path", ["/", "/api/site", "/static/js/main.js", "/nothing"])
def test_every_answer_carries_the_policy(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    assert headers["content-security-policy"] == POLICY
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cross-origin-resource-policy"] == "same-origin"


def test_the_policy_allows_own_files_and_nothing_else() -> None:
    allowed = dict(part.split(" ", 1) for part in POLICY.split("; "))
    assert allowed["default-src"] == "'none'"
    assert set(allowed.values()) == {"'none'", "'self'"}
    assert "unsafe" not in POLICY


def test_files_beside_the_page_are_not_given(client: TestClient) -> None:
    for path in ("/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py"):
        assert client.get(path).status_code == 404


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.3.2.1"])
def test_this_machine_is_listened_on(host: str) -> None:
    check_local(Address(host))
    assert not check_users(Address(host), 0, wanted=False)


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.4", "example.org", ""])
def test_a_file_is_never_served_to_others(host: str) -> None:
    with pytest.raises(ListenError, match="could read and change"):
        check_local(Address(host))


def test_a_proxy_before_it_means_others() -> None:
    address = Address(public="https://jobs.example")
    with pytest.raises(ListenError):
        check_local(address)
    with pytest.raises(ListenError):
        check_users(address, 0, wanted=False)
    assert check_users(address, 1, wanted=False)


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.4", "example.org"])
def test_jobs_are_not_served_to_others_before_there_is_a_user(host: str) -> None:
    with pytest.raises(ListenError, match="without a user who has a password"):
        check_users(Address(host), 0, wanted=False)
    assert check_users(Address(host), 1, wanted=False)


def test_logging_in_is_off_on_this_machine_unless_asked_for() -> None:
    assert not check_users(Address(), 3, wanted=False)
    assert check_users(Address(), 3, wanted=True)
    with pytest.raises(ListenError):
        check_users(Address(), 0, wanted=True)


@pytest.mark.parametrize("text", ["jobs.example", "ftp://x", "https://", "https://x/path"])
def test_a_proxy_has_an_address_of_its_own(text: str) -> None:
    with pytest.raises(ListenError, match="write it like"):
        check_public(text)


@pytest.mark.parametrize(
    ("address", "host", "origin"),
    [
        (Address(), "127.0.0.1:8642", "http://127.0.0.1:8642"),
        (Address(), "192.168.1.4:8642", None),
        (Address("192.168.1.4"), "192.168.1.4:8642", "http://192.168.1.4:8642"),
        (Address("192.168.1.4"), "192.168.1.5:8642", None),
        (Address("0.0.0.0"), "192.168.1.4:8642", "http://192.168.1.4:8642"),
        (Address("0.0.0.0"), "192.168.1.4:80", None),
        (Address("0.0.0.0"), "evil.example:8642", None),
        (Address("::"), "[fe80::1]:8642", "http://[fe80::1]:8642"),
        (Address(public="https://jobs.example"), "jobs.example", "https://jobs.example"),
        (Address(public="https://jobs.example"), "evil.example", None),
        (Address(certificate=Path("c.pem")), "localhost:8642", "https://localhost:8642"),
        (Address("box", 443, certificate=Path("c.pem")), "box", "https://box"),
    ],
)
def test_only_its_own_names_are_answered(address: Address, host: str, origin: str | None) -> None:
    assert address.names(address.port).origin(host) == origin
