"""By when a device has opened for sure, read from its words: the slow edge and nothing else.

Numbers that are not in ``tests/reference/protective_devices.yaml`` are common practice of the
trade: a moulded-case breaker whose trip is not given acts at ten times its rating and a quarter (a
third above 225 A) more, one that is set 30 % above its setting, an electronic unit 10 % above, its
delays a fifth longer and a few cycles for the contacts.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, Final

import yaml

from tests.second.tables import REFERENCE, rows

Points = Sequence[tuple[float, float]]
_AMPS: Final = r"([\d.,]+)\s*(mA|kA|A)"
_BS: Final = {"BS 88-2": "BS88-2 gG", "BS 88-3": "BS88-3", "BS 3036": "BS3036", "BS 1362": "BS1362"}
_THRESHOLD: Final = {"RK5": 65.0, "L": 40.0}
"""Multiple of its rating from which a fuse limits the current, 30 of other classes (memory)."""


@cache
def _reference() -> dict[str, Any]:
    text = (REFERENCE / "protective_devices.yaml").read_text(encoding="utf-8")
    return dict(yaml.safe_load(text))


def _amps(number: str, unit: str) -> float:
    return float(number.replace(",", "")) * {"mA": 1e-3, "A": 1.0, "kA": 1e3}[unit]


def _row(name: str, rating: float) -> list[float] | None:
    return next((row for row in _reference()[name]["rows"] if rating <= row[0]), None)


def rating_of(text: str) -> float:
    """Return the rated current of a device, A."""
    found = re.match(r"[BCD]?([\d.]+)", text)
    if found is None:
        raise ValueError(text)
    return float(found[1])


def line(points: Points, amps: float) -> float:
    """Return the time of a broken line on log-log paper, its last point's for any more current."""
    if not points or amps < points[0][0]:
        return math.inf
    time = points[0][1]
    for (i0, t0), (i1, t1) in itertools.pairwise(points):
        if amps >= i1:
            time = t1
        elif amps >= i0:
            return float(t0 * (t1 / t0) ** (math.log(amps / i0) / math.log(i1 / i0)))
    return time


def slowest(text: str, amps: float, curves: Mapping[str, Points]) -> float | None:
    """Return by when the overcurrent part of a device has opened, s; None if nobody can say."""
    rating = rating_of(text)
    own = re.search(r", curve (.+)$", text)
    if own:
        return line(curves[own[1]], amps) if own[1] in curves else None
    if re.match(r"[BCD]\d", text):
        return _miniature(text[0], rating, amps)
    if "electronic breaker" in text:
        return _electronic(text, rating, amps)
    if "fuse" in text:
        return _fuse(text, rating, amps)
    if "breaker" in text:
        return _moulded(text, rating, amps)
    return math.inf  # a residual-current device alone


def _moulded(text: str, rating: float, amps: float) -> float | None:
    two, three = _row("ul_489_trip_200_percent_max_min", rating), None
    for row in _reference()["neta_nema_ab4_300_percent"]["rows"]:
        if three is None and rating <= row[0]:
            three = row
    if two is None or three is None:
        return None
    given = re.search(rf"instantaneous {_AMPS}", text)
    if given:
        trip = 1.3 * _amps(given[1], given[2])
    else:
        trip = 10 * rating * (1.25 if rating <= 225 else 1.3)
    if amps >= trip:
        return 0.025
    if amps >= 3 * rating:
        return float(max(three[2] * (3 * rating / amps) ** 2, 0.025))
    if amps >= 2 * rating:
        return float(two[1] * 60)
    return 7200.0 if amps >= 1.35 * rating else math.inf


def _electronic(text: str, rating: float, amps: float) -> float:
    found = re.search(r"long(?: ([\d.]+))?(?: ([\d.]+) s)?", text)
    pickup = rating * float(found[1]) if found and found[1] else rating
    delay = float(found[2]) if found and found[2] else 24.0
    time = 1.2 * delay * (6 * pickup / amps) ** 2 if amps >= 1.2 * pickup else math.inf
    if short := re.search(rf"short {_AMPS}(?: ([\d.]+) (ms|s))?", text):
        time = min(time, _delayed(short, amps))
    if at_once := re.search(rf"instantaneous {_AMPS}", text):
        time = min(time, 0.05 if amps >= 1.1 * _amps(at_once[1], at_once[2]) else math.inf)
    return time


def _delayed(found: re.Match[str], amps: float) -> float:
    """Return the time of a flat delay: a tenth above its pickup, a fifth late, the contacts."""
    if amps < 1.1 * _amps(found[1], found[2]):
        return math.inf
    delay = float(found[3] or 0) * (1e-3 if found[4] == "ms" else 1)
    return 1.2 * delay + 0.06


def _miniature(letter: str, rating: float, amps: float) -> float:
    hold, trip = {"B": (3, 5), "C": (5, 10), "D": (10, 20)}[letter]
    late = {"B": (45, 90), "C": (15, 30), "D": (4, 8)}[letter][rating > 32]
    if letter == "D" and rating <= 10:
        late = 8
    if amps >= trip * rating:
        return 0.1
    if amps >= hold * rating:
        return late * (hold * rating / amps) ** 2 if letter == "D" else late
    if amps >= 2.55 * rating:
        return 60.0 if rating <= 32 else 120.0
    return 7200.0 if amps >= 1.45 * rating else math.inf


def _fuse(text: str, rating: float, amps: float) -> float | None:
    for words, name in _BS.items():
        if words in text:
            return _british(name, rating, amps)
    if found := re.search(r"class (\w+)", text):
        row = _row("ul_248_overload", rating)
        if row is None:
            return None
        late = (2 * rating, row[2] * 60)
        middle = (5 * rating, row[2] * 60 * 4 / 25)
        end = (_THRESHOLD.get(found[1], 30.0) * rating, 0.01)
        return line((late, middle, end), amps)
    gates = _row("iec_60269_gG_gates", rating)
    if gates is None:
        return None
    if amps >= gates[4]:
        return max(0.1 * (gates[4] / amps) ** 2, 0.01)
    return line(((1.6 * rating, 14400.0), (gates[2], 5.0), (gates[4], 0.1)), amps)


def _british(name: str, rating: float, amps: float) -> float | None:
    for row in rows("bs7671_max_zs_fuses.csv"):
        if row["standard"] == name and float(row["in_a"]) == rating:
            points = [(218.5 / float(row["zs_5s"]), 5.0)]
            if row["zs_0_4s"]:
                points.append((218.5 / float(row["zs_0_4s"]), 0.4))
            last, time = points[-1]
            if amps > last:
                return float(max(time * (last / amps) ** 2, 0.02))
            return line(points, amps)
    return None


def residual(text: str, amps: float) -> float:
    """Return by when a device has opened for so much that doesn't come back through it, s."""
    time = math.inf
    if found := re.search(rf"ground fault {_AMPS}(?: ([\d.]+) (ms|s))?", text):
        time = min(time, _delayed(found, amps))
    if "GFCI" in text and amps >= 0.006:
        time = min(time, max((0.020 / amps) ** 1.43, 0.025))
    if found := re.search(rf"RCD {_AMPS}((?: type \w+)?(?: S)?)", text):
        rated = _amps(found[1], found[2])
        late = " S" in found[3].replace("type S", "")
        table = _reference()["iec_61008_selective" if late else "iec_61008_general"]["rows"]
        for row in table:
            if amps >= row[0] * rated:
                time = min(time, row[1])
    return time
