"""What strangers send in is looked through before it is taken in: by us, and by a scanner.

The scanner is that of the server's command line; without one, a file is read here alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, MutableMapping
from typing import Any, Final

from starlette.types import ASGIApp, Receive, Scope, Send

from bondwright.exchange.harmless import HarmError, check_file, check_table, check_text, opened
from bondwright.page.icap import ObjectsError, ScanError, Scanner
from bondwright.store.bundle import Bundled
from bondwright.store.files import SITE, digest

KEY: Final = "bondwright.scanner"
"""Under this the scanner stands in the scope of a request."""
BUNDLE: Final = "the bundle"
KINDS: Final[Mapping[type[Exception], int]] = {HarmError: 422, ObjectsError: 422, ScanError: 503}
"""Errors, with their status."""


class Looked:
    """Says which scanner looks through what is sent to what is behind.

    Args:
        app: what is behind.
        scanner: the scanner.
    """

    def __init__(self, app: ASGIApp, scanner: Scanner) -> None:
        self._app, self._scanner = app, scanner

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on."""
        scope[KEY] = self._scanner
        await self._app(scope, receive, send)


def _scan(scope: MutableMapping[str, Any], name: str, data: bytes) -> None:
    found = scope.get(KEY)
    if isinstance(found, Scanner):
        found.look(name, data)


def look_at_site(scope: MutableMapping[str, Any], text: str) -> None:
    """Look through a site file that is to be taken in or saved.

    What it says is read elsewhere, with the place of each mistake.

    Args:
        scope: of the request.
        text: all of it.

    Raises:
        bondwright.exchange.harmless.HarmError: it is no text.
        bondwright.page.icap.ObjectsError: the scanner objects.
        bondwright.page.icap.ScanError: the scanner can't be asked.
    """
    if scope.get(KEY) is not None:
        _scan(scope, SITE, text.encode("utf-8", "replace"))


def look_at_table(scope: MutableMapping[str, Any], name: str, data: bytes) -> None:
    """Look through a table, a workbook or text.

    Args:
        scope: of the request.
        name: as it was told, or "".
        data: all of it.

    Raises:
        bondwright.exchange.harmless.HarmError: it is something else, or holds it.
        bondwright.page.icap.ObjectsError: the scanner objects.
        bondwright.page.icap.ScanError: the scanner can't be asked.
    """
    check_table(name, data)
    _scan(scope, name or "table", data)


def look_at_pasted(scope: MutableMapping[str, Any], text: str) -> None:
    """Look through a table that was pasted.

    Raises:
        bondwright.exchange.harmless.HarmError: it is no text.
        bondwright.page.icap.ObjectsError: the scanner objects.
        bondwright.page.icap.ScanError: the scanner can't be asked.
    """
    check_text("the table", text)
    _scan(scope, "table.txt", text.encode("utf-8", "replace"))


def look_at_bundle(scope: MutableMapping[str, Any], data: bytes, jobs: Iterable[Bundled]) -> None:
    """Look through a bundle of jobs: every file in it under every name that it has there.

    Args:
        scope: of the request.
        data: the bundle.
        jobs: what was read out of it.

    Raises:
        bondwright.exchange.harmless.HarmError: something in it is not what it should be, or
            belongs to no job.
        bondwright.page.icap.ObjectsError: the scanner objects.
        bondwright.page.icap.ScanError: the scanner can't be asked.
    """
    files = {
        (name, digest(content)): content
        for job in jobs
        for held, *_ in job.history
        for name, content in held.items()
    }
    known = {"jobs.json", *(f"contents/{key}" for _, key in files)}
    with opened(BUNDLE, data) as file:
        if stray := next((part for part in file.namelist() if part not in known), None):
            raise HarmError(BUNDLE, f"its part {stray[:80]!r} belongs to no job")
    for (name, _), content in files.items():
        check_file(name, content)
    asked: set[str] = set()
    for (name, key), content in files.items():
        if key not in asked:
            asked.add(key)
            _scan(scope, name, content)
