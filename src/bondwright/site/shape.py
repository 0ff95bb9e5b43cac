"""What may stand where in a site file, read off the models: keys, words, examples.

The reader and the schema speak about a file in these terms, so that a field added to
:mod:`bondwright.site.model` is known to both at once.
"""

from __future__ import annotations

import types
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

from pydantic import BaseModel

from bondwright.site.fields import FieldText
from bondwright.site.model import Site

Kind = Literal["group", "table", "list", "words", "text", "number", "whole", "flag", "value"]


@dataclass(frozen=True, slots=True)
class Shape:
    """What may stand at one spot.

    Attributes:
        kind: a group has set keys, a table has ids for keys; a value is text with a grammar.
        fields: the keys of a group as written in a file, in order.
        names: Python's name of each key that is written otherwise.
        required: keys that a group can't do without.
        item: what the entries of a table or list are.
        words: the words allowed, where it is one of a few.
        example: a value written well.
        model: the model behind a group.
    """

    kind: Kind
    fields: Mapping[str, Shape] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    required: tuple[str, ...] = ()
    item: Shape | None = None
    words: tuple[str, ...] = ()
    example: str = ""
    model: type[BaseModel] | None = None

    def sample(self) -> str:
        """Return a shortest entry, for a hint."""
        if self.kind == "group":
            needed = self.required or tuple(self.fields)[:1]
            inside = ", ".join(f"{key}: {self.fields[key].sample()}" for key in needed)
            return f"{{{inside}}}"
        if self.kind == "list" and self.item is not None:
            return f"[{self.item.sample()}]"
        if self.kind == "table" and self.item is not None:
            return f"{{name: {self.item.sample()}}}"
        return self.example or (self.words[0] if self.words else "...")


_EXAMPLES = {"number": "0.9", "whole": "2", "flag": "true", "text": "..."}
_SIMPLE: dict[Any, Kind] = {str: "text", float: "number", int: "whole", bool: "flag"}


def _of(annotation: Any, metadata: Iterable[Any] = ()) -> Shape:
    for extra in metadata:
        if isinstance(extra, FieldText):
            return Shape("value", example=str(extra.schema["examples"][0]))
    origin = get_origin(annotation)
    if origin is Annotated:
        inner, *extras = get_args(annotation)
        return _of(inner, extras)
    if origin in (Union, types.UnionType):
        (inner,) = (part for part in get_args(annotation) if part is not type(None))
        return _of(inner)
    if origin is dict:
        return Shape("table", item=_of(get_args(annotation)[1]))
    if origin is list:
        return Shape("list", item=_of(get_args(annotation)[0]))
    if origin is Literal:
        return Shape("words", words=tuple(str(word) for word in get_args(annotation)))
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return _group(annotation)
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        return Shape("words", words=tuple(str(word.value) for word in annotation))
    kind = _SIMPLE[annotation]
    return Shape(kind, example=_EXAMPLES[kind])


def _group(model: type[BaseModel]) -> Shape:
    fields: dict[str, Shape] = {}
    names: dict[str, str] = {}
    for name, info in model.model_fields.items():
        key = info.alias or name
        fields[key] = _of(info.annotation, info.metadata)
        if key != name:
            names[name] = key
    required = tuple(
        info.alias or name for name, info in model.model_fields.items() if info.is_required()
    )
    return Shape("group", fields=fields, names=names, required=required, model=model)


@cache
def site_shape() -> Shape:
    """Return the shape of a whole site file."""
    return _group(Site)


def shape_at(loc: tuple[str | int, ...]) -> Shape | None:
    """Return the shape at a path, or None where nothing may stand."""
    here: Shape | None = site_shape()
    for step in loc:
        if here is None:
            return None
        here = here.fields.get(str(step)) if here.kind == "group" else here.item
    return here


def nearest(word: str, choices: Iterable[str], cutoff: float = 60.0) -> tuple[str, ...]:
    """Return the choices spelt most like a word: none, one, or a few that are equally like it."""
    from rapidfuzz import fuzz, process  # only a wrong spelling needs it

    by_fold: dict[str, str] = {}
    for choice in choices:
        by_fold.setdefault(choice.casefold(), choice)
    folded = word.casefold().strip()
    found = process.extract(folded, by_fold.keys(), scorer=fuzz.ratio, score_cutoff=cutoff, limit=3)
    return tuple(by_fold[name] for name, score, _ in found if score == found[0][1])


def did_you_mean(names: Iterable[str]) -> str:
    """Return a question that offers names."""
    return f"did you mean {' or '.join(repr(name) for name in names)}?"


# Words of the trade that a person may write for the key that is meant.
_MEANT: Final[Mapping[str, tuple[str, ...]]] = {
    "breaker": ("device", "main"),
    "fuse": ("device", "main"),
    "ocpd": ("device", "main"),
    "conductors": ("lines",),
    "phases": ("lines",),
    "ungrounded": ("lines",),
    "wire": ("lines", "conductor"),
    "size": ("lines", "conductor", "rating"),
    "grounded": ("neutral",),
    "ground": ("egc",),
    "equipment grounding conductor": ("egc",),
    "cpc": ("pe",),
    "protective conductor": ("pe",),
    "earthing arrangement": ("earthing",),
    "means": ("means of earthing",),
    "conduit": ("raceway",),
    "pipe": ("raceway",),
    "gec": ("conductor",),
    "grounding electrode conductor": ("conductor",),
    "voltage": ("system", "secondary"),
    "volts": ("system", "secondary"),
    "type": ("kind",),
    "name": ("site",),
    "title": ("site",),
    "fed from": ("from",),
    "feeds": ("to",),
    "kva": ("rating",),
    "z": ("impedance",),
    "power factor": ("pf",),
    "distance": ("length",),
    "panels": ("places",),
    "feeders": ("runs",),
    "circuits": ("runs",),
    "bonds": ("ties",),
    "jumpers": ("ties",),
}


def meant_keys(key: str, shape: Shape) -> tuple[str, ...]:
    """Return the keys of a group that a wrong one may stand for."""
    if key in shape.names:
        return (shape.names[key],)
    plain = key.casefold().replace("_", " ").replace("-", " ").strip()
    for to in _MEANT.get(plain, ()):
        if to in shape.fields:
            return (to,)
    return nearest(plain, shape.fields)
