"""Single questions by IEC 60364, answered without a site file."""

from __future__ import annotations

import click

from bondwright.cli.common import json_option, plain_errors
from bondwright.cli.quick import _metal, _show, _show_numbers

_METAL = click.Choice(["Cu", "Al"], case_sensitive=False)
_RULES = "iec-60364-2017"


@click.command()
@click.option("--line", help="Line conductor of the circuit, like '2.5 mm2 Cu'.")
@click.option("--current", help="Fault current, like '1 kA': size by the heat of the fault.")
@click.option("--time", "time_", help="Until the device has opened for sure, like '0.4 s'.")
@click.option("--let-through", type=float, help="Energy the device lets through, A2 s.")
@click.option(
    "--material", type=_METAL, default="Cu", show_default=True, help="Metal of the conductor."
)
@json_option
@plain_errors
def protective(
    line: str | None,
    current: str | None,
    time_: str | None,
    let_through: float | None,
    material: str,
    as_json: bool,
) -> None:
    """Size a protective conductor by IEC 60364-5-54: by its line, or by the heat of a fault."""
    from bondwright.catalog.sizes import Conductor
    from bondwright.rules.iec.conductors import protective_conductor
    from bondwright.rules.iec.heat import Fault, by_heat
    from bondwright.units import Dimension, parse

    if (current is None) != (time_ is None):
        raise click.UsageError("the heat of a fault needs both --current and --time")
    if current is not None and time_ is not None:
        fault = Fault(parse(current, Dimension.CURRENT), parse(time_, Dimension.TIME), let_through)
        _show(by_heat(fault, _metal(material), _RULES), as_json)
        return
    if line is None:
        raise click.UsageError("name the line conductor: --line '2.5 mm2 Cu'; or a fault")
    _show(protective_conductor(Conductor.parse(line), _metal(material), _RULES), as_json)


@click.command()
@click.option("--device", required=True, help="The device, like 'B32' or '63 A RCD 100 mA'.")
@click.option(
    "--earthing",
    type=click.Choice(["TN-S", "TN-C-S", "TT"]),
    default="TN-S",
    show_default=True,
    help="Earthing arrangement of the supply.",
)
@click.option("--voltage", default="230 V", show_default=True, help="Voltage of a line to earth.")
@click.option(
    "--circuit",
    type=click.Choice(["sockets", "fixed equipment", "distribution"]),
    default="sockets",
    show_default=True,
    help="What the circuit feeds.",
)
@click.option(
    "--factor",
    type=click.FloatRange(0.5, 1.0),
    default=1.0,
    show_default=True,
    help="Factor for the least voltage in service, where national rules have one, like 0.95.",
)
@json_option
@plain_errors
def loop(
    device: str, earthing: str, voltage: str, circuit: str, factor: float, as_json: bool
) -> None:
    """Say how high a fault loop, or in a TT system an electrode, may be (IEC 60364-4-41)."""
    from bondwright.catalog.device_rating import DeviceRating
    from bondwright.catalog.iec_tables import iec_number
    from bondwright.rules.iec.arrangements import Earthing
    from bondwright.rules.iec.ruleset import clause
    from bondwright.rules.iec.times import disconnection_time, loop_limit
    from bondwright.units import Dimension, parse, show

    rating, arranged = DeviceRating.parse(device), Earthing(earthing)
    volts = parse(voltage, Dimension.VOLTAGE)
    time = disconnection_time(
        volts,
        arranged,
        rating.rating_a,
        _RULES,
        final=circuit != "distribution",
        sockets=circuit == "sockets",
    )
    because = list(time.because)
    numbers: dict[str, object] = {"time_s": time.time_s, "device": str(rating)}
    if arranged is Earthing.TT:
        if rating.residual_a is None:
            raise click.UsageError(
                "a TT system needs a residual-current device; write it like '63 A RCD 100 mA'"
            )
        touch = iec_number("touch_limit", "ac").value
        ohm, where = touch / rating.residual_a, clause("iec-tt-residual-device", _RULES)
        because.append(
            f"RA x IdeltaN is at most {touch:g} V: {touch:g} V / {1000 * rating.residual_a:g} mA "
            f"= {ohm:.4g} ohm of electrode and protective conductor ({where})."
        )
        because.append(
            "Such an electrode is not stable: aim for far less, and measure it in the dry season."
        )
        numbers["electrode_ohm"] = ohm
    else:
        limit = loop_limit(rating, time.time_s, volts, _RULES, cmin=factor)
        ohm = limit.ohm
        because += limit.because
        because.append(
            f"That is with hot conductors ({limit.clause}); a loop measured cold has to be lower."
        )
        numbers |= {"loop_ohm": ohm, "operating_a": limit.operating_a}
    _show_numbers(
        f"{show(ohm, Dimension.RESISTANCE)} at most, within {time.time_s:g} s",
        numbers,
        tuple(because),
        _RULES,
        as_json,
    )
