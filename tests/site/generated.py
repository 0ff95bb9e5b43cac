"""Sound sites by the thousand, for property tests."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from bondwright.catalog.conductors import resistance_dc
from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.raceways import RacewayKind, trade_sizes
from bondwright.catalog.sizes import Conductor, Material, metric_sizes, standard_sizes
from bondwright.catalog.systems import VoltageSystem
from bondwright.earth.soil import Soil
from bondwright.site.areas import BONDED
from bondwright.site.fields import NoWire
from bondwright.site.model import (
    Area,
    AreaKind,
    Array,
    ArrayGrounded,
    AvailableCurrent,
    Curve,
    CurvePoint,
    Describes,
    DirectCurrent,
    DirectCurrentGrounded,
    DirectCurrentSource,
    Draws,
    Electrode,
    ElectrodeKind,
    Enlarged,
    Fitting,
    Flexible,
    FlexibleKind,
    Generator,
    Inverter,
    Knockouts,
    Load,
    LoadOn,
    Metal,
    MetalKind,
    Module,
    Place,
    PlaceKind,
    Pole,
    Position,
    Raceway,
    Run,
    Sets,
    Site,
    Sleeve,
    Source,
    State,
    SupplyTransformer,
    SwitchedNeutral,
    Tap,
    Tie,
    TieForm,
    Transfer,
    Transformer,
    TransformerForm,
    Wiring,
)
from bondwright.units import UnitError

# Anything a person can type, and much they would not.
LETTERS = st.characters(exclude_categories=["Cs", "Cc"])
TEXTS = st.text(st.one_of(LETTERS, st.sampled_from("\n\t:#'\"{}[],&*!|>%@-")), max_size=40)
IDS = st.one_of(
    st.text(LETTERS, min_size=1, max_size=20),
    st.sampled_from(
        ["meter", "panel 1", "true", "null", "~", "3", "012", "1:30", "a: b", "# x", "- y",
         "<<", "{z}", "é 日本", " edge ", "it's", 'say "hi"', "x/r", "on", "*a", "&a", "!t"]
    ),
)  # fmt: skip


def amounts(least: float, most: float) -> st.SearchStrategy[float]:
    """Round amounts as people give them, and any float between."""
    return st.one_of(
        st.floats(least, most, allow_nan=False, exclude_min=least == 0),
        st.sampled_from([least or most / 100, most]),
    )


LENGTHS = st.one_of(
    st.integers(1, 400).map(lambda feet: feet * 0.3048),
    st.integers(1, 40).map(lambda eighths: eighths / 8 * 0.0254),
    amounts(1e-3, 1e4),
)
YEARS = st.none() | st.integers(1880, 2100)
WIRES = st.builds(
    Conductor,
    st.sampled_from([*standard_sizes(), *metric_sizes()]),
    st.sampled_from(Material),
    st.integers(1, 4),
).filter(lambda wire: _is_made(wire))
DEVICES = st.one_of(
    st.builds(
        DeviceRating,
        st.just(DeviceKind.BREAKER),
        st.sampled_from([15.0, 20.0, 60.0, 112.5, 400.0]),
        st.none(),
        st.none() | st.integers(1, 4),
    ),
    st.builds(DeviceRating, st.just(DeviceKind.MCB), st.just(32.0), st.sampled_from("BCD")),
    st.builds(
        DeviceRating, st.just(DeviceKind.FUSE), st.just(100.0), st.sampled_from([None, "gG"])
    ),
)
SINGLE = VoltageSystem.parse("120/240 V")
WYE = VoltageSystem.parse("480Y/277 V")
DELTA = VoltageSystem.parse("480 V delta")
HIGH_LEG = VoltageSystem.parse("120/240 V delta")
LOW = VoltageSystem.parse("208Y/120 V")


def _is_made(wire: Conductor) -> bool:
    """Whether the tables have a resistance for it: no stranded aluminium below 10 mm2, say."""
    try:
        resistance_dc(wire.size, wire.material)
    except UnitError:
        return False
    return True


@st.composite
def sites(draw: st.DrawFn) -> Site:
    """A tree of runs with everything on it that a description can hold."""
    names = draw(st.lists(IDS, min_size=7, max_size=12, unique=True))
    switch, generator, behind, inverter = names[-4:]
    names = names[:-4]
    system = draw(st.sampled_from([SINGLE, WYE, DELTA, HIGH_LEG]))
    transformer = names[2] if system is WYE and len(names) > 3 else None
    source, service, *rest = names
    places: dict[str, Place] = {
        service: Place(kind=PlaceKind.SERVICE, main=draw(st.none() | DEVICES))
    }
    feeders = [service]
    ends: dict[str, str] = {service: source}
    for name in rest:
        ends[name] = draw(st.sampled_from(feeders))
        if name != transformer:
            places[name] = draw(place_of(draw(st.sampled_from(PlaceKind))))
        if name != transformer:
            feeders.append(name)
    if transformer is not None and rest[-1] != transformer:
        ends[rest[-1]] = transformer
    more = 4 * draw(st.booleans())
    count = len(ends) + more
    run_ids = draw(st.lists(IDS, min_size=count, max_size=count, unique=True))
    form = draw(
        st.sampled_from(
            [TransformerForm.ISOLATING, TransformerForm.AUTO, TransformerForm.OPEN_DELTA]
        )
    )
    # What leaves an autotransformer is as far on the load side as the transformer is.
    makes = transformer if form is not TransformerForm.AUTO else None
    runs = {
        run: draw(run_of(start, end, end == service, start == makes))
        for run, (end, start) in zip(run_ids, ends.items(), strict=False)
    }
    transfers, generators, inverters = {}, {}, {}
    arrays: dict[str, Array] = {}
    ties = ties_at(service, system)
    if more:
        normal, standby, out, beside = run_ids[-4:]
        for run, start, end in (
            (normal, service, switch),
            (standby, generator, switch),
            (out, switch, behind),
            (beside, service, inverter),
        ):
            runs[run] = draw(run_of(start, end, False, False))
        transfers[switch] = Transfer(
            normal=normal, standby=standby, neutral=draw(st.sampled_from(SwitchedNeutral)),
            building=draw(st.none() | IDS), installed=draw(YEARS), note=draw(TEXTS),
        )  # fmt: skip
        generators[generator] = draw(generators_of(system))
        inverters[inverter] = draw(inverters_of(system))
        arrays = draw(st.dictionaries(IDS, arrays_at(inverter), max_size=2))
        places[behind] = draw(place_of(PlaceKind.PANEL))
        ties |= ties_at(generator, system)
    anywhere = st.sampled_from([*places, *generators, *inverters, *transfers])
    switched = [name for name, place in places.items() if place.main is not None]
    switched += [name for name, run in runs.items() if run.device is not None]
    return Site(
        site=draw(TEXTS),
        rules=draw(st.sampled_from(["nec-2017", "nec-2020", "nec-2023"])),
        describes=draw(st.sampled_from(Describes)),
        soil=draw(st.none() | amounts(1, 1e5).map(Soil.uniform)),
        frequency=draw(st.none() | st.sampled_from([50.0, 60.0])),
        conductor_temperature=draw(st.none() | amounts(-40, 90)),
        note=draw(TEXTS),
        sources={source: draw(sources_of(system))},
        places=places,
        generators=generators,
        inverters=inverters,
        arrays=arrays,
        curves=draw(st.dictionaries(st.sampled_from(["my relay", "3", "on"]), CURVES, max_size=2)),
        transfers=transfers,
        states=draw(
            st.dictionaries(
                IDS,
                states_of([source, *generators, *inverters], list(transfers), switched),
                max_size=2,
            )
        ),
        transformers=(
            {}
            if transformer is None
            else {
                transformer: Transformer(
                    primary=draw(st.sampled_from([DELTA, WYE])),
                    secondary=LOW,
                    rating=draw(amounts(1e3, 2e6)),
                    impedance=draw(amounts(0.001, 0.2)),
                    form=form,
                    outdoors=draw(st.booleans()),
                    note=draw(TEXTS),
                )
            }
        ),
        runs=runs,
        ties=draw(st.none() | st.dictionaries(IDS, ties, max_size=2)),
        electrodes=draw(st.dictionaries(IDS, electrodes_at(anywhere), max_size=3)),
        metal=draw(st.dictionaries(IDS, metal_between(anywhere), max_size=2)),
        areas=draw(st.dictionaries(IDS, areas_at(anywhere), max_size=2)),
        direct_current=draw(st.dictionaries(IDS, direct_current_at(anywhere), max_size=2)),
    )


PARTS = st.none() | amounts(0.01, 5)


def generators_of(system: VoltageSystem) -> st.SearchStrategy[Generator]:
    return st.builds(
        Generator,
        system=st.just(system),
        rating=amounts(1e3, 2e6),
        subtransient=PARTS,
        negative=PARTS,
        zero=PARTS,
        x_over_r=amounts(0.1, 100),
        portable=st.none() | st.booleans(),
        building=st.none() | IDS,
        installed=YEARS,
        note=TEXTS,
    )


def inverters_of(system: VoltageSystem) -> st.SearchStrategy[Inverter]:
    return st.builds(
        Inverter,
        system=st.just(system),
        rating=amounts(1e3, 2e6),
        limit=PARTS,
        building=st.none() | IDS,
        installed=YEARS,
        note=TEXTS,
    )


def arrays_at(inverter: str) -> st.SearchStrategy[Array]:
    ways: st.SearchStrategy[dict[str, Any]] = st.one_of(
        st.fixed_dictionaries(
            {"grounded": st.just(ArrayGrounded.FUSE), "pole": st.none() | st.sampled_from(Pole),
             "ground_fuse": st.none() | amounts(0.1, 10)}
        ),
        st.fixed_dictionaries(
            {"grounded": st.just(ArrayGrounded.INVERTER), "monitor": st.none() | amounts(0.01, 5),
             "insulation_alarm": st.none() | amounts(1, 1e6)}
        ),
        st.just({"grounded": ArrayGrounded.NONE}),
    )  # fmt: skip
    return st.builds(
        lambda way, label, series, strings, length, wire, egc, device, ohms, over, year, note: (
            Array(
                at=inverter,
                module=label,
                in_series=series,
                strings=strings,
                length=length,
                lines=wire,
                egc=egc,
                device=device,
                insulation=ohms,
                on_building=over,
                installed=year,
                note=note,
                **way,
            )
        ),
        ways,
        st.builds(
            lambda volts, amps, part: Module(
                open_circuit=volts,
                short_circuit=amps,
                voltage=None if part is None else volts * part,
                current=None if part is None else amps * part,
            ),
            amounts(1, 500),
            amounts(0.1, 30),
            st.none() | st.floats(0.5, 0.95),
        ),
        st.integers(1, 40),
        st.integers(1, 500),
        LENGTHS,
        WIRES,
        st.none() | st.just(NoWire.NONE) | WIRES,
        st.none() | DEVICES,
        st.none() | amounts(1, 1e9),
        st.booleans(),
        YEARS,
        TEXTS,
    )


@st.composite
def _curves(draw: st.DrawFn) -> Curve:
    """A band as off a sheet: the slow edge is the quick one moved up and to the right."""
    count = draw(st.integers(1, 4))
    amps = sorted(draw(st.lists(amounts(1, 1e5), min_size=count, max_size=count)))
    times = sorted(draw(st.lists(amounts(1e-3, 1e4), min_size=count, max_size=count)), reverse=True)
    quick = [CurvePoint(current=a, time=t) for a, t in zip(amps, times, strict=True)]
    slow = [CurvePoint(current=1.5 * a, time=2 * t) for a, t in zip(amps, times, strict=True)]
    return Curve(quick=quick, slow=slow, note=draw(TEXTS))


CURVES = _curves()


def states_of(
    origins: list[str], switches: list[str], switched: list[str]
) -> st.SearchStrategy[State]:
    return st.builds(
        State,
        on=st.none() | st.lists(st.sampled_from(origins), unique=True),
        transfers=st.dictionaries(st.sampled_from(switches), st.sampled_from(Position))
        if switches
        else st.just({}),
        open_=st.lists(st.sampled_from(switched), unique=True) if switched else st.just([]),
        note=TEXTS,
    )


def sources_of(system: VoltageSystem) -> st.SearchStrategy[Source]:
    strength: st.SearchStrategy[dict[str, Any]] = st.one_of(
        st.builds(
            SupplyTransformer,
            rating=amounts(1e3, 1e7),
            impedance=amounts(0.001, 0.2),
            x_over_r=amounts(0.1, 100),
        ).map(lambda plate: {"transformer": plate}),
        st.builds(
            AvailableCurrent, current=amounts(10, 2e5), line_to_neutral=st.none() | amounts(10, 2e5)
        ).map(lambda current: {"available": current}),
    )
    return st.builds(
        lambda how, ground, note: Source(system=system, electrode=ground, note=note, **how),
        strength,
        st.none() | st.just(0.0) | amounts(0, 1e3),
        TEXTS,
    )


def place_of(kind: PlaceKind) -> st.SearchStrategy[Place]:
    return st.builds(
        Place,
        kind=st.just(kind),
        building=st.none() | IDS,
        main=st.none() | DEVICES,
        loads=st.lists(
            st.builds(
                Load,
                on=st.just(LoadOn.L1_L2),
                power=amounts(1, 1e6),
                pf=amounts(0.1, 1),
                draws=st.sampled_from(Draws),
                harmonics=st.dictionaries(st.integers(2, 49), amounts(1e-4, 2), max_size=3),
                leakage=st.none() | amounts(1e-5, 1),
                note=TEXTS,
            ),
            max_size=2,
        ),
        enclosure=st.sampled_from(["metal", "nonmetallic"]),
        intersystem=st.none() | st.just(NoWire.NONE) | WIRES,
        installed=YEARS,
        note=TEXTS,
    )


@st.composite
def run_of(draw: st.DrawFn, start: str, end: str, supply: bool, derived: bool) -> Run:
    kind = draw(st.sampled_from(RacewayKind))
    wiring = draw(st.none() | st.sampled_from(Wiring))
    raceway = None
    if wiring in (None, Wiring.RACEWAY):
        raceway = Raceway(kind=kind, size=draw(st.sampled_from(trade_sizes(kind))))
    bonds: list[Any] = [None, NoWire.NONE, draw(WIRES)]
    if raceway is not None and kind.is_metal:
        bonds.append(NoWire.RACEWAY)
    bond = draw(st.sampled_from(bonds))
    lines = draw(WIRES)
    needed = draw(st.none() | WIRES.filter(lambda wire: wire.material is lines.material))
    length = draw(LENGTHS)
    ends: dict[str, Any] = {}
    if raceway is not None and kind.is_metal:
        ends = draw(raceway_ends(length))
    if lines.sets > 1:
        ends["sets"] = draw(st.none() | st.sampled_from(Sets))
    if not supply and not derived:
        ends["motor_current"] = draw(st.none() | amounts(0.1, 2000))
    # A device at the start of every load-side run, so that its side is known here.
    return Run(
        from_=start,
        to=end,
        length=length,
        lines=lines,
        neutral=None,
        egc=None if supply or derived else bond,
        ssbj=bond if supply or derived else None,
        device=None if supply or derived else draw(DEVICES),
        needed=needed,
        enlarged=draw(st.sampled_from(Enlarged)),
        wiring=wiring,
        raceway=raceway,
        installed=draw(YEARS),
        note=draw(TEXTS),
        **ends,
    )


@st.composite
def raceway_ends(draw: st.DrawFn, length: float) -> dict[str, Any]:
    """How a metal raceway ends, and a flexible piece in it."""
    fittings = draw(st.none() | st.sampled_from(Fitting))
    bushing = fittings is Fitting.BONDING_BUSHING
    piece = st.builds(
        Flexible,
        kind=st.sampled_from(FlexibleKind),
        size=st.sampled_from(["3/8 in", "1/2 in", "3/4 in", "1-1/4 in", "2 in"]),
        # Short, so that a run can be made shorter and still hold it.
        length=st.sampled_from([min(length, 20.0), min(length, 20.0) / 2]),
        moves=st.booleans(),
    )
    return {
        "fittings": fittings,
        "knockouts": draw(st.none() | st.sampled_from(Knockouts)),
        "bushing_jumper": draw(st.none() | WIRES) if bushing else None,
        "flexible": draw(st.none() | piece),
    }


def areas_at(places: st.SearchStrategy[str]) -> st.SearchStrategy[Area]:
    def area(kind: AreaKind) -> st.SearchStrategy[Area]:
        bond = st.none() | st.just(NoWire.NONE) | WIRES if kind in BONDED else st.none()
        return st.builds(
            Area, kind=st.just(kind), at=places, bond=bond, installed=YEARS, note=TEXTS
        )

    return st.sampled_from(AreaKind).flatmap(area)


def direct_current_at(places: st.SearchStrategy[str]) -> st.SearchStrategy[DirectCurrent]:
    jumpers = st.none() | st.just(NoWire.NONE) | WIRES

    def system(wires: int, grounded: DirectCurrentGrounded) -> st.SearchStrategy[DirectCurrent]:
        return st.builds(
            DirectCurrent,
            at=places,
            source=st.sampled_from(DirectCurrentSource),
            voltage=amounts(1, 1500),
            wires=st.just(wires),
            balancer=st.booleans() if wires == 3 else st.just(False),
            lines=WIRES,
            neutral=st.none() | WIRES if wires == 3 else st.none(),
            grounded=st.just(grounded),
            jumper=jumpers if grounded is DirectCurrentGrounded.SOLID else st.none(),
            conductor=jumpers,
            electrode=st.none() | st.sampled_from(ElectrodeKind),
            detector=st.none() | st.booleans(),
            installed=YEARS,
            note=TEXTS,
        )

    ways = st.tuples(st.sampled_from([2, 3]), st.sampled_from(DirectCurrentGrounded))
    return ways.flatmap(lambda way: system(*way))


def ties_at(place: str, system: VoltageSystem) -> st.SearchStrategy[Tie]:
    """Ties of the neutral where there is one, and of any line."""
    lines = st.sampled_from(system.lines)
    return st.builds(
        Tie,
        at=st.just(place),
        line=st.none() | lines if system.has_neutral else lines,
        by=st.sampled_from(TieForm),
        size=st.none() | WIRES,
        resistance=st.none() | amounts(0, 1e3),
        note=TEXTS,
    )


def electrodes_at(places: st.SearchStrategy[str]) -> st.SearchStrategy[Electrode]:
    rods = st.builds(
        Electrode,
        kind=st.just(ElectrodeKind.ROD),
        at=places,
        conductor=st.none() | st.just(NoWire.NONE) | WIRES,
        lead=st.none() | LENGTHS,
        length=st.none() | LENGTHS,
        diameter=st.none() | LENGTHS,
        count=st.integers(2, 1000),
        spacing=st.none() | LENGTHS,
        lightning=st.booleans(),
        apart=st.none() | LENGTHS,
        note=TEXTS,
    )
    pipes = st.builds(
        Electrode,
        kind=st.just(ElectrodeKind.WATER_PIPE),
        at=places,
        conductor=st.none() | WIRES,
        sleeve=st.none() | st.sampled_from(Sleeve),
        from_entry=st.none() | LENGTHS,
    )
    rings = st.builds(
        Electrode,
        kind=st.just(ElectrodeKind.RING),
        at=places,
        length=LENGTHS,
        ring_conductor=WIRES,
        resistance=st.none() | amounts(0, 1e4),
    )
    return rods | rings | pipes


def metal_between(places: st.SearchStrategy[str]) -> st.SearchStrategy[Metal]:
    how: st.SearchStrategy[dict[str, float]] = st.one_of(
        amounts(0, 10).map(lambda value: {"resistance": value}),
        amounts(1e-7, 10).map(lambda value: {"per_length": value}),
    )
    taps = st.lists(st.tuples(st.floats(1e-3, 1), places, st.none() | amounts(0, 10)), max_size=2)
    return st.builds(
        lambda kind, start, end, length, known, earth, taps, year: Metal(
            kind=kind,
            from_=start,
            to=end,
            length=length,
            earth=earth,
            isolated=kind is MetalKind.WATER_PIPE and taps == [],
            taps=[Tap(at=part * length, to=to, resistance=ohms) for part, to, ohms in taps],
            installed=year,
            **known,
        ),
        st.sampled_from(MetalKind),
        places,
        places,
        LENGTHS,
        how,
        st.none() | amounts(0, 1e4),
        taps,
        YEARS,
    )
