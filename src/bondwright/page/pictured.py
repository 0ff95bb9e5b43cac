"""The picture as it goes over the wire: whole for a small site, piece by piece for a large one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Literal

from bondwright.draw.live import LAYERS, MANY, Form, LivePicture
from bondwright.page.desk import Desk, UnknownError
from bondwright.page.wire import Box, Fold, PictureAnswer, PieceInfo

_KEY_WIDTH: Final = {"page": 560.0, "phone": 330.0}
_LEAST_BRANCH: Final = 2
"""Places that a branch must have behind its head to be worth folding."""


def picture_answer(desk: Desk, form: Form) -> PictureAnswer:
    """Return the picture; of a large site without the pieces' insides."""
    picture = desk.picture(form)
    whole = len(picture.boxes) <= MANY
    return PictureAnswer(
        drawing=desk.drawing,
        form=form,
        width=round(picture.width, 1),
        height=round(picture.height, 1),
        alt=picture.alt,
        layers=list(LAYERS),
        pieces=[
            PieceInfo(layer=p.layer, box=_rounded(p.box), svg=p.svg if whole else None)
            for p in picture.pieces
        ],
        overview=picture.overview,
        boxes={name: _rounded(box) for name, box in picture.boxes.items()},
        folds=list(_folds(desk, picture)),
        key=picture.key(_KEY_WIDTH[form]),
    )


def piece(desk: Desk, form: Form, number: int) -> str:
    """Return the inside of a piece.

    Raises:
        UnknownError: there is none of that number.
    """
    pieces = desk.picture(form).pieces
    if not 0 <= number < len(pieces):
        raise UnknownError(f"there is no piece {number}; the picture has {len(pieces)}")
    return pieces[number].svg


def _rounded(box: Box) -> Box:
    x, y, w, h = box
    return (round(x, 1), round(y, 1), round(w, 1), round(h, 1))


def _folds(desk: Desk, picture: LivePicture) -> Iterator[Fold]:
    """Yield every building, and every branch, with what is folded away in it."""
    rooms: dict[str, list[str]] = {}
    for name, building in picture.groups.items():
        if building is not None:
            rooms.setdefault(building, []).append(name)
    if len(rooms) > 1:
        for building, names in rooms.items():
            yield _fold(picture, building, "building", names)
    behind: dict[str, list[str]] = {}
    tree = desk.base.topology
    for name in reversed(tree.order):
        if name in tree.fed_by and name in picture.boxes:
            above = desk.site.runs[tree.fed_by[name]].from_
            behind.setdefault(above, []).extend([name, *behind.get(name, [])])
    for name in tree.order:
        places = behind.get(name, [])
        if name in tree.fed_by and len(places) >= _LEAST_BRANCH:
            yield _fold(picture, name, "branch", places)


def _fold(
    picture: LivePicture, name: str, kind: Literal["building", "branch"], places: list[str]
) -> Fold:
    """Return a fold with one lid where that covers nothing else, and one a place where it would."""
    whole, inside = _around(picture, places), set(places)
    # What a place feeds has ground of its own in the layout; a building may lie around another.
    alone = kind == "branch" or not any(
        _meet(whole, box) for other, box in picture.boxes.items() if other not in inside
    )
    boxes = [whole] if alone else [_around(picture, [one]) for one in places]
    return Fold(id=name, kind=kind, count=len(places), places=places, boxes=boxes)


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[0] + b[2] and b[0] < a[0] + a[2] and a[1] < b[1] + b[3] and b[1] < a[1] + a[3]


def _around(picture: LivePicture, names: list[str]) -> Box:
    boxes = [picture.boxes[name] for name in names]
    x, y = min(b[0] for b in boxes), min(b[1] for b in boxes)
    right, low = max(b[0] + b[2] for b in boxes), max(b[1] + b[3] for b in boxes)
    return _rounded((x - 6, y - 6, right - x + 12, low - y + 12))
