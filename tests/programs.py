"""Programs outside the project that tests compare with."""

import os
import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest


def require_program(*names: str, package: str = "", env: Mapping[str, str] = os.environ) -> Path:
    """The path of the first of these names that is on PATH.

    Where there is none, the asking test is skipped; it fails when CI=true, since a comparison
    that never ran must not look like one that passed.
    """
    for name in names:
        found = shutil.which(name, path=env.get("PATH", ""))
        if found is not None:
            return Path(found)
    reason = (
        f"{names[0].upper()} IS NOT INSTALLED, so this compares nothing: "
        f"install it (Debian, Ubuntu: sudo apt-get install {package or names[0]})"
    )
    if env.get("CI", "").lower() in {"true", "1"}:
        pytest.fail(reason, pytrace=False)
    pytest.skip(reason)
