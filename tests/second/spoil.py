"""Spoiling a design on purpose: a description with everything written out, then one thing wrong."""

from __future__ import annotations

import copy
import random
import re
from collections.abc import Callable
from typing import Any, Final

Described = dict[str, Any]
Spoiler = Callable[[Described, random.Random], str | None]
_BREAKERS: Final = (15, 20, 30, 40, 60, 100, 150, 200, 300, 400, 600, 800, 1200, 1600, 2000, 4000)


def written_out(described: Described, plan: Any) -> Described:
    """Return a description with the bonds that a plan designed written into it.

    Args:
        described: as it is in a site file.
        plan: what was made of it.
    """
    site = copy.deepcopy(described)
    iec = str(site.get("rules", "")).startswith("iec")
    site["ties"] = {
        tie.id: {"at": tie.at, "by": str(tie.form), "resistance": f"{tie.resistance:g} ohm"}
        | ({} if tie.size is None else {"size": str(tie.size)})
        | ({} if tie.line is None else {"line": tie.line})
        for tie in plan.ties
    }
    for name, run in site.get("runs", {}).items():
        planned = plan.runs[name]
        key = "pe" if iec else "ssbj" if planned.supply_side else "egc"
        if planned.metal is not None and not {"pe", "ssbj", "egc"} & set(run):
            run[key] = str(planned.metal)
    for name, electrode in site.get("electrodes", {}).items():
        conductor = plan.electrodes[name].conductor
        if conductor is not None:
            electrode.setdefault("conductor", str(conductor))
    return site


def spoil(described: Described, dice: random.Random) -> tuple[str, Described] | None:
    """Return what was done, and the description with that one thing wrong; None if nothing can."""
    for spoiler in dice.sample(SPOILERS, len(SPOILERS)):
        site = copy.deepcopy(described)
        said = spoiler(site, dice)
        if said is not None:
            return said, site
    return None


def _some(items: list[str], dice: random.Random) -> str | None:
    return dice.choice(sorted(items)) if items else None


def _ground_key(run: Described) -> str:
    return next((key for key in ("egc", "pe", "ssbj") if key in run), "egc")


def _no_ground(site: Described, dice: random.Random) -> str | None:
    name = _some([n for n, r in site["runs"].items() if r.get(_ground_key(r))], dice)
    if name is None:
        return None
    run = site["runs"][name]
    run[_ground_key(run)] = "none"
    if "raceway" in run:
        run["raceway"] = {"kind": "pvc", "size": run["raceway"]["size"]}
        for key in ("fittings", "knockouts", "flexible", "bushing jumper"):
            run.pop(key, None)
    return f"ground taken out of {name}"


def _thin_ground(site: Described, dice: random.Random) -> str | None:
    wires = [n for n, r in site["runs"].items() if r.get(_ground_key(r), "none")[:1].isdigit()]
    name = _some(wires, dice)
    if name is None:
        return None
    run = site["runs"][name]
    key = _ground_key(run)
    run[key] = "1 mm2 Cu" if "mm2" in run[key] else "16 AWG Cu"
    return f"{key} of {name} made {run[key]}"


def _no_tie(site: Described, dice: random.Random) -> str | None:
    name = _some(list(site["ties"]), dice)
    if name is None:
        return None
    del site["ties"][name]
    site["describes"] = "as found"  # in a plan it would be designed again
    return f"{name} taken out"


def _thin_tie(site: Described, dice: random.Random) -> str | None:
    wires = [n for n, t in site["ties"].items() if t["by"] == "wire"]
    name = _some(wires, dice)
    if name is None:
        return None
    site["ties"][name]["size"] = "10 AWG Cu"
    return f"{name} made 10 AWG"


def _loose_tie(site: Described, dice: random.Random) -> str | None:
    name = _some(list(site["ties"]), dice)
    if name is None:
        return None
    site["ties"][name]["resistance"] = f"{dice.choice([0.5, 5, 50])} ohm"
    return f"{name} of {site['ties'][name]['resistance']}"


def larger(text: str) -> str:
    """Return a device of ten times the rating, without the settings that it had."""
    found = re.match(r"([BCD]?)([\d.]+)(.*)$", text.split(",")[0])
    if found is None:
        raise ValueError(text)
    amps = 10 * float(found[2])
    if found[1]:
        return f"{found[1]}{min(amps, 125):g}"
    if "fuse" in found[3]:
        return f"{min(amps, 1250 if 'gG' in found[3] else 600):g}{found[3]}"
    if "RCD" in found[3]:
        return f"{min(amps, 125):g} A RCD 300 mA"
    size = next((a for a in _BREAKERS if a >= amps), _BREAKERS[-1])
    return f"{size} A breaker"


def _large_device(site: Described, dice: random.Random) -> str | None:
    at = [("runs", n, "device") for n, r in site["runs"].items() if r.get("device")]
    at += [("places", n, "main") for n, p in site["places"].items() if p.get("main")]
    if not at:
        return None
    part, name, key = dice.choice(sorted(at))
    was = site[part][name][key]
    try:
        site[part][name][key] = larger(was)
    except ValueError:
        return None
    return f"{key} of {name} was {was}, is {site[part][name][key]}"


def _unset_device(site: Described, dice: random.Random) -> str | None:
    """A device whose curve isn't given: its settings and its own curve are left out."""
    at = [("runs", n, "device") for n, r in site["runs"].items() if "," in r.get("device", "")]
    at += [("places", n, "main") for n, p in site["places"].items() if "," in p.get("main", "")]
    if not at:
        return None
    part, name, key = dice.choice(sorted(at))
    was = site[part][name][key]
    site[part][name][key] = was.split(",")[0]
    return f"{key} of {name} was {was}, says no more than {site[part][name][key]}"


def _long(site: Described, dice: random.Random) -> str | None:
    name = _some(list(site["runs"]), dice)
    if name is None:
        return None
    number, unit = site["runs"][name]["length"].split(maxsplit=1)
    site["runs"][name]["length"] = f"{20 * float(number):g} {unit}"
    return f"{name} twenty times as long"


def _thin_lines(site: Described, dice: random.Random) -> str | None:
    name = _some([n for n, r in site["runs"].items() if r.get("device")], dice)
    if name is None:
        return None
    run = site["runs"][name]
    run["lines"] = "1 mm2 Cu" if "mm2" in run["lines"] else "16 AWG Cu"
    run.pop("needed", None)
    return f"lines of {name} made {run['lines']}"


def _thin_neutral(site: Described, dice: random.Random) -> str | None:
    wires = [n for n, r in site["runs"].items() if r.get("neutral", "none")[:1].isdigit()]
    name = _some(wires, dice)
    if name is None:
        return None
    run = site["runs"][name]
    run["neutral"] = "1.5 mm2 Cu" if "mm2" in run["neutral"] else "14 AWG Cu"
    return f"neutral of {name} made {run['neutral']}"


def _electrode(site: Described, dice: random.Random) -> str | None:
    name = _some(list(site.get("electrodes", {})), dice)
    if name is None:
        return None
    site["electrodes"][name]["conductor"] = dice.choice(["none", "14 AWG Cu"])
    return f"electrode conductor of {name} made {site['electrodes'][name]['conductor']}"


def _weak_source(site: Described, dice: random.Random) -> str | None:
    name = _some(list(site.get("sources", {})), dice)
    if name is None:
        return None
    source = site["sources"][name]
    source.pop("transformer", None)
    source["available"] = {"current": f"{dice.choice([20, 80, 300])} A", "x/r": 1}
    return f"{name} gives {source['available']['current']}"


SPOILERS: Final[tuple[Spoiler, ...]] = (
    _no_ground, _thin_ground, _no_tie, _thin_tie, _loose_tie, _large_device, _unset_device, _long,
    _thin_lines, _thin_neutral, _electrode, _weak_source,
)  # fmt: skip
