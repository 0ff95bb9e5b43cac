"""What rules are entered with. Two types that can't be taken for each other.

The most common mistake of the trade is to size a bonding jumper from the breaker, or an
equipment grounding conductor from the service conductors. Here the first takes
:class:`SupplyConductors` and the second :class:`ProtectiveDevice`; a type checker refuses the
wrong one, and at run time a :class:`TypeError` says why.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Conductor, Material, Size
from bondwright.rules.answer import need_words

JUMPERS_FOLLOW_SUPPLY = (
    "jumpers and electrode conductors follow the supply conductors, never the breaker: ahead of "
    "the first disconnect no breaker protects them, so their size comes from the area of the "
    "supply conductors; give SupplyConductors"
)
GROUNDS_FOLLOW_DEVICE = (
    "equipment grounding conductors follow the overcurrent device ahead, never the service "
    "conductors: they only have to carry fault current until that device opens; give "
    "ProtectiveDevice"
)


class CannotTellError(ValueError):
    """A rule that can't be answered honestly from what is known.

    Attributes:
        rule: id of the rule.
        clause: where the code says so.
        problem: why there is no answer.
        missing: what would be needed; "" where the problem says it.

    Raises:
        TypeError: one of them is no text.
        ValueError: the rule or the problem is empty.
    """

    def __init__(self, rule: str, clause: str, problem: str, missing: str) -> None:
        need_words(rule, problem, maybe=(clause, missing))
        self.rule = rule
        self.clause = clause
        self.problem = problem
        self.missing = missing
        super().__init__(f"cannot tell: {problem}; {missing} ({clause})")


@dataclass(frozen=True, slots=True)
class SupplyConductors:
    """The largest ungrounded supply conductors of one phase, ahead of the first disconnect.

    Attributes:
        lines: the conductors of one phase. Usually one entry ("2 x 500 kcmil Cu" is one); more
            where several disconnects have supply conductors of their own, whose areas add.

    Raises:
        TypeError: something else than conductors, a breaker for one.
        ValueError: no conductor, or conductors of different metals.
    """

    lines: tuple[Conductor, ...]

    def __post_init__(self) -> None:
        for line in self.lines:
            if not isinstance(line, Conductor):
                raise TypeError(f"{line!s}: {JUMPERS_FOLLOW_SUPPLY}")
        if not self.lines:
            raise ValueError("supply conductors: none given; name at least one")
        if len({line.material for line in self.lines}) > 1:
            raise ValueError(
                f"supply conductors {self}: of different metals, so their areas don't add; "
                "size each set by itself"
            )

    @classmethod
    def of(cls, *lines: Conductor) -> SupplyConductors:
        """Return supply conductors from the conductors of one phase."""
        return cls(lines)

    @classmethod
    def parse(cls, text: str) -> SupplyConductors:
        """Read supply conductors as a person writes them: "2 x 500 kcmil Cu".

        Raises:
            UnitError: unreadable, or without a metal.
        """
        return cls((Conductor.parse(text),))

    @property
    def material(self) -> Material:
        """Their metal."""
        return self.lines[0].material

    @property
    def area_cmil(self) -> float:
        """Area of all conductors of one phase together, circular mils."""
        return sum(line.total_area_cmil for line in self.lines)

    @property
    def in_parallel(self) -> int:
        """How many conductors make one phase."""
        return sum(line.sets for line in self.lines)

    def __str__(self) -> str:
        return " + ".join(str(line) for line in self.lines)


@dataclass(frozen=True, slots=True)
class ProtectiveDevice:
    """The overcurrent device ahead of a circuit.

    Attributes:
        rating: kind and rating.

    Raises:
        TypeError: something else than a device, conductors for one.
    """

    rating: DeviceRating

    def __post_init__(self) -> None:
        if not isinstance(self.rating, DeviceRating):
            raise TypeError(f"{self.rating!s}: {GROUNDS_FOLLOW_DEVICE}")

    @classmethod
    def parse(cls, text: str) -> ProtectiveDevice:
        """Read a device as a person writes it: "60 A", "100 A fuse".

        Raises:
            UnitError: unreadable, or without a unit.
        """
        return cls(DeviceRating.parse(text))

    @property
    def rating_a(self) -> float:
        """Rated current, A."""
        return self.rating.rating_a

    def __str__(self) -> str:
        return str(self.rating)


def need_supply(given: Any) -> None:
    """Refuse anything but supply conductors.

    Raises:
        TypeError: with the reason, for the apprentice.
    """
    if not isinstance(given, SupplyConductors):
        raise TypeError(f"{given!s}: {JUMPERS_FOLLOW_SUPPLY}")


def need_device(given: Any) -> None:
    """Refuse anything but a protective device.

    Raises:
        TypeError: with the reason, for the apprentice.
    """
    if not isinstance(given, ProtectiveDevice):
        raise TypeError(f"{given!s}: {GROUNDS_FOLLOW_DEVICE}")


def area_text(area_cmil: float) -> str:
    """Write an area for a person: "335,600 cmil", "1000 kcmil"."""
    if area_cmil >= 250_000 and abs(area_cmil / 1000 - round(area_cmil / 1000)) < 1e-9:
        return f"{area_cmil / 1000:.0f} kcmil"
    return f"{area_cmil:,.0f} cmil"


def supply_text(supply: SupplyConductors) -> str:
    """Write supply conductors with the sum of their areas where there are several."""
    if supply.in_parallel == 1:
        return str(supply)
    parts = " + ".join(
        f"{line.sets} x {area_text(line.area_cmil)}" if line.sets > 1 else area_text(line.area_cmil)
        for line in supply.lines
    )
    return f"{supply} ({parts} = {area_text(supply.area_cmil)})"


def smaller(a: Size, b: Size) -> Size:
    """Return the smaller of two sizes."""
    return a if a.area_cmil <= b.area_cmil else b
