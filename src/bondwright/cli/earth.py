"""The earth: a survey's layers, electrodes, field tests, and what to put in the ground."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bondwright.cli.common import echo_text, finite, json_option, plain_errors, print_json
from bondwright.cli.earth_judge import (
    FILE,
    FORMAT,
    GOAL,
    VERSION,
    judge,
    ohms,
    print_story,
    quantity,
)
from bondwright.cli.earth_site import site_command

if TYPE_CHECKING:
    from bondwright.earth.fit import SoilFit
    from bondwright.earth.system import ElectrodeSystem


class _SiteOrCommand(click.Group):
    """A group that takes a site file in place of a command."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        first = args[0] if args else ""
        if first and first not in self.commands and Path(first).suffix in {".yaml", ".yml"}:
            return "site", self.commands["site"], args
        return super().resolve_command(ctx, args)


@click.group(cls=_SiteOrCommand)
def earth() -> None:
    """Work out soil and electrodes, and judge field tests.

    Soil is written '100 ohm m', or in layers from the top '300 ohm m / 3 m / 50 ohm m'. Every
    number carries its unit.

    With a site file in place of a command ('bondwright earth house.yaml') its electrodes are worked
    out in its ground, in the faults of its network.

    The measured electrode decides. Earth is no path that opens a breaker.
    """


@earth.command()
@click.argument("readings", type=FILE)
@click.option(
    "--pins", type=click.Choice(["wenner", "schlumberger"]), default="wenner", show_default=True,
    help="How the four pins stood.",
)  # fmt: skip
@click.option("--layers", type=click.IntRange(1, 4), help="As many layers, not as few as will do.")
@json_option
@plain_errors
def layers(readings: Path, pins: str, layers: int | None, as_json: bool) -> None:
    """Find the soil's layers from a four-pin survey.

    READINGS is a CSV table with the columns 'spacing' and either 'resistance' or 'resistivity';
    'pin depth' (Wenner), 'inner' (Schlumberger, from the middle to a potential pin) and 'error'
    (like '3 %') may be there. Spacing is from pin to pin (Wenner), or from the middle to a
    current pin (Schlumberger).
    """
    from bondwright.earth.fit import fit_soil
    from bondwright.explain.earth import tell_fit

    sounding = _sounding(readings, pins)
    fit = fit_soil(sounding, layers)
    story = tell_fit(fit)
    if not as_json:
        _print_readings(sounding.spacing_m, sounding.rho_a_ohm_m, fit)
    print_story(story, _fit_dict(fit), as_json)


def _sounding(path: Path, pins: str) -> Any:
    from bondwright.cli.earth_files import Column, EarthFileError, read_columns
    from bondwright.earth.sounding import (
        PinArray,
        Sounding,
        schlumberger_resistivity,
        wenner_resistivity,
    )
    from bondwright.units import Dimension

    found = read_columns(
        path,
        [
            Column("spacing", Dimension.LENGTH),
            Column("resistance", Dimension.RESISTANCE),
            Column("resistivity", Dimension.RESISTIVITY),
            Column("pin depth", Dimension.LENGTH),
            Column("inner", Dimension.LENGTH),
            Column("error", Dimension.RATIO),
        ],
    )
    if "spacing" not in found or ("resistance" in found) == ("resistivity" in found):
        raise EarthFileError(
            f"{path}: there must be a column 'spacing', and one of 'resistance' and 'resistivity'"
        )
    spacing, inner = found["spacing"], found.get("inner", ())
    rho = found.get("resistivity", ())
    if not rho and pins == "wenner":
        depth = found.get("pin depth", (0.0,) * len(spacing))
        triples = zip(found["resistance"], spacing, depth, strict=True)
        rho = tuple(wenner_resistivity(r, a, b) for r, a, b in triples)
    elif not rho:
        if not inner:
            raise EarthFileError(f"{path}: Schlumberger resistances need the column 'inner'")
        triples = zip(found["resistance"], spacing, inner, strict=True)
        rho = tuple(schlumberger_resistivity(r, a, m) for r, a, m in triples)
    return Sounding(PinArray(pins), spacing, rho, inner, found.get("error", ()))


def _print_readings(spacing: tuple[float, ...], rho: tuple[float, ...], fit: SoilFit) -> None:
    from bondwright.cli.tables import print_table
    from bondwright.units import Dimension, show

    wild = {one.index for one in fit.suspicious}
    print_table(
        ["spacing", "read", "curve", "off", ""],
        [
            [
                show(a, Dimension.LENGTH, "metric"),
                show(seen, Dimension.RESISTIVITY),
                show(made, Dimension.RESISTIVITY),
                f"{100 * off:+.1f} %",
                "look again" if index in wild else "",
            ]
            for index, (a, seen, made, off) in enumerate(
                zip(spacing, rho, fit.curve_ohm_m, fit.departure, strict=True)
            )
        ],
    )


def _fit_dict(fit: SoilFit) -> dict[str, object]:
    return {
        "soil": {
            "resistivity_ohm_m": list(fit.soil.rho_ohm_m),
            "thickness_m": list(fit.soil.thickness_m),
        },
        "estimates": [
            {
                "name": one.name,
                "value": one.value,
                "low": one.low if one.low > 0 else None,
                "high": finite(one.high),
                "log_standard_error": finite(one.log_sd),
                "resolved": one.resolved,
            }
            for one in fit.estimates
        ],
        "rms": fit.rms,
        "scatter": fit.scatter,
        "curve_ohm_m": list(fit.curve_ohm_m),
        "departure": list(fit.departure),
        "suspicious": [
            {"reading": one.index + 1, "departure": one.departure, "reason": one.reason}
            for one in fit.suspicious
        ],
        "tried": [
            {"layers": one.layers, "criterion": finite(one.criterion), "rms": one.rms}
            for one in fit.candidates
        ],
    }


@earth.command()
@click.argument("electrodes", type=FILE)
@click.option("--soil", help="Soil instead of the file's.")
@click.option("--current", help="Current into the earth, like '100 A': adds touch and step.")
@click.option("--only", multiple=True, help="Join these electrodes only (may stand several times).")
@GOAL
@json_option
@plain_errors
def ground(
    electrodes: Path,
    soil: str | None,
    current: str | None,
    only: tuple[str, ...],
    goal: str | None,
    as_json: bool,
) -> None:
    """Work out electrodes by their geometry, in layers, with what they take from each other.

    ELECTRODES is a YAML file; docs/earth.md has one.
    """
    from bondwright.cli.earth_files import EarthFileError, parse_soil, read_electrodes
    from bondwright.cli.tables import print_table
    from bondwright.earth.system import solve
    from bondwright.explain.earth import tell_electrodes
    from bondwright.units import Dimension, show

    found, made = read_electrodes(electrodes)
    chosen = parse_soil(soil) if soil else found
    if chosen is None:
        raise EarthFileError(f"{electrodes}: no soil; write 'soil: 100 ohm m', or give --soil")
    for name in only:
        if name not in {one.name for one in made}:
            raise EarthFileError(f"no electrode {name!r} in {electrodes}")
    system = solve(chosen, made)
    joined = system.joined(only or None)
    story = tell_electrodes(system, only or None, ohms(goal))
    data: dict[str, object] = {
        "names": list(system.names),
        "resistance_matrix_ohm": system.resistance_ohm.tolist(),
        "resistance_ohm": joined.resistance_ohm,
        "shares": dict(joined.shares),
        "floating": dict(joined.floating),
        "pieces": int(system.pieces.length.size),
    }
    amperes = quantity(current, Dimension.CURRENT)
    if amperes is not None:
        data["surface"] = _surface(system, amperes, only or None)
    if not as_json:
        print_table(
            ["electrode", "alone", "share"],
            [
                [
                    name,
                    show(system.alone(name), Dimension.RESISTANCE),
                    f"{100 * joined.shares[name]:.1f} %" if name in joined.shares else "none",
                ]
                for name in system.names
            ],
        )
        if amperes is not None:
            _print_surface(data["surface"])
    print_story(story, data, as_json)


def _surface(system: ElectrodeSystem, amperes: float, only: tuple[str, ...] | None) -> Any:
    from bondwright.earth.surface import map_around, worst_of

    currents = system.currents(amperes, only)
    rise = amperes * system.joined(only).resistance_ohm
    drawn = map_around(system, currents, 3.0, 0.5)
    step = worst_of(drawn, drawn.step_v())
    return {
        "current_a": amperes,
        "rise_v": rise,
        "step_v": step.voltage_v,
        "step_at_m": [step.x_m, step.y_m],
        "x_m": drawn.x_m.tolist(),
        "y_m": drawn.y_m.tolist(),
        "potential_v": drawn.potential_v.tolist(),
    }


def _print_surface(surface: Any) -> None:
    from bondwright.units import Dimension, show

    volts = Dimension.VOLTAGE
    x, y = surface["step_at_m"]
    echo_text(
        f"With {show(surface['current_a'], Dimension.CURRENT)} into the earth the electrodes rise "
        f"to {show(surface['rise_v'], volts)}; metal that leads away carries all of it. The worst "
        f"pace of 1 m has {show(surface['step_v'], volts)}, at x {x:.1f} m, y {y:.1f} m. Stay off "
        "the ground there while a fault may stand."
    )


@earth.command()
@click.option("--soil", required=True, multiple=True, help="Soil; several: the worst counts.")
@click.option("--seasons", is_flag=True, help="Count a dry top as well (common practice).")
@click.option("--goal", help="The most resistance, like '25 ohm'.")
@click.option("--touch", help="Instead: the most touch voltage, like '50 V' (with --current).")
@click.option("--current", help="Current into the earth, like '10 A' (with --touch).")
@click.option(
    "--corner",
    "corners",
    multiple=True,
    nargs=2,
    help="Corners of the metal to be touched, like '2 m' '3 m' (with --touch; else the plot's).",
)
@click.option("--plot", required=True, nargs=2, help="Width and length, like '20 m' '30 m'.")
@click.option("--rod", "rods", multiple=True, help="Rod lengths that may be driven.")
@click.option("--price-rod", type=float, help="Driving one rod, in any currency.")
@click.option("--price-rod-metre", type=float, help="A metre of rod.")
@click.option("--price-trench", type=float, help="A metre of trench.")
@click.option("--price-wire", type=float, help="A metre of wire in it.")
@json_option
@plain_errors
def propose(
    soil: tuple[str, ...],
    seasons: bool,
    goal: str | None,
    touch: str | None,
    current: str | None,
    corners: tuple[tuple[str, str], ...],
    plot: tuple[str, str],
    rods: tuple[str, ...],
    price_rod: float | None,
    price_rod_metre: float | None,
    price_trench: float | None,
    price_wire: float | None,
    as_json: bool,
) -> None:
    """Propose rods, a ring or both that meet a goal on a plot.

    The goal is a resistance, or a touch voltage with the current into the earth, which is that of
    the network's fault ('bondwright earth SITE'). The plot lies from x 0, y 0 on.
    """
    from bondwright.catalog.earth_data import earth_data
    from bondwright.cli.earth_files import parse_soil
    from bondwright.cli.tables import print_table
    from bondwright.earth import design
    from bondwright.explain.earth import tell_proposals
    from bondwright.units import Dimension, parse, show

    prices = (price_rod, price_rod_metre, price_trench, price_wire)
    given = [price for price in prices if price is not None]
    if given and len(given) < len(prices):
        raise click.UsageError("give all four prices or none")
    soils = [parse_soil(text) for text in soil]
    if seasons:
        dry = earth_data().seasons["dry"]
        soils += [one.with_top(dry.depth_m, dry.factor) for one in soils]
    lengths = tuple(parse(text, Dimension.LENGTH) for text in rods)
    wide, long = (parse(text, Dimension.LENGTH) for text in plot)
    place = design.Plot(wide, long, lengths) if lengths else design.Plot(wide, long)
    if (goal is None) == (touch is None) or (touch is None) != (current is None):
        raise click.UsageError("give --goal, or --touch with --current")
    if goal is not None:
        wanted = design.Goal(parse(goal, Dimension.RESISTANCE))
    else:
        spots = [(parse(x, Dimension.LENGTH), parse(y, Dimension.LENGTH)) for x, y in corners]
        whole = [(0.0, 0.0), (wide, 0.0), (wide, long), (0.0, long), (0.0, 0.0)]
        wanted = design.Goal(
            touch_v=quantity(touch, Dimension.VOLTAGE),
            current_a=quantity(current, Dimension.CURRENT),
            outline=tuple(spots or whole),
        )
    costs = design.UnitCosts(given[0], given[1], given[2], given[3]) if given else None
    found = design.propose(soils, wanted, place, costs)
    story = tell_proposals(found, wanted)
    if not as_json:
        print_table(
            ["arrangement", "resistance", "touch", "rods", "rod", "trench", "cost"],
            [
                [
                    one.words,
                    show(one.resistance_ohm, Dimension.RESISTANCE),
                    "" if touch is None else show(one.value, Dimension.VOLTAGE),
                    str(one.rods),
                    f"{one.rod_metres:.3g} m",
                    f"{one.trench_m:.3g} m",
                    "no prices" if one.cost is None else f"{one.cost:,.0f}",
                ]
                for one in found
            ],
        )
    data: dict[str, object] = {
        "arrangements": [
            {
                "words": one.words,
                "verdict": one.verdict.value,
                "resistance_ohm": one.resistance_ohm,
                "touch_v": None if touch is None else one.value,
                "rods": one.rods,
                "rod_m": one.rod_m,
                "trench_m": one.trench_m,
                "cost": one.cost,
            }
            for one in found
        ]
    }
    print_story(story, data, as_json)


@earth.command()
@json_option
def soils(as_json: bool) -> None:
    """List typical soils: a place to start from before anything is measured, never a result."""
    from bondwright.catalog.earth_data import typical_soils
    from bondwright.cli.tables import print_table

    found = typical_soils()
    if as_json:
        rows = [
            {
                "name": one.name,
                "average_ohm_m": one.average,
                "least_ohm_m": one.least,
                "most_ohm_m": one.most,
                "status": one.source.status.value,
            }
            for one in found
        ]
        print_json({"format": FORMAT, "version": VERSION, "soils": rows})
        return
    print_table(
        ["soil", "average (ohm m)", "range (ohm m)", "source"],
        [
            [
                one.name,
                "none given" if one.average is None else f"{one.average:g}",
                f"{one.least:g} to {one.most:g}",
                one.source.status.value,
            ]
            for one in found
        ],
    )
    echo_text(
        "Typical, not measured: soils of one name differ by a hundred times. Only a survey tells "
        "('bondwright earth layers')."
    )


earth.add_command(judge)
earth.add_command(site_command)
