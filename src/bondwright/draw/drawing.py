"""What the drawing layer hands out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished picture.

    Attributes:
        svg: the whole picture as SVG text, without outside references and without scripts.
        width_px: its width in user units (CSS px at natural size).
        height_px: its height in the same.
        alt: what it shows, in a few sentences, for those who don't see it.
        ids: id of every element that stands for something, with what it stands for, such as
            ``{"run-feeder": "run feeder"}``. The same thing keeps its id from one drawing to
            the next.
    """

    svg: str
    width_px: float
    height_px: float
    alt: str
    ids: Mapping[str, str] = field(default_factory=dict)

    def _repr_svg_(self) -> str:
        """Show itself in a notebook."""
        return self.svg
