"""Rule numbers by edition.

Expected: NFPA 70 (2017, 2020, 2023) as known to the trade; the status of each is in the data
file. Statuses below: c confirmed, o one-source, m memory.
"""

from __future__ import annotations

import pytest

from bondwright.catalog.parameters import EDITIONS, Parameter, parameter_ids, rule_parameter
from bondwright.catalog.sizes import Material
from bondwright.catalog.sources import CatalogError, Status
from bondwright.units import Dimension
from tests.outside import outside, published

CU, AL = Material.CU, Material.AL
FOOT, INCH = 0.3048, 0.0254
WORDS = {"c": Status.CONFIRMED, "o": Status.ONE_SOURCE, "m": Status.MEMORY}

# id, clause in 2020, value in SI, status
NUMBERS = [
    ("dc-must-ground-voltage-above", "250.162(A)", 60.0, "o"),
    ("dc-must-ground-voltage-to", "250.162(A)", 300.0, "c"),
    ("high-voltage-limit", "250.180", 1000.0, "m"),
    ("array-fault-protection-voltage", "690.41(B)", 30.0, "m"),
    ("array-fault-protection-current", "690.41(B)", 8.0, "m"),
    ("array-fault-protection-exempt-circuits", "690.41(B) exception", 2.0, "m"),
    ("jumper-fraction", "250.28(D), 250.102(C)(1)", 0.125, "c"),
    ("small-derived-system-power", "250.30(A)(1) exception 3", 1000.0, "m"),
    ("outside-jumper-length", "250.102(E)", 6 * FOOT, "c"),
    ("common-electrode-busbar-thickness", "250.30(A)(6)", 0.25 * INCH, "o"),
    ("common-electrode-busbar-width", "250.30(A)(6)", 2 * INCH, "o"),
    ("water-pipe-length", "250.52(A)(1)", 10 * FOOT, "c"),
    ("support-structure-length", "250.52(A)(2)", 10 * FOOT, "c"),
    ("concrete-electrode-length", "250.52(A)(3)", 20 * FOOT, "c"),
    ("concrete-electrode-bar-diameter", "250.52(A)(3)", 0.5 * INCH, "c"),
    ("concrete-electrode-cover", "250.52(A)(3)", 2 * INCH, "c"),
    ("ring-length", "250.52(A)(4)", 20 * FOOT, "m"),
    ("ring-depth", "250.53(F)", 30 * INCH, "m"),
    ("rod-length", "250.52(A)(5)", 8 * FOOT, "o"),
    ("rod-diameter", "250.52(A)(5)", 0.625 * INCH, "o"),
    ("listed-rod-diameter", "250.52(A)(5)", 0.5 * INCH, "m"),
    ("electrode-pipe-trade-size", "250.52(A)(5)", 0.75 * INCH, "m"),
    ("plate-area", "250.52(A)(7)", 2 * FOOT**2, "m"),
    ("plate-thickness-steel", "250.52(A)(7)", 0.25 * INCH, "o"),
    ("plate-thickness-nonferrous", "250.52(A)(7)", 0.06 * INCH, "m"),
    ("plate-depth", "250.53", 30 * INCH, "m"),
    ("rod-resistance", "250.53(A)(2)", 25.0, "c"),
    ("rod-spacing", "250.53(A)(3)", 6 * FOOT, "c"),
    ("electrode-system-spacing", "250.53(B)", 6 * FOOT, "c"),
    ("rod-soil-contact", "250.53(G)", 8 * FOOT, "m"),
    ("rod-angle", "250.53(G)", 45.0, "m"),
    ("rod-trench-depth", "250.53(G)", 30 * INCH, "m"),
    ("interior-pipe-connection-length", "250.68(C)(1)", 5 * FOOT, "m"),
    ("low-voltage-limit", "250.20(A)", 50.0, "m"),
    ("low-voltage-supply-to-ground", "250.20(A)", 150.0, "m"),
    ("motor-fuse-fraction", "430.52", 1.75, "m"),
    ("must-ground-voltage", "250.20(B)", 150.0, "m"),
    ("ground-detector-voltage-from", "250.21", 120.0, "m"),
    ("ground-detector-voltage-to", "250.21", 1000.0, "m"),
    ("impedance-grounding-voltage-from", "250.36", 480.0, "m"),
    ("impedance-grounding-voltage-to", "250.36", 1000.0, "m"),
    ("building-branch-circuit-count", "250.32(A)", 1.0, "c"),
    ("building-no-rebond-since", "250.32(B)(1)", 2008.0, "c"),
    ("multigrounded-interval", "250.184", 1300 * FOOT, "m"),
    ("multigrounded-neutral-fraction", "250.184", 1 / 3, "m"),
    ("intersystem-terminations", "250.94(A)", 3.0, "o"),
    ("intersystem-busbar-thickness", "250.94(B)", 0.25 * INCH, "o"),
    ("intersystem-busbar-width", "250.94(B)", 2 * INCH, "o"),
    ("raceway-bonding-voltage", "250.97", 250.0, "c"),
    ("communication-conductor-length", "800.100", 20 * FOOT, "m"),
    ("pool-perimeter-width", "680.26(B)", 3 * FOOT, "c"),
    ("flexible-conduit-egc-current", "250.118(5)", 20.0, "c"),
    ("flexible-conduit-egc-length", "250.118(5)", 6 * FOOT, "c"),
    ("flexible-conduit-egc-trade-size", "250.118(5)", 1.25 * INCH, "o"),
    ("liquidtight-egc-small-current", "250.118(6)", 20.0, "c"),
    ("liquidtight-egc-large-current", "250.118(6)", 60.0, "c"),
    ("liquidtight-egc-trade-size", "250.118(6)", 1.25 * INCH, "c"),
    ("liquidtight-egc-length", "250.118(6)", 6 * FOOT, "c"),
    ("flexible-tubing-egc-current", "250.118(7)", 20.0, "m"),
    ("flexible-tubing-egc-length", "250.118(7)", 6 * FOOT, "m"),
    ("ground-fault-protection-rating", "230.95", 1000.0, "c"),
    ("ground-fault-protection-feeder-rating", "215.10, 210.13, 240.13", 1000.0, "o"),
    ("ground-fault-protection-voltage-to-ground", "230.95", 150.0, "c"),
    ("ground-fault-protection-voltage-limit", "230.95", 1000.0, "c"),
    ("ground-fault-protection-pickup", "230.95", 1200.0, "c"),
    ("ground-fault-protection-time", "230.95", 1.0, "c"),
    ("ground-fault-protection-test-current", "230.95", 3000.0, "c"),
]
# id, clause in 2020, copper, aluminium, status
SIZES = [
    ("jumper-table-limit", "250.28(D), 250.102(C)(1)", "1100 kcmil", "1750 kcmil", "c"),
    ("parallel-grounded-conductor-minimum", "250.24(C)(2)", "1/0 AWG", "1/0 AWG", "m"),
    ("derived-parallel-grounded-conductor-minimum", "250.30(A)(3)", "1/0 AWG", "1/0 AWG", "o"),
    ("small-derived-system-jumper-minimum", "250.30(A)(1) exception 3", "14 AWG", "12 AWG", "m"),
    ("electrode-conductor-cap", "250.66", "3/0 AWG", "250 kcmil", "c"),
    ("rod-only-cap", "250.66(A)", "6 AWG", "4 AWG", "c"),
    ("concrete-only-cap", "250.66(B)", "4 AWG", None, "o"),
    ("ring-only-cap-minimum", "250.66(C)", "2 AWG", None, "o"),
    ("rod-jumper-cap", "250.53(E)", "6 AWG", "4 AWG", "c"),
    ("common-electrode-conductor", "250.30(A)(6)", "3/0 AWG", "250 kcmil", "o"),
    ("electrode-conductor-unprotected-minimum", "250.64(B)", "6 AWG", None, "o"),
    ("impedance-grounding-conductor-minimum", "250.36", "8 AWG", "6 AWG", "m"),
    ("concrete-electrode-wire", "250.52(A)(3)", "4 AWG", None, "c"),
    ("ring-conductor", "250.52(A)(4)", "2 AWG", None, "m"),
    ("intersystem-conductor-minimum", "250.94(A)", "6 AWG", None, "m"),
    ("water-pipe-bond-cap", "250.104(A)(1)", "3/0 AWG", "250 kcmil", "m"),
    ("structural-metal-bond-cap", "250.104(C)", "3/0 AWG", "250 kcmil", "m"),
    ("derived-area-bond-cap", "250.104(D)", "3/0 AWG", "250 kcmil", "m"),
    ("communication-conductor-minimum", "800.100", "14 AWG", None, "m"),
    ("communication-rod-bond", "800.100", "6 AWG", None, "m"),
    ("pool-bond-conductor", "680.26(B)", "8 AWG", None, "c"),
    ("livestock-bond-conductor", "547.10", "8 AWG", None, "m"),
    ("dock-ground-minimum", "555.37", "12 AWG", None, "m"),
    ("photovoltaic-egc-minimum", "690.45", "14 AWG", None, "m"),
    ("shore-plane-conductor", "682.33(C)", "8 AWG", None, "c"),
    ("tub-bond-conductor", "680.74", "8 AWG", None, "o"),
    ("dc-electrode-conductor-minimum", "250.166(A), 250.166(B)", "8 AWG", "6 AWG", "o"),
    ("dc-electrode-conductor-cap", "250.166", "3/0 AWG", "250 kcmil", "o"),
    ("dc-rod-only-cap", "250.166(C)", "6 AWG", "4 AWG", "m"),
    ("dc-concrete-only-cap", "250.166(D)", "4 AWG", None, "m"),
    ("dc-ring-only-cap-minimum", "250.166(E)", "2 AWG", None, "m"),
]
CHOICES = [
    ("water-pipe-supplement", "250.53(D)(2)", "always", "c"),
    ("egc-increase", "250.122(B)", "increase-beyond-correction", "c"),
    ("egc-parallel", "250.122(F)", "full-size-in-each", "o"),
]


SINCE_2023: dict[str, tuple[str, float | str]] = {
    "dock-plane-conductor": ("555.14", "8 AWG"),
    "dock-plane-voltage": ("555.14(A)", 250.0),
    "dock-plane-distance": ("555.14(A)", 10 * FOOT),
    "dock-plane-width": ("555.14(A)", 36 * INCH),
}
"""Numbers that no edition before has."""


@pytest.mark.parametrize("id", SINCE_2023)
@outside("NEC 2023, numbers of rules", "confirmed", unit="SI")
def test_number_that_is_new_in_2023(id: str) -> None:
    clause, wanted = SINCE_2023[id]
    assert all(rule_parameter(id, year).absent for year in (2017, 2020))
    found = rule_parameter(id, 2023)
    assert (found.clause, found.status) == (clause, WORDS["c"])
    if isinstance(wanted, str):
        assert str(found.size(CU)) == published(wanted, unit="")
    else:
        assert found.number == published(wanted, rel=1e-6)


@pytest.mark.parametrize(("id", "clause", "value", "status"), NUMBERS)
@outside("NEC 2020, numbers of rules", unit="SI")
def test_number(id: str, clause: str, value: float, status: str) -> None:
    found = rule_parameter(id, 2020)
    assert (found.clause, found.status) == (clause, WORDS[status])
    assert found.number == published(value, rel=1e-6, status=WORDS[status].value)
    assert not found.sizes


@pytest.mark.parametrize(("id", "clause", "copper", "aluminium", "status"), SIZES)
@outside("NEC 2020, sizes of rules")
def test_size(id: str, clause: str, copper: str, aluminium: str | None, status: str) -> None:
    found = rule_parameter(id, 2020)
    assert (found.clause, found.status) == (clause, WORDS[status])
    assert str(found.size(CU)) == published(copper, status=WORDS[status].value)
    if aluminium is None:
        with pytest.raises(CatalogError, match="has no Al size in the 2020 edition; given for Cu"):
            found.size(AL)
    else:
        assert str(found.size(AL)) == published(aluminium, status=WORDS[status].value)
    with pytest.raises(CatalogError, match="has no number"):
        _ = found.number


@pytest.mark.parametrize(("id", "clause", "choice", "status"), CHOICES)
def test_choice(id: str, clause: str, choice: str, status: str) -> None:
    found = rule_parameter(id, 2020)
    assert (found.clause, found.choice, found.status) == (clause, choice, WORDS[status])


def test_every_parameter_is_checked_above() -> None:
    checked = {row[0] for row in (*NUMBERS, *SIZES, *CHOICES)}
    assert set(parameter_ids()) == checked | set(SINCE_2023)


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("id", parameter_ids())
def test_every_edition_has_every_parameter(id: str, edition: int) -> None:
    found = rule_parameter(id, edition)
    given = [found.value is not None, bool(found.sizes), found.choice is not None, found.absent]
    assert given.count(True) == 1
    assert (found.id, found.edition, found.source.status) == (id, edition, found.status)
    assert found.clause in found.source.title


def _differs(id: str) -> bool:
    def content(found: Parameter) -> tuple[object, ...]:
        return (found.value, found.sizes, found.choice, found.absent)

    return len({content(rule_parameter(id, edition)) for edition in EDITIONS}) > 1


def test_editions_differ_only_where_known() -> None:
    assert {id for id in parameter_ids() if _differs(id)} == {
        "array-fault-protection-voltage",  # 2020: small systems are let off (from memory)
        "array-fault-protection-current",
        "egc-increase",  # 2020: correction and adjustment of 310.15 no longer count
        "water-pipe-bond-cap",  # 2017 doubtful
        "structural-metal-bond-cap",  # 2017 doubtful
        *SINCE_2023,
    }


def test_editions_that_differ() -> None:
    assert rule_parameter("egc-increase", 2017).choice == "any-increase"
    assert rule_parameter("water-pipe-bond-cap", 2017).absent
    assert rule_parameter("water-pipe-bond-cap", 2023).status is Status.ONE_SOURCE
    with pytest.raises(CatalogError, match="has no Cu size in the 2017 edition"):
        rule_parameter("water-pipe-bond-cap", 2017).size(CU)


@pytest.mark.parametrize(
    ("id", "clause"),
    [
        ("parallel-grounded-conductor-minimum", "250.24(D)(2)"),
        ("rod-soil-contact", "250.53(A)(4)"),
        ("flexible-conduit-egc-current", "250.118(A)(5)"),
        ("livestock-bond-conductor", "547.44"),
    ],
)
def test_2023_numbering_is_marked_as_memory(id: str, clause: str) -> None:
    found = rule_parameter(id, 2023)
    assert found.clause == clause
    assert "memory" in found.note or found.status is Status.MEMORY


def test_dimensions_are_carried() -> None:
    assert rule_parameter("rod-resistance", 2020).dimension is Dimension.RESISTANCE
    assert rule_parameter("intersystem-terminations", 2020).dimension is None


def test_unknown_names_and_editions() -> None:
    with pytest.raises(CatalogError, match="no such parameter; nearest is 'rod-resistance'"):
        rule_parameter("rod-resistence", 2020)
    with pytest.raises(CatalogError, match=r"no such parameter$"):
        rule_parameter("zzzz", 2020)
    with pytest.raises(CatalogError, match="no such edition of the NEC here; there are 2017, 2020"):
        rule_parameter("rod-resistance", 2019)
