"""The pages that are to be followed: every command runs and prints what is shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from scripts import run_docs

DOCS = Path(__file__).parents[1] / "docs"


@pytest.mark.parametrize("name", run_docs.WALKED)
def test_page_does_what_it_shows(name: str) -> None:
    text = (DOCS / name).read_text(encoding="utf-8")
    with run_docs.in_an_empty_folder():
        assert run_docs.run_page(text, name) >= 1


def walk(text: str) -> int:
    with run_docs.in_an_empty_folder():
        return run_docs.run_page(text, "a page")


GOOD = """
```yaml house.yaml
site: A
```
```diff house.yaml
-site: A
+site: B
```
```console
$ cat house.yaml
site: B
$ bondwright quick egc \\
    --breaker "60 A"
10 AWG Cu
...
```
"""


def test_a_page_is_walked() -> None:
    assert walk(GOOD) == 2


@pytest.mark.parametrize(
    ("was", "becomes", "match"),
    [
        ("10 AWG Cu", "8 AWG Cu", "10 AWG Cu"),
        ("...\n```", "```", "table row confirmed"),
        ("-site: A", "-site: C", "0 times in house.yaml"),
        ("cat house.yaml", "rm house.yaml", "isn't run here"),
        ('"60 A"', '"60 ft"', "60 ft"),
    ],
)
def test_a_page_that_is_wrong_fails(was: str, becomes: str, match: str) -> None:
    assert was in GOOD
    with pytest.raises(run_docs.PageError, match=match):
        walk(GOOD.replace(was, becomes))


def test_python_that_fails_fails_the_page() -> None:
    assert walk("```python\nx = 1\n```\n```python\nassert x == 1\n```\n") == 2
    with pytest.raises(run_docs.PageError, match="ZeroDivisionError"):
        walk("```python\n1 / 0\n```\n")
