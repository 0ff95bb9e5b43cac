"""Write docs/coverage.md from the clauses, the rules and the inspection checklist.

Run it without arguments to renew the page, with ``--check`` to learn whether it is stale (exit
code 1).
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from bondwright.catalog.parameters import EDITIONS
from bondwright.rules.checklist import ChecklistItem, items
from bondwright.rules.coverage import MEANING, Clause, Handling, clauses, counts
from bondwright.rules.editions import catalogue

PAGE: Final = Path(__file__).resolve().parents[1] / "docs" / "coverage.md"

INTRO: Final = """\
# Clause by clause

Every section of NFPA 70 (NEC) article 250 with its first subdivisions, and the sections of other
articles that the tool touches: how each is handled in the 2017, 2020 and 2023 editions. Titles are
our own words. The adopted code, its local amendments and the authority having jurisdiction go
before anything here; a clause that is "computed" here still needs a person who has read it.

`python scripts/make_coverage.py` writes this page; don't edit it.
"""

ASKED_TEXT: Final = """\
The inspection checklist holds what only eyes, hands, a record or a maker's sheet can tell. Which
lines a site needs, where, and with which sizes, follows from its plan: blanks such as `{size}` are
filled in. Cautions come before the line and are to be read first. None of it is to be done on live
parts.
"""


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(" ".join(c.split()) for c in line) + " |" for line in lines)


def _by_edition(texts: dict[int, str]) -> str:
    """Write a text that may differ by edition: once, or each with its years."""
    groups: dict[str, list[int]] = {}
    for year in EDITIONS:
        groups.setdefault(texts.get(year, "none"), []).append(year)
    if len(groups) == 1:
        return next(iter(groups))
    parts = [f"{text} ({', '.join(map(str, years))})" for text, years in groups.items()]
    return "; ".join(parts)


def _number(clause: Clause) -> str:
    return _by_edition(dict(clause.numbers))


def _ways(clause: Clause) -> str:
    ways = {year: ", ".join(one.value for one in how) for year, how in clause.handling.items()}
    return next(iter(ways.values())) if len(set(ways.values())) == 1 else _by_edition(ways)


def _links(ids: Sequence[str]) -> str:
    return ", ".join(f"[{id}](#{id})" for id in ids)


def _counts() -> str:
    head = ("Handled", *(f"NEC {year}" for year in EDITIONS), "Meaning")
    by_year = [counts(f"nec-{year}") for year in EDITIONS]
    rows = [(way.value, *(str(one[way]) for one in by_year), MEANING[way]) for way in Handling]
    total = ("all clauses", *(str(sum(one.values())) for one in by_year), "by the main way of each")
    return table(head, [*rows, total])


def _not_yet() -> str:
    rows = [
        (_number(one), one.title, one.note)
        for one in clauses()
        if any(Handling.NOT_YET in how for how in one.handling.values())
    ]
    if not rows:
        return (
            "Nothing as a whole. What a rule or a line leaves out of its clause stands in the "
            "notes below, and the exceptions of each clause are for the person who reads it."
        )
    return f"In full or in part:\n\n{table(('Clause', 'About', 'Note'), rows)}"


def _parts() -> Iterator[str]:
    names = dict.fromkeys(one.part for one in clauses())
    for name in names:
        rows = [
            (
                _number(one),
                one.title,
                _ways(one),
                _links(one.rules),
                _links(one.look),
                one.status.value,
                one.note,
            )
            for one in clauses()
            if one.part == name
        ]
        head = ("Clause", "About", "Handled", "Rules", "Checklist", "Number is", "Note")
        yield f"## {name}\n\n{table(head, rows)}\n"


def _rules() -> Iterator[str]:
    for id, rule in catalogue().items():
        handled = [_number(one) for one in clauses() if id in one.rules]
        yield (
            f"### {id}\n\n{rule.title[:1].upper()}{rule.title[1:]}. Status: {rule.status.value}. "
            f"Handles {', '.join(handled)}.\n"
        )


def _facts(item: ChecklistItem) -> str:
    wanted = [" or ".join(sorted(any_of)) for any_of in item.needs]
    wanted += [f"not {fact}" for fact in sorted(item.unless)]
    return f"{item.about}" + (f" ({', '.join(wanted)})" if wanted else "")


def _checklist() -> Iterator[str]:
    for id, item in items().items():
        number = _by_edition(dict(item.clauses))
        look, right = (re.sub(r"\{(\w+)\}", r"`{\1}`", text) for text in (item.look, item.right))
        first = " ".join(text.partition(". ")[0].rstrip(".") + "." for text in item.care)
        care = f"- First: {first}\n" if first else ""
        yield (
            f"### {id}\n\n**{item.title[:1].upper()}{item.title[1:]}.** NEC {number} "
            f"({item.status.value}). About: {_facts(item)}. When: {item.stage}. Decides: "
            f"{item.decides}.\n\n{care}- Look: {look}\n- Right: {right}\n- Why: {item.why}\n"
        )


def page() -> str:
    """Return the page as it should be."""
    cautions = dict.fromkeys(text for item in items().values() for text in item.care)
    parts = [
        INTRO,
        f"## How much\n\n{_counts()}\n",
        f"## Not yet\n\n{_not_yet()}\n",
        *_parts(),
        "## The rules\n",
        *_rules(),
        f"## The inspection checklist\n\n{ASKED_TEXT}",
        "The cautions:\n\n" + "\n".join(f"- {text}" for text in cautions) + "\n",
        *_checklist(),
    ]
    return "\n".join(parts)


def main(arguments: Sequence[str]) -> int:
    """Renew the page, or with ``--check`` say whether it is stale."""
    check = "--check" in arguments
    new = page()
    old = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
    if new == old:
        return 0
    if not check:
        PAGE.write_text(new, encoding="utf-8")
    print(f"{'stale' if check else 'wrote'}: docs/{PAGE.name}")
    return 1 if check else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
