"""Fails unless CHANGELOG.md has a section for the package's version, with something in it."""

import re
import sys
from pathlib import Path

from bondwright import __version__


def section_of(version: str, changelog: str) -> str | None:
    """The text under the heading of a version, or None where there is no such heading."""
    heading = re.compile(
        rf"^## \[{re.escape(version)}\] - (?:Unreleased|\d{{4}}-\d\d-\d\d)$", re.MULTILINE
    )
    found = heading.search(changelog)
    if found is None:
        return None
    return re.split(r"^## ", changelog[found.end() :], maxsplit=1, flags=re.MULTILINE)[0].strip()


def main() -> int:
    """Check the changelog that lies beside this folder; the exit code."""
    path = Path(__file__).parents[1] / "CHANGELOG.md"
    section = section_of(__version__, path.read_text(encoding="utf-8"))
    if section is None:
        print(
            f"CHANGELOG.md has no heading '## [{__version__}] - <date or Unreleased>'",
            file=sys.stderr,
        )
        return 1
    if not section:
        print(f"CHANGELOG.md says nothing about {__version__}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
