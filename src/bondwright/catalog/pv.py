"""Numbers for the direct-current side of photovoltaic arrays."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from bondwright.catalog._data import load_yaml, read_text
from bondwright.catalog.sources import Source, Status

_PARTS: Final = ("shape", "ground_fuses", "fuse", "monitor", "insulation", "touch", "device")


@dataclass(frozen=True, slots=True)
class PvData:
    """What is taken of arrays where their description is silent, and what is asked of them.

    Attributes:
        voltage_x: voltage at greatest power over open-circuit voltage.
        current_x: current at greatest power over short-circuit current.
        ground_fuses: (largest power [W], rating [A]) of ground-fault fuses, rising.
        fuse_sure_x: current over rating at which such a fuse opens for sure.
        fuse_sure_s: the time it may take there, s.
        fuse_twice_s: the time it may take at twice its rating, s.
        fuse_ohm_amps: its resistance times its rating, ohm A.
        monitor_a: residual current at which a small inverter stops, A.
        monitor_up_to_va: power up to which that stands, VA.
        monitor_per_va: residual current per power above it, A/VA.
        monitor_s: time in which it stops, s.
        insulation: insulation resistance of a conductor to metal, ohm.
        body_ohm: a person between a frame and other metal, ohm.
        touch_v: longest endured touch voltage, direct current, V.
        device_current_x: greatest current over short-circuit current.
        device_rating_x: rating of a device over that.
        sources: source of each part by its name in the data file.
    """

    voltage_x: float
    current_x: float
    ground_fuses: tuple[tuple[float, float], ...]
    fuse_sure_x: float
    fuse_sure_s: float
    fuse_twice_s: float
    fuse_ohm_amps: float
    monitor_a: float
    monitor_up_to_va: float
    monitor_per_va: float
    monitor_s: float
    insulation: float
    body_ohm: float
    touch_v: float
    device_current_x: float
    device_rating_x: float
    sources: tuple[tuple[str, Source], ...]

    def source(self, part: str) -> Source:
        """Return where the numbers of a part come from.

        Raises:
            KeyError: no such part.
        """
        return dict(self.sources)[part]

    def ground_fuse(self, power: float) -> float:
        """Return the largest rating of a ground-fault fuse, A, for a direct-current power, W."""
        return next(amps for up_to, amps in self.ground_fuses if power <= up_to)

    def fuse_time(self, rating: float, current: float) -> float:
        """Return the time by which a ground-fault fuse has opened for sure, s.

        Two points of the standard; from twice the rating on constant current squared times
        time. Infinity where it may hold.

        Args:
            rating: A.
            current: A.
        """
        times = current / rating
        if times < self.fuse_sure_x:
            return math.inf
        return self.fuse_sure_s if times < 2 else self.fuse_twice_s * (2 / times) ** 2

    def monitor(self, power: float) -> float:
        """Return the residual current, A, at which an inverter of a power in VA stops."""
        return self.monitor_a if power <= self.monitor_up_to_va else self.monitor_per_va * power


@cache
def pv_data() -> PvData:
    """Return the numbers of ``pv.yaml``."""
    raw: dict[str, dict[str, Any]] = load_yaml(read_text("pv.yaml"))
    shape, fuse, monitor = raw["shape"], raw["fuse"], raw["monitor"]
    return PvData(
        voltage_x=shape["voltage"],
        current_x=shape["current"],
        ground_fuses=tuple((r["up_to_w"], r["amps"]) for r in raw["ground_fuses"]["rows"]),
        fuse_sure_x=fuse["sure_x"],
        fuse_sure_s=fuse["sure_s"],
        fuse_twice_s=fuse["twice_s"],
        fuse_ohm_amps=fuse["ohm_amps"],
        monitor_a=monitor["least_a"],
        monitor_up_to_va=monitor["up_to_va"],
        monitor_per_va=monitor["per_va"],
        monitor_s=monitor["seconds"],
        insulation=raw["insulation"]["ohm"],
        body_ohm=raw["touch"]["body_ohm"],
        touch_v=raw["touch"]["volts"],
        device_current_x=raw["device"]["current_x"],
        device_rating_x=raw["device"]["rating_x"],
        sources=tuple((name, _source(raw[name])) for name in _PARTS),
    )


def _source(part: dict[str, Any]) -> Source:
    return Source(str(part["source"]), str(part["edition"]), Status(part["status"]))
