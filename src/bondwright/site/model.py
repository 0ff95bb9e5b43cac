"""The description of a site: what stands there, in the words of the person who looks after it.

The models hold what was said, nothing that follows from it; what follows is worked out in
:mod:`bondwright.site.topology` and the layers above. Every field that a person can leave out
has a default that the plan reports under "assumed".
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from bondwright.catalog.raceways import RacewayKind
from bondwright.site import fields as f
from bondwright.site.base import Described, Id, Text
from bondwright.site.ground import (
    Buried,
    EarthTest,
    Neighbour,
    SeasonalGround,
    Spot,
    Spots,
    SurfaceLayer,
)
from bondwright.site.ground import ElectrodeKind as ElectrodeKind

LineName = Literal["L1", "L2", "L3"]


class Describes(StrEnum):
    """What the file is a description of."""

    PLAN = "plan"
    AS_FOUND = "as found"


class SupplyTransformer(Described):
    """The utility's transformer, by its nameplate."""

    rating: f.ApparentPower
    impedance: f.Ratio
    x_over_r: f.XOverR = Field(alias="x/r", default=1.5)


class AvailableCurrent(Described):
    """Available fault current at the source terminals, line to line (three-phase: bolted)."""

    current: f.Current
    x_over_r: f.XOverR = Field(alias="x/r", default=4.0)
    line_to_neutral: f.Current | None = Field(default=None, alias="line to neutral")


class Source(Described):
    """A utility supply: an ideal voltage behind its impedance, its neutral grounded or not."""

    system: f.System
    transformer: SupplyTransformer | None = None
    available: AvailableCurrent | None = None
    electrode: f.Resistance | None = None
    note: Text = ""

    @model_validator(mode="after")
    def _one_strength(self) -> Source:
        if (self.transformer is None) == (self.available is None):
            raise PydanticCustomError(
                "site_value",
                "{problem}",
                {
                    "problem": "needs either 'transformer' or 'available', and not both",
                    "hint": "give the nameplate of the utility's transformer, or the available "
                    "fault current from the utility's letter",
                    "text": "",
                },
            )
        return self


class Generator(Described):
    """A generator on site, by its reactances. Joined to its frame only where a tie says so.

    Reactances are in per unit of its rating; what is left out is taken from common practice.
    With a run that leaves it, it makes a system of its own; fed by a run, it works in parallel
    with what feeds it. ``share``, ``output``, ``pf`` and ``voltage`` are its set-points where
    several sources are on; ``harmonics`` are of its own voltage, by order.
    """

    system: f.System
    rating: f.ApparentPower
    subtransient: f.Ratio | None = None
    negative: f.Ratio | None = None
    zero: f.Ratio | None = None
    x_over_r: f.XOverR = Field(alias="x/r", default=10.0)
    harmonics: dict[Annotated[int, Field(ge=2, le=49)], f.Ratio] = Field(default_factory=dict)
    share: f.Ratio | None = None
    output: f.Power | None = None
    pf: float = Field(default=1.0, gt=0, le=1)
    voltage: f.Voltage | None = None
    portable: bool | None = None
    building: Id | None = None
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""


class Inverter(Described):
    """An inverter of an array or a battery.

    With a run that leaves it, it makes a system of its own (behind a transfer switch, or in an
    island); fed by a run, it works in parallel with what feeds it. Either way its current is
    limited.
    """

    system: f.System
    rating: f.ApparentPower
    limit: f.Ratio | None = None
    building: Id | None = None
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""


class Module(Described):
    """A photovoltaic module, by its label."""

    open_circuit: f.Voltage = Field(alias="open circuit")
    short_circuit: f.Current = Field(alias="short circuit")
    voltage: f.Voltage | None = None
    current: f.Current | None = None

    @model_validator(mode="after")
    def _works_below_its_ends(self) -> Module:
        for word, at_work, end, other in (
            ("voltage", self.voltage, self.open_circuit, "open circuit"),
            ("current", self.current, self.short_circuit, "short circuit"),
        ):
            if at_work is not None and at_work >= end:
                raise PydanticCustomError(
                    "site_value",
                    "{problem}",
                    {
                        "problem": f"has a {word} at work that is not below its {other!r}",
                        "hint": "read the module's label again: 'voltage' and 'current' are those "
                        "at greatest power",
                        "text": "",
                    },
                )
        return self


class ArrayGrounded(StrEnum):
    """How an array's direct-current side stands to the metal."""

    FUSE = "fuse"
    INVERTER = "inverter"
    SOLID = "solid"
    NONE = "none"


class Pole(StrEnum):
    """One of the two conductors of a direct-current circuit."""

    POSITIVE = "positive"
    NEGATIVE = "negative"


class Array(Described):
    """A photovoltaic array and the direct-current circuit from it to its inverter."""

    at: Id
    module: Module
    in_series: int = Field(alias="in series", ge=1, le=1000)
    strings: int = Field(default=1, ge=1, le=100_000)
    length: f.Length
    lines: f.Wire
    egc: f.WireOrNone | None = None
    device: f.Device | None = None
    grounded: ArrayGrounded
    pole: Pole | None = None
    ground_fuse: f.Current | None = Field(default=None, alias="ground fuse")
    monitor: f.Current | None = None
    insulation_alarm: f.Resistance | None = Field(default=None, alias="insulation alarm")
    insulation: f.Resistance | None = None
    on_building: bool = Field(default=True, alias="on building")
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""


class CurvePoint(Described):
    """A point of a time-current curve."""

    current: f.Current
    time: f.Time


class Curve(Described):
    """A device's own time-current curve, by points off its maker's sheet.

    ``quick`` is the edge before which it does not open, ``slow`` that by which it has opened.
    """

    quick: list[CurvePoint] = Field(min_length=1, max_length=500)
    slow: list[CurvePoint] = Field(min_length=1, max_length=500)
    note: Text = ""


class PlaceKind(StrEnum):
    """What a place is."""

    METER = "meter"
    SERVICE = "service"
    PANEL = "panel"
    DISCONNECT = "disconnect"
    EQUIPMENT = "equipment"
    OUTLET = "outlet"
    BOX = "box"


class LoadOn(StrEnum):
    """The terminals a load is connected between."""

    L1_N = "L1-N"
    L2_N = "L2-N"
    L3_N = "L3-N"
    L1_L2 = "L1-L2"
    L2_L3 = "L2-L3"
    L3_L1 = "L3-L1"
    THREE_PHASE = "L1-L2-L3"


class Draws(StrEnum):
    """How a load's current follows its voltage."""

    IMPEDANCE = "impedance"
    CURRENT = "current"
    POWER = "power"


class Motor(Described):
    """An induction motor, by what it draws with its rotor locked; it feeds faults for some cycles.

    ``locked_rotor`` is over the rated current, ``code`` the letter on its plate, ``subtransient``
    its reactance in part of its rating.
    """

    rating: f.Power | None = None
    locked_rotor: f.Ratio | None = Field(default=None, alias="locked rotor")
    code: str | None = Field(default=None, pattern="^[A-HJ-NPR-V]$")
    subtransient: f.Ratio | None = None
    x_over_r: float = Field(alias="x/r", gt=0, le=100, default=6.0)

    @model_validator(mode="after")
    def _one_strength(self) -> Motor:
        given = [self.locked_rotor, self.code, self.subtransient]
        if sum(value is not None for value in given) > 1:
            raise PydanticCustomError(
                "site_value",
                "{problem}",
                {
                    "problem": "says more than once how much it draws with its rotor locked",
                    "hint": "give one of 'code', 'locked rotor' and 'subtransient'",
                    "text": "",
                },
            )
        return self


class Load(Described):
    """Something that draws current in normal use.

    ``harmonics`` are currents by order, in part of the fundamental current; ``leakage`` is
    what filters and heating elements let through to the metal at each line it is on.
    """

    on: LoadOn
    power: f.Power
    pf: f.PowerFactor = 1.0
    draws: Draws = Draws.IMPEDANCE
    harmonics: dict[Annotated[int, Field(ge=2, le=49)], f.Ratio] = Field(default_factory=dict)
    leakage: f.Current | None = None
    motor: Motor | None = None
    note: Text = ""


class Place(Described):
    """Anything with terminals that is fed by a run: meter, panel, disconnect, equipment."""

    kind: PlaceKind
    building: Id | None = None
    main: f.Device | None = None
    loads: list[Load] = Field(default_factory=list)
    enclosure: Literal["metal", "nonmetallic"] = "metal"
    intersystem: f.WireOrNone | None = None
    position: Spot | None = None
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""


class TransformerForm(StrEnum):
    """How the windings of a transformer are joined beyond what its voltages say."""

    ISOLATING = "isolating"
    AUTO = "auto"
    OPEN_DELTA = "open delta"
    ZIGZAG = "zigzag"


class Transformer(Described):
    """A transformer on site. Runs to it land on its primary, runs from it leave its secondary.

    An autotransformer has one winding in common, so its secondary is no derived system. A
    zigzag transformer has no load side: it makes a neutral for the system that feeds it.
    """

    primary: f.System
    secondary: f.System
    rating: f.ApparentPower
    impedance: f.Ratio
    x_over_r: f.XOverR = Field(alias="x/r", default=2.0)
    form: TransformerForm = TransformerForm.ISOLATING
    building: Id | None = None
    outdoors: bool = False
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""


class SwitchedNeutral(StrEnum):
    """What a transfer switch does with the neutral."""

    SOLID = "solid"
    SWITCHED = "switched"


class Transfer(Described):
    """A transfer switch: two runs lead to it, one at a time feeds what leaves it.

    One made for closed transition can stand on both for a moment; a state says so.
    """

    normal: Id
    standby: Id
    neutral: SwitchedNeutral
    building: Id | None = None
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""


class Position(StrEnum):
    """Where a transfer switch stands."""

    NORMAL = "normal"
    STANDBY = "standby"
    BOTH = "both"


class State(Described):
    """A way the site is run: which sources are on, how transfers stand, what is switched off.

    ``open`` names places whose main is open and runs whose device is open.
    """

    on: list[Id] | None = None
    transfers: dict[Id, Position] = Field(default_factory=dict)
    open_: list[Id] = Field(alias="open", default_factory=list)
    note: Text = ""


class Wiring(StrEnum):
    """How the conductors of a run lie beside each other."""

    CABLE = "cable"
    FLAT_CABLE = "flat cable"
    RACEWAY = "raceway"
    TRAY = "tray"
    OVERHEAD = "overhead"
    OPEN_WIRE = "open wire"
    DIRECT_BURIED = "direct buried"


class Raceway(Described):
    """The raceway around a run."""

    kind: RacewayKind
    size: str = Field(max_length=20)


class Fitting(StrEnum):
    """How a metal raceway ends at an enclosure."""

    THREADED_HUB = "threaded hub"
    BONDING_BUSHING = "bonding bushing"
    BONDING_LOCKNUT = "bonding locknut"
    THREADLESS = "threadless connector"
    TWO_LOCKNUTS = "two locknuts"
    LOCKNUTS = "locknuts"


class Knockouts(StrEnum):
    """The hole that a raceway enters by."""

    CLEAN = "clean"
    CONCENTRIC = "concentric"
    LISTED = "listed"


class Sets(StrEnum):
    """How parallel sets lie to each other."""

    APART = "apart"
    TOGETHER = "together"


class FlexibleKind(StrEnum):
    """Kinds of flexible metal raceway."""

    FMC = "fmc"
    LFMC = "lfmc"
    FMT = "fmt"


class Flexible(Described):
    """A flexible piece in the metal raceway of a run."""

    kind: FlexibleKind
    size: str = Field(max_length=20)
    length: f.Length
    moves: bool = False


class Enlarged(StrEnum):
    """Why line conductors are larger than their ampacity needs."""

    VOLTAGE_DROP = "voltage drop"
    CORRECTION = "ambient or bundling"


class Run(Described):
    """A set of conductors between two places."""

    from_: Id = Field(alias="from")
    to: Id
    length: f.Length
    lines: f.Wire
    on: list[LineName] | None = Field(default=None, min_length=1, max_length=3)
    neutral: f.WireOrNone | None = None
    egc: f.WireRacewayOrNone | None = None
    ssbj: f.WireRacewayOrNone | None = None
    pe: f.WireRacewayOrNone | None = None
    device: f.Device | None = None
    needed: f.Wire | None = None
    enlarged: Enlarged = Enlarged.VOLTAGE_DROP
    wiring: Wiring | None = None
    raceway: Raceway | None = None
    flexible: Flexible | None = None
    fittings: Fitting | None = None
    knockouts: Knockouts | None = None
    bushing_jumper: f.Wire | None = Field(default=None, alias="bushing jumper")
    sets: Sets | None = None
    with_: list[Id] = Field(alias="with", default_factory=list)
    motor_current: f.Current | None = Field(default=None, alias="motor current")
    tap: bool = False
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""


class TieForm(StrEnum):
    """What joins neutral and metal."""

    SCREW = "screw"
    STRAP = "strap"
    WIRE = "wire"
    BUS = "bus"


class Tie(Described):
    """A join of neutral and metal at a place, or of a line where a corner is grounded.

    ``resistance`` is that of the join; a grounding resistor is a tie with its ohms.
    """

    at: Id
    line: LineName | None = None
    by: TieForm = TieForm.WIRE
    size: f.Wire | None = None
    resistance: f.Resistance | None = None
    note: Text = ""


class Sleeve(StrEnum):
    """What an electrode conductor runs in."""

    NONE = "none"
    PLASTIC = "plastic"
    STEEL = "steel joined at both ends"
    STEEL_OPEN = "steel not joined at both ends"


class Lie(StrEnum):
    """How an electrode conductor lies where it is in the soil."""

    BARE = "bare"
    SHEATHED = "sheathed"
    GUARDED = "sheathed and guarded"
    NOT = "not in soil"


class Electrode(Buried):
    """Metal in the earth, joined to the metal of a place by its electrode conductor."""

    at: Id
    conductor: f.WireOrNone | None = None
    lead: f.Length | None = None
    sleeve: Sleeve | None = None
    buried: Lie | None = None
    from_entry: f.Length | None = Field(default=None, alias="from entry")
    shared_by: list[Id] = Field(alias="shared by", default_factory=list)
    lightning: bool = False
    apart: f.Length | None = None
    note: Text = ""


class MetalKind(StrEnum):
    """Metal that is not wiring."""

    WATER_PIPE = "water pipe"
    GAS_PIPE = "gas pipe"
    STEEL = "structural steel"
    DUCT = "duct"
    TRAY = "cable tray"
    DECK = "pool deck"
    """Reinforcing steel or a conductor in and around a pool deck."""
    DOWN = "down conductor"
    """Of a lightning protection system, from the roof to its electrode."""
    SHIELD = "cable shield"
    OTHER = "other metal"


class Tap(Described):
    """A place that touches, or is bonded to, a piece of metal along its way."""

    at: f.Length
    to: Id
    resistance: f.Resistance | None = None


class Metal(Described):
    """A pipe, a frame or other metal that reaches from one place to another.

    ``earth`` is the resistance to remote earth of metal that lies in the soil.
    """

    kind: MetalKind
    from_: Id = Field(alias="from")
    to: Id
    length: f.Length
    resistance: f.Resistance | None = None
    per_length: f.ResistancePerLength | None = Field(default=None, alias="resistance/length")
    earth: f.Resistance | None = None
    isolated: bool = False
    circuit: Id | None = None
    taps: list[Tap] = Field(default_factory=list)
    along: Spots = Field(default_factory=list)
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""

    @model_validator(mode="after")
    def _one_resistance(self) -> Metal:
        if (self.resistance is None) == (self.per_length is None):
            raise PydanticCustomError(
                "site_value",
                "{problem}",
                {
                    "problem": "needs either 'resistance' (end to end) or 'resistance/length'",
                    "hint": "for 3/4 in copper tube about 0.07 ohm/kft",
                    "text": "",
                },
            )
        return self


class Amendment(Described):
    """What a local authority puts in place of numbers of the code; in a file of its own or here.

    ``values`` are texts by the parameter's name, read by
    :func:`bondwright.catalog.amendments.read_override`.
    """

    authority: Text = ""
    reference: Text = ""
    date: Annotated[str, StringConstraints(pattern=r"^(\d{4}-\d{2}-\d{2})?$")] = ""
    values: dict[Id, Text] = Field(default_factory=dict)
    file: Text | None = None

    @model_validator(mode="after")
    def _whole(self) -> Amendment:
        given = [key for key in ("authority", "reference", "date") if getattr(self, key)]
        told = len(given) == 3 and bool(self.values)
        if (self.file is None) != told or (self.file is not None and given):
            raise PydanticCustomError(
                "site_value",
                "{problem}",
                {
                    "problem": "needs 'authority', 'reference', 'date' and 'values', or a 'file' "
                    "that has them, and not both",
                    "hint": "an amendment without its source can't be checked by anyone",
                    "text": "",
                },
            )
        return self


class AreaKind(StrEnum):
    """Areas with rules of their own."""

    POOL = "pool"
    LIVESTOCK = "livestock"
    MARINA = "marina"
    PATIENT_CARE = "patient care"
    DWELLING = "dwelling"
    POND = "pond"
    TUB = "tub"
    MOBILE_HOME = "mobile home"
    VEHICLE_PITCH = "vehicle pitch"
    SIGN = "sign"
    CRANE = "crane"
    LIFT = "lift"
    SOUND = "sound system"
    COMPUTERS = "computer room"
    WIND_TURBINE = "wind turbine"


class Area(Described):
    """An area with rules of its own, and the place that it gets its power from.

    ``bond`` is the conductor that makes its metal one: a pool's or a tub's, or that from a plane
    under livestock or beside water.
    """

    kind: AreaKind
    at: Id
    bond: f.WireOrNone | None = None
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""


class DirectCurrentSource(StrEnum):
    """What feeds a direct-current system."""

    BATTERY = "battery"
    RECTIFIER = "rectifier"
    GENERATOR = "generator"
    UTILITY = "utility"


class DirectCurrentGrounded(StrEnum):
    """How a direct-current system stands to the metal."""

    SOLID = "solid"
    DEVICE = "device"
    NONE = "none"


class DirectCurrent(Described):
    """A direct-current system other than an array: of a battery, a rectifier, a generator.

    ``electrode`` is what its electrode conductor leads to and to nothing else.
    """

    at: Id
    source: DirectCurrentSource
    voltage: f.Voltage
    wires: int = Field(default=2, ge=2, le=3)
    balancer: bool = False
    lines: f.Wire
    neutral: f.Wire | None = None
    grounded: DirectCurrentGrounded
    jumper: f.WireOrNone | None = None
    conductor: f.WireOrNone | None = None
    electrode: ElectrodeKind | None = None
    detector: bool | None = None
    installed: int | None = Field(default=None, ge=1880, le=2100)
    note: Text = ""


RulesName = Literal["nec-2017", "nec-2020", "nec-2023", "iec-60364-2017"]
EarthingName = Literal["TN-S", "TN-C-S", "TT", "IT"]


class MeansOfEarthing(StrEnum):
    """What the main earthing terminal of an installation is joined to."""

    SUPPLY = "supply terminal"
    PEN = "PEN terminal"
    ELECTRODE = "own electrode"


class Site(Described):
    """A whole site."""

    site: Text
    rules: RulesName = "nec-2023"
    earthing: EarthingName | None = None
    means_of_earthing: MeansOfEarthing | None = Field(default=None, alias="means of earthing")
    insulation_monitoring: bool | None = Field(default=None, alias="insulation monitoring")
    first_fault: f.Current | None = Field(default=None, alias="first fault current")
    amendments: dict[Id, Amendment] = Field(default_factory=dict)
    describes: Describes = Describes.PLAN
    soil: f.Ground | None = None
    seasons: dict[Id, SeasonalGround] = Field(default_factory=dict)
    surface_layer: SurfaceLayer | None = Field(default=None, alias="surface layer")
    frequency: f.Frequency | None = None
    conductor_temperature: f.Temperature | None = Field(default=None, alias="conductor temperature")
    note: Text = ""
    sources: dict[Id, Source] = Field(default_factory=dict)
    generators: dict[Id, Generator] = Field(default_factory=dict)
    inverters: dict[Id, Inverter] = Field(default_factory=dict)
    arrays: dict[Id, Array] = Field(default_factory=dict)
    places: dict[Id, Place] = Field(min_length=1)
    transfers: dict[Id, Transfer] = Field(default_factory=dict)
    transformers: dict[Id, Transformer] = Field(default_factory=dict)
    runs: dict[Id, Run] = Field(default_factory=dict)
    ties: dict[Id, Tie] | None = None
    electrodes: dict[Id, Electrode] = Field(default_factory=dict)
    neighbours: dict[Id, Neighbour] = Field(default_factory=dict)
    earth_tests: dict[Id, EarthTest] = Field(default_factory=dict, alias="earth tests")
    metal: dict[Id, Metal] = Field(default_factory=dict)
    areas: dict[Id, Area] = Field(default_factory=dict)
    direct_current: dict[Id, DirectCurrent] = Field(alias="direct current", default_factory=dict)
    states: dict[Id, State] = Field(default_factory=dict)
    curves: dict[Id, Curve] = Field(default_factory=dict)
