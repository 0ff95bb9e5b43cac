"""Single questions, answered without a site file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from bondwright.cli.common import (
    echo_because,
    echo_caution,
    echo_text,
    json_option,
    plain_errors,
    print_json,
)

if TYPE_CHECKING:
    from bondwright.rules.answer import Answer
    from bondwright.site.model import Site

_RULES = ("nec-2017", "nec-2020", "nec-2023")
_METAL = click.Choice(["Cu", "Al"], case_sensitive=False)


def _rules_option(function: Any) -> Any:
    return click.option(
        "--rules",
        type=click.Choice(_RULES),
        default="nec-2023",
        show_default=True,
        help="The edition to answer by.",
    )(function)


@click.group()
def quick() -> None:
    """Answer one question without a site file.

    Sizes are written '4 AWG Cu', '2 x 500 kcmil Cu'; lengths '75 ft'; always with the unit.
    """


def _show(answer: Answer, as_json: bool) -> None:
    if as_json:
        print_json(answer.as_dict())
        return
    click.echo(f"{answer.size}")
    click.echo(f"  {answer.clause}; table row {answer.status}")
    echo_because(answer.because)
    echo_caution()


def _show_numbers(
    headline: str, numbers: dict[str, object], because: tuple[str, ...], rules: str, as_json: bool
) -> None:
    if as_json:
        print_json({"answer": numbers, "because": list(because), "rules": rules})
        return
    click.echo(headline)
    echo_because(because)
    echo_caution()


def _metal(text: str) -> Any:
    from bondwright.catalog.sizes import Material

    return Material.parse(text)


@quick.command()
@click.option("--supply", help="Line conductors of the supply, like '2 x 500 kcmil Cu'.")
@click.option("--breaker", hidden=True)
@click.option(
    "--role",
    type=click.Choice(["main", "system", "supply-side"]),
    default="main",
    show_default=True,
    help="Main (service), system (derived source) or supply-side bonding jumper.",
)
@click.option(
    "--material", type=_METAL, default="Cu", show_default=True, help="Metal of the jumper."
)
@_rules_option
@json_option
@plain_errors
def jumper(
    supply: str | None, breaker: str | None, role: str, material: str, rules: str, as_json: bool
) -> None:
    """Size a main, system or supply-side bonding jumper from the supply conductors."""
    from bondwright.rules.inputs import JUMPERS_FOLLOW_SUPPLY, SupplyConductors
    from bondwright.rules.jumpers import JumperRole, bonding_jumper

    if breaker is not None:
        raise click.UsageError(
            f"a bonding jumper is not sized from a breaker. {_sentence(JUMPERS_FOLLOW_SUPPLY)}"
        )
    if supply is None:
        raise click.UsageError("name the supply conductors: --supply '3/0 AWG Cu'")
    answer = bonding_jumper(
        SupplyConductors.parse(supply), JumperRole(role), _metal(material), rules
    )
    _show(answer, as_json)


def _sentence(text: str) -> str:
    plain = text.rpartition(";")[0] or text
    return plain[0].upper() + plain[1:] + "."


@quick.command()
@click.option("--supply", help="Line conductors of the supply, like '350 kcmil Cu'.")
@click.option("--breaker", hidden=True)
@click.option(
    "--electrode",
    type=click.Choice(["any", "rod", "concrete", "ring", "pipe", "steel"]),
    default="any",
    show_default=True,
    help="What the conductor leads to, and to nothing else.",
)
@click.option(
    "--material", type=_METAL, default="Cu", show_default=True, help="Metal of the conductor."
)
@_rules_option
@json_option
@plain_errors
def gec(
    supply: str | None,
    breaker: str | None,
    electrode: str,
    material: str,
    rules: str,
    as_json: bool,
) -> None:
    """Size a grounding electrode conductor from the supply conductors."""
    from bondwright.rules.electrodes import ServedBy, electrode_conductor
    from bondwright.rules.inputs import JUMPERS_FOLLOW_SUPPLY, SupplyConductors

    if breaker is not None:
        raise click.UsageError(
            f"no electrode conductor is sized from a breaker. {_sentence(JUMPERS_FOLLOW_SUPPLY)}"
        )
    if supply is None:
        raise click.UsageError("name the supply conductors: --supply '350 kcmil Cu'")
    answer = electrode_conductor(
        SupplyConductors.parse(supply), ServedBy(electrode), _metal(material), rules
    )
    _show(answer, as_json)


@quick.command()
@click.option("--breaker", help="The overcurrent device ahead, like '60 A' or '100 A fuse'.")
@click.option("--supply", hidden=True)
@click.option(
    "--material", type=_METAL, default="Cu", show_default=True, help="Metal of the conductor."
)
@click.option("--line", help="Line conductors installed, like '8 AWG Cu'.")
@click.option("--needed", help="Line conductors that ampacity alone would need, like '12 AWG Cu'.")
@click.option(
    "--enlarged-for",
    type=click.Choice(["voltage drop", "ambient or bundling"]),
    default="voltage drop",
    show_default=True,
    help="Why the lines are larger than needed.",
)
@_rules_option
@json_option
@plain_errors
def egc(
    breaker: str | None,
    supply: str | None,
    material: str,
    line: str | None,
    needed: str | None,
    enlarged_for: str,
    rules: str,
    as_json: bool,
) -> None:
    """Size an equipment grounding conductor from its breaker."""
    from bondwright.catalog.sizes import Conductor
    from bondwright.rules.equipment import equipment_ground
    from bondwright.rules.inputs import GROUNDS_FOLLOW_DEVICE, ProtectiveDevice
    from bondwright.site.model import Enlarged

    if supply is not None:
        raise click.UsageError(
            "an equipment grounding conductor is not sized from the supply conductors. "
            f"{_sentence(GROUNDS_FOLLOW_DEVICE)}"
        )
    if breaker is None:
        raise click.UsageError("name the overcurrent device: --breaker '60 A'")
    answer = equipment_ground(
        ProtectiveDevice.parse(breaker),
        _metal(material),
        rules,
        Conductor.parse(line) if line else None,
        Conductor.parse(needed) if needed else None,
        Enlarged(enlarged_for),
    )
    _show(answer, as_json)


@quick.command()
@click.option("--soil", required=True, help="Soil resistivity, like '100 ohm m'.")
@click.option("--length", required=True, help="Driven length, like '8 ft'.")
@click.option("--diameter", required=True, help="Rod diameter, like '5/8 in'.")
@click.option(
    "--count", type=click.IntRange(1, 100), default=1, show_default=True, help="Rods in line."
)
@click.option("--spacing", help="Distance between rods, like '10 ft' (with --count).")
@json_option
@plain_errors
def rod(
    soil: str, length: str, diameter: str, count: int, spacing: str | None, as_json: bool
) -> None:
    """Work out the resistance of ground rods in uniform soil."""
    from bondwright.earth.rods import rods_in_line_resistance
    from bondwright.units import Dimension, parse, show

    rho = parse(soil, Dimension.RESISTIVITY)
    long = parse(length, Dimension.LENGTH)
    thick = parse(diameter, Dimension.LENGTH)
    if count > 1 and spacing is None:
        raise click.UsageError("say how far apart the rods are: --spacing '10 ft'")
    apart = parse(spacing, Dimension.LENGTH) if spacing else long
    group = rods_in_line_resistance(rho, long, thick, count, apart)
    because = [
        f"One rod in uniform soil: R = rho / (2 pi L) x (ln(8 L / d) - 1) = "
        f"{show(group.single_ohm, Dimension.RESISTANCE)} (H. B. Dwight, 1936).",
    ]
    if count > 1:
        because.append(
            f"{count} rods {show(apart, Dimension.LENGTH)} apart share the same soil, so they make "
            f"{show(group.resistance_ohm, Dimension.RESISTANCE)}, not "
            f"{show(group.single_ohm / count, Dimension.RESISTANCE)}."
        )
    because.append(
        "Real soil is layered and changes with the seasons: measure the installed electrode. "
        "However low its resistance, earth is no path that opens a breaker."
    )
    _show_numbers(
        show(group.resistance_ohm, Dimension.RESISTANCE),
        {
            "resistance_ohm": group.resistance_ohm,
            "single_rod_ohm": group.single_ohm,
            "rods": count,
            "shares": list(group.shares),
        },
        tuple(because),
        "uniform soil",
        as_json,
    )


@quick.command()
@click.option("--size", "size_", required=True, help="The conductor, like '4 AWG Cu'.")
@click.option("--time", "time_", required=True, help="How long the current flows, like '0.1 s'.")
@click.option("--from", "start", default="75 degC", show_default=True, help="Temperature before.")
@click.option("--to", "end", default="150 degC", show_default=True, help="Temperature allowed.")
@json_option
@plain_errors
def withstand(size_: str, time_: str, start: str, end: str, as_json: bool) -> None:
    """Find the current a conductor survives for a time (adiabatic)."""
    from bondwright.catalog.sizes import Conductor
    from bondwright.safety.withstand import withstand_current
    from bondwright.units import Dimension, parse, show

    wire = Conductor.parse(size_)
    seconds = parse(time_, Dimension.TIME)
    before, after = parse(start, Dimension.TEMPERATURE), parse(end, Dimension.TEMPERATURE)
    amperes = wire.sets * withstand_current(wire.area_cmil, wire.material, seconds, before, after)
    because = (
        f"{wire} from {before:g} to {after:g} degC in {show(seconds, Dimension.TIME)} with no heat "
        "lost: (I/A)^2 t = C log10((T2 + K)/(T1 + K)) (ICEA P-32-382).",
        "Below 0.1 s a current-limiting device lets less energy through; above 5 s the conductor "
        "sheds heat, so it can take more.",
    )
    _show_numbers(
        show(amperes, Dimension.CURRENT),
        {"current_a": amperes, "size": str(wire), "time_s": seconds},
        because,
        "ICEA P-32-382",
        as_json,
    )


@quick.command()
@click.option("--system", default="120/240 V", show_default=True, help="Voltage system.")
@click.option("--transformer", help="Utility transformer rating, like '25 kVA' (with --impedance).")
@click.option("--impedance", help="Its impedance, like '2.1 %'.")
@click.option("--available", help="Or the available fault current, like '10 kA'.")
@click.option(
    "--x-over-r", "x_over_r", type=click.FloatRange(0.01, 100), help="X/R ratio of the source."
)
@click.option("--length", required=True, help="One-way length of the run, like '220 ft'.")
@click.option("--line", required=True, help="Line conductor, like '4 AWG Cu'.")
@click.option(
    "--egc", "ground", required=True, help="Equipment grounding conductor, like '8 AWG Cu'."
)
@click.option("--raceway", help="Raceway around them, like 'emt 1 in' or 'pvc 2 in'; else a cable.")
@click.option("--breaker", help="The device ahead, like '60 A'.")
@json_option
@plain_errors
def fault(as_json: bool, **facts: Any) -> None:
    """Find the current of a line-to-metal fault at the end of a run, and the voltage on the metal.

    The source and the run are solved as a circuit; the neutral is joined to metal at the start
    of the run.
    """
    from bondwright.network.build import build
    from bondwright.plan.build import plan
    from bondwright.studies.faults import Fault, FaultKind, study_fault
    from bondwright.units import Dimension, show

    made = plan(_fault_site(**facts))
    result = study_fault(
        build(made, loads=False), Fault("load", FaultKind.LINE_TO_METAL, "L1", "G")
    )
    because = [
        f"Loop impedance {show(result.loop, Dimension.RESISTANCE)} at {result.angle:.0f} degrees: "
        "source, line out, equipment grounding conductor back to the tie.",
        f"While it flows the metal at the far end stands at "
        f"{show(result.touch['load'], Dimension.VOLTAGE)} to remote earth "
        f"({result.touch_verdict.verdict} for that time by the "
        f"{result.touch_verdict.condition} limit of {result.touch_verdict.limit_v:.0f} V).",
    ]
    opening = result.openings[0] if result.openings else None
    if opening is not None:
        because.append(
            f"The {opening.rating} opens between {show(opening.fastest, Dimension.TIME)} and "
            f"{show(opening.slowest, Dimension.TIME)}."
        )
    elif facts["breaker"]:
        because.append(f"The {facts['breaker']} device is not certain to open at all.")
    because += dict.fromkeys(
        f"Assumed: {item.text}" for item in made.assumptions if item.where != "terminals"
    )
    _show_numbers(
        f"{show(result.current, Dimension.CURRENT)}, metal at "
        f"{show(result.touch['load'], Dimension.VOLTAGE)}",
        {
            "current_a": result.current,
            "loop_ohm": result.loop,
            "metal_to_earth_v": result.touch["load"],
            "opens_fastest_s": opening.fastest if opening else None,
            "opens_slowest_s": opening.slowest if opening else None,
            "verdict": result.verdict.value,
        },
        tuple(because),
        "network study",
        as_json,
    )


def _fault_site(
    *,
    system: str,
    transformer: str | None,
    impedance: str | None,
    available: str | None,
    x_over_r: float | None,
    length: str,
    line: str,
    ground: str,
    raceway: str | None,
    breaker: str | None,
) -> Site:
    from bondwright.catalog.systems import VoltageSystem
    from bondwright.site.check import problems

    if (transformer is None) == (available is None):
        raise click.UsageError("give either --transformer with --impedance, or --available")
    if transformer is not None and impedance is None:
        raise click.UsageError("give the transformer's --impedance, like '2.1 %'")
    ratio = {} if x_over_r is None else {"x/r": x_over_r}
    voltages = VoltageSystem.parse(system)
    if not voltages.has_neutral:
        raise click.UsageError("a delta system has no neutral to join to metal")
    strength = (
        {"transformer": {"rating": transformer, "impedance": impedance, **ratio}}
        if transformer is not None
        else {"available": {"current": available, **ratio}}
    )
    run: dict[str, Any] = {
        "from": "start", "to": "load", "length": length, "lines": line, "on": ["L1"],
        "neutral": "none", "egc": ground, "device": breaker,
    }  # fmt: skip
    if raceway is not None:
        kind, _, size = raceway.partition(" ")
        run["raceway"] = {"kind": kind, "size": size}
    site = _validated(
        {
            "site": "quick fault",
            "sources": {"source": {"system": voltages, **strength}},
            "places": {"start": {"kind": "service"}, "load": {"kind": "equipment"}},
            "runs": {
                # The run starts at the source's terminals: this one has no length to speak of.
                "terminals": {"from": "source", "to": "start", "length": 0.001, "lines": line},
                "run": run,
            },
        }
    )
    found = problems(site)
    if found:
        raise ValueError("; ".join(f"{one.loc[-1]} {one.problem}; {one.hint}" for one in found))
    return site


def _validated(described: dict[str, Any]) -> Site:
    """Return the site, or raise the first problem as an error about what was written."""
    from pydantic import ValidationError

    from bondwright.site.model import Site
    from bondwright.units import UnitError

    try:
        return Site.model_validate(described)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        about = first.get("ctx", {})
        problem = str(about.get("problem", first["msg"]))
        hint = str(about.get("hint", "")) or None
        raise UnitError(str(about.get("text") or first["input"]), problem, hint) from error


_YES_NO = click.Choice(["yes", "no", "unknown"])


@quick.command()
@click.option("--first", type=_YES_NO, default="unknown", help="Is it the first disconnect?")
@click.option(
    "--ground", type=_YES_NO, default="unknown", help="Does an EGC arrive with the feeder?"
)
@click.option(
    "--metal", type=_YES_NO, default="unknown", help="Does other metal reach back to the supply?"
)
@click.option(
    "--before", type=_YES_NO, default="unknown", help="Is the feeder older than that edition?"
)
@_rules_option
@json_option
@plain_errors
def screw(first: str, ground: str, metal: str, before: str, rules: str, as_json: bool) -> None:
    """Say whether a panel's bonding screw belongs in or out; what is not known is asked."""
    from bondwright.rules.bonding_screw import bonding_screw

    known = {"yes": True, "no": False, "unknown": None}
    answer = bonding_screw(known[first], known[ground], known[metal], known[before], rules)
    if as_json:
        numbers: dict[str, object] = {
            "screw": str(answer.screw),
            "rule": answer.rule,
            "clause": answer.clause,
            "severity": str(answer.severity),
            "do": list(answer.do),
            "ask": list(answer.ask),
        }
        print_json({"answer": numbers, "because": list(answer.because), "rules": rules})
        return
    click.echo(f"{answer.screw}")
    click.echo(f"  {answer.clause}")
    echo_because(answer.because)
    for step in answer.do:
        echo_text(step)
    for question in answer.ask:
        echo_text(f"Ask: {question}")
    echo_caution()
