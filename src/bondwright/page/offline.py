"""What the page needs where there is no signal: its worker, with the version of every file."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Final

from fastapi import FastAPI
from fastapi.responses import FileResponse, Response

STATIC: Final = Path(str(files("bondwright.page").joinpath("static")))
WORKER: Final = STATIC / "worker.js"
_SUFFIXES: Final = (".js", ".css", ".svg")
VERSION_HEADER: Final = "x-bondwright-version"


@cache
def shell(font: Path) -> tuple[str, tuple[str, ...]]:
    """Return the version of the page's own files, and their addresses.

    The version is made from what is in the files: one byte more is another version.

    Args:
        font: the lettering of the picture, which is served with them.
    """
    own = sorted(p for p in STATIC.rglob("*") if p.suffix in _SUFFIXES and p != WORKER)
    told = hashlib.sha256()
    for path in (STATIC / "index.html", WORKER, font, *own):
        told.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    addresses = [f"/static/{path.relative_to(STATIC).as_posix()}" for path in own]
    return told.hexdigest()[:16], ("/", "/font.otf", *addresses)


def worker_script(version: str, addresses: Sequence[str]) -> str:
    """Return the worker's script with the version and the addresses written into it."""
    head = f"const VERSION = {json.dumps(version)};\nconst FILES = {json.dumps(list(addresses))};\n"
    return head + WORKER.read_text(encoding="utf-8")


def add_worker(app: FastAPI, font: Path) -> None:
    """Add the worker's address, and the page's with its version."""
    version, addresses = shell(font)

    @app.get("/worker.js", include_in_schema=False)
    def worker() -> Response:
        return Response(worker_script(version, addresses), media_type="text/javascript")

    @app.get("/", include_in_schema=False)
    def page() -> FileResponse:
        return FileResponse(
            STATIC / "index.html", media_type="text/html", headers={VERSION_HEADER: version}
        )
