"""One text, told in another language.

Explanations are written once, in English. A language is a table of them (``data/languages``):
phrases and sentences with slots, ``"{} flows; the whole loop has {}."``, and how each is said.
What fills a slot is told the same way; numbers, sizes, clauses and a person's own labels stay as
they are.

A sentence that the table lacks stays in English and is remembered in :attr:`Language.lacking`: a
report that is told in part says so, and none is told by guess.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache, partial
from importlib.resources import files
from typing import Any, Final

from bondwright.catalog._data import load_yaml
from bondwright.rules.checklist import items
from bondwright.site.model import Site

ENGLISH: Final = "en"
LANGUAGES: Final[Mapping[str, str]] = {ENGLISH: "English", "es": "español"}
"""Every language by its tag (BCP 47), with its own name."""

_A_SENTENCE: Final = 3
"""Spaces in a line of a drawing that is told as a sentence is."""

_COMMA: Final = re.compile(r", (?![^(]*\))")
"""Between members of a list, not within brackets."""
_LETTERS: Final = re.compile(r"[^·:\s](?:[^·:]*[^·:\s])?")
"""Pieces of lettering between its dots and colons."""

KEPT: Final = frozenset({"kind", "mark", "id", "file", "font", "paper", "number", "code"})
"""Keys of a report whose values are no words for people."""

_SLOT: Final = "{}"
_AMPERES: Final = re.compile(r" A(?: |$)")
_NUMBER: Final = r"([\d.,]+)"
_BLANK: Final = re.compile(r"\{(\w+)\}")
_MARK: Final = re.compile("\x01\\d+\x02")
_SENTENCE: Final = re.compile("(?<=[.?!])\\s+(?=[A-Z'\"(\\d\x01])")
_UNIT = (
    r"(?:± [\d.]+ )?(?:m|k|M|µ|n)?(?:A|V|W|VA|ohm|F|s|m|Hz)|%|degC|min|h|ft|in|mm|mm2|cmil|kcmil|"
    r"ohm m|cycles|(?:AWG|kcmil|mm2)(?: Cu| Al)?"
)
_PLAIN: Final = re.compile(
    rf"(?:[–-]|[<>≤≥]?\s?-?\d[\d.,/]*(?:\s?x\s?\d[\d.,/]*)*\s?(?:{_UNIT})?|[LHNG]\d?|"
    r"\d[\d.]*\.\d[\w().,-]*|(?:NEC|NFPA|IEC|IEEE|BS|UL|ICEA)\b(?!.* and )[\w /.()-]*|"
    r"(?:NEC \d{4} )?\d{2,3}\.\d+(?:\([A-Za-z0-9]+\))*(?:, \d{2,3}\.\d+(?:\([A-Za-z0-9]+\))*)*|"
    r"[+-]\d[\d.]* ?%|\d{4}-\d\d-\d\d|[A-Z]{1,5}\d{0,3}|Al|Cu|\d+(?:Y?/\d+)? V|[0-9a-f]{12}|"
    r"[\w.-]+\.ya?ml|bondwright [\d.]+)",
)
"""What every language writes alike: quantities, terminals, clauses, abbreviations."""


@dataclass(frozen=True, slots=True)
class _Template:
    pattern: re.Pattern[str]
    clue: str
    said: str
    weight: int

    @classmethod
    def of(cls, written: str, said: str) -> _Template:
        pieces = written.split(_SLOT)
        # What stands before an ampere is a number, and no words that end with one.
        slots = [_NUMBER if _AMPERES.match(piece) else "(.+?)" for piece in pieces[1:]]
        told = (f"{slot}{re.escape(piece)}" for slot, piece in zip(slots, pieces[1:], strict=True))
        pattern = re.compile(re.escape(pieces[0]) + "".join(told), re.DOTALL)
        return cls(pattern, max(pieces, key=len), said, sum(len(piece) for piece in pieces))


@dataclass(frozen=True, slots=True)
class _Table:
    whole: Mapping[str, str]
    templates: tuple[_Template, ...]
    joined: str
    lettering: Mapping[str, str]


@cache
def _table(language: str) -> _Table:
    raw = _read(language)
    whole: dict[str, str] = {}
    templates = []
    for written, said in texts_of(language).items():
        if _SLOT in written:
            templates.append(_Template.of(written, said))
        else:
            whole[written] = said
    templates.sort(key=lambda one: -one.weight)
    return _Table(whole, tuple(templates), raw["and"], raw["lettering"])


def texts_of(language: str) -> Mapping[str, str]:
    """Return the table of a language: what is written in English, and how it is said."""
    return {**dict(_checklist(language)), **_read(language)["texts"]}


def _read(name: str) -> dict[str, Any]:
    folder = files("bondwright.explain").joinpath("data", "languages")
    raw: dict[str, Any] = load_yaml(folder.joinpath(f"{name}.yaml").read_text("utf-8"))
    return raw


def _checklist(language: str) -> Iterator[tuple[str, str]]:
    """Yield the lines of the inspection checklist, blanks turned into slots."""
    lines = _read(f"{language}-checklist")
    for name, item in items().items():
        said = lines[name]
        for written, told in (
            (item.title, said["title"]),
            (item.look, said["look"]),
            (item.right, said["right"]),
        ):
            slots: dict[str, list[int]] = {}
            for k, blank in enumerate(_BLANK.findall(written), start=1):
                slots.setdefault(blank, []).append(k)
            yield _BLANK.sub(_SLOT, written), _BLANK.sub(partial(_numbered, slots), told)


def _numbered(slots: Mapping[str, list[int]], blank: re.Match[str]) -> str:
    left = slots[blank[1]]
    return f"{{{left.pop(0) if len(left) > 1 else left[0]}}}"


class UnknownLanguageError(ValueError):
    """A language that isn't held. Its text names those that are."""

    def __init__(self, language: str) -> None:
        known = ", ".join(f"{tag} ({name})" for tag, name in LANGUAGES.items())
        super().__init__(f"no language {language!r} is known; known are {known}")


def labels_of(site: Site) -> frozenset[str]:
    """Return what a person wrote into a site in words of their own.

    That is labels, and where and with what the earth was tested.
    """
    groups: tuple[Iterable[str], ...] = (
        site.sources, site.generators, site.inverters, site.transformers, site.transfers,
        site.places, site.runs, site.electrodes, site.metal, site.arrays, site.areas,
        site.direct_current,
        site.ties or {}, site.states, site.earth_tests,
    )  # fmt: skip
    own = {label for group in groups for label in group}
    own |= {place.building for place in site.places.values() if place.building}
    tested = {text for one in site.earth_tests.values() for text in (one.where, one.instrument)}
    return frozenset({*own, *tested, site.site} - {""})


class Language:
    """Tells texts in another language.

    Args:
        language: its tag, such as "es".
        labels: what a person named; never told.

    Attributes:
        tag: its tag.
        lacking: texts that the table has no words for, in the order met.

    Raises:
        UnknownLanguageError: no such language.
    """

    def __init__(self, language: str, labels: Iterable[str] = ()) -> None:
        if language not in LANGUAGES:
            raise UnknownLanguageError(language)
        self.tag = language
        self.lacking: dict[str, None] = {}
        self._table = None if language == ENGLISH else _table(language)
        self._labels = frozenset(labels)
        self._marks = {label: f"\x01{k}\x02" for k, label in enumerate(sorted(self._labels))}
        longest = sorted(self._labels, key=len, reverse=True)
        words = "|".join(re.escape(label) for label in longest)
        self._label = re.compile(rf"(?<!\w)(?:{words})(?!\w)") if words else None
        self._said: dict[str, str | None] = {}
        self._asked: set[str] = set()

    @property
    def met(self) -> int:
        """How many different texts it was asked for."""
        return len(self._asked)

    def fresh(self) -> Language:
        """Return the same language without what it was asked for and lacked."""
        return Language(self.tag, self._labels)

    def __call__(self, text: str) -> str:
        """Return a text in this language; what the table lacks stays as it is."""
        if self._table is None or not text.strip():
            return text
        self._asked.add(text)
        whole = self._tell(text)
        if whole is None and self._label is not None:
            # A label may have words of a sentence in it ("feeder to the barn"): set it aside.
            marked = self._label.sub(lambda found: self._marks[found[0]], text)
            whole = self._tell(marked) if marked != text else None
            if whole is not None:
                for label, mark in self._marks.items():
                    whole = whole.replace(mark, label)
        if whole is not None:
            return whole
        parts = _SENTENCE.split(text)
        if len(parts) == 1:
            self.lacking[text] = None
            return text
        return " ".join(self(part) for part in parts)

    def where_known(self, text: str) -> str:
        """Return a text told if all of it can be, and else as it is: it may be a person's own."""
        if self._table is None or not text.strip():
            return text
        return self._slot(text) or text

    def lettering(self, text: str) -> str:
        """Return the lettering of a drawing in this language, word for word and as short.

        What the table has no words for stays: drawings are mostly labels, sizes and currents.
        """
        if self._table is None:
            return text
        said = _LETTERS.sub(self._word, text)
        if said == text and text.count(" ") >= _A_SENTENCE:
            said = self._tell(text) or text
        return said

    def _word(self, found: re.Match[str]) -> str:
        word = found[0]
        if self._table is None or word in self._labels:
            return word
        return self._table.lettering.get(word) or self._tell(word) or word

    def pointed(self, text: str) -> str:
        """Return what shows on pointing at a part of a drawing: a sentence, or lettering."""
        if self._table is None or not text.strip():
            return text
        whole = self._slot(text)
        return whole or "; ".join(self.lettering(part) for part in text.split("; "))

    def told(self, value: Any) -> Any:
        """Return plain data with every text in it told, but for values under :data:`KEPT`."""
        match value:
            case str():
                return self(value)
            case list() | tuple():
                return [self.told(one) for one in value]
            case dict():
                return {key: one if key in KEPT else self.told(one) for key, one in value.items()}
        return value

    # --- one text ----------------------------------------------------------------------------

    def _tell(self, text: str) -> str | None:
        if text not in self._said:
            self._said[text] = None  # a text that leads back to itself has no words
            self._said[text] = self._find(text)
        return self._said[text]

    def _find(self, text: str) -> str | None:
        if text in self._labels or _MARK.fullmatch(text) or _PLAIN.fullmatch(text):
            return text
        found = self._held(text)
        if found is None and text[:1].isupper():
            found = self._held(text[:1].lower() + text[1:])
            if found is not None:
                found = found[:1].upper() + found[1:]
        if found is None and text[:1].islower() and self._table is not None:
            found = self._held(text[:1].upper() + text[1:])
            if found is not None:
                found = found[:1].lower() + found[1:]
        if found is None and text[-1:] in ".,;:" and len(text) > 1:
            stem = self._tell(text[:-1])
            found = None if stem is None else stem + text[-1]
        if found is None and len(text) > 1 and text[0] == text[-1] == "'":
            inner = text[1:-1]
            return text if inner in self._labels or _MARK.fullmatch(inner) else None
        return self._list(text) if found is None else found

    def _held(self, text: str) -> str | None:
        table = self._table
        if table is None:
            return text
        if text in table.whole:
            return table.whole[text]
        for template in table.templates:
            if template.clue not in text:
                continue
            match = template.pattern.fullmatch(text)
            if match is None:
                continue
            filled = [self._slot(piece) for piece in match.groups()]
            if all(piece is not None for piece in filled):
                return template.said.format("", *filled)
        return None

    def _slot(self, text: str) -> str | None:
        told = self._tell(text)
        if told is not None:
            return told
        parts = _SENTENCE.split(text)
        if len(parts) == 1:
            return None
        pieces = [self._tell(part) for part in parts]
        return " ".join(p for p in pieces if p is not None) if None not in pieces else None

    def _list(self, text: str) -> str | None:
        table = self._table
        if table is None:
            return None
        for parts, glue in _splits(text):
            pieces = [self._tell(part) for part in parts]
            if None not in pieces:
                known = [piece for piece in pieces if piece is not None]
                if glue == " and ":
                    last = known.pop()
                    return f"{', '.join(known)} {table.joined} {last}"
                return glue.join(known)
        return None


_SPOKEN: ContextVar[Language | None] = ContextVar("language", default=None)


@contextmanager
def speaking(language: Language) -> Iterator[Language]:
    """Have papers that are made meanwhile told in a language.

    Args:
        language: which; it remembers what it had no words for.
    """
    token = _SPOKEN.set(language)
    try:
        yield language
    finally:
        _SPOKEN.reset(token)


def spoken_or_none() -> Language | None:
    """Return the language asked for, None for English: what has to be quick asks this."""
    language = _SPOKEN.get()
    return None if language is None or language.tag == ENGLISH else language


def spoken() -> Language:
    """Return the language that papers are told in now: English unless another was asked for."""
    return _SPOKEN.get() or Language(ENGLISH)


def _splits(text: str) -> Iterator[tuple[list[str], str]]:
    """Yield the ways a text may be a list, with what joins its members."""
    if " and " in text:
        for match in re.finditer(" and ", text):
            head, last = text[: match.start()], text[match.end() :]
            yield [*_COMMA.split(head), last], " and "
            yield [head, last], " and "
    for glue in ("; ", ", ", " – ", " → "):
        if glue in text:
            yield text.split(glue), glue
