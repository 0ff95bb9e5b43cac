"""Descriptions that can't stand: loops, loose ends and contradictions, and only those."""

# ruff: noqa: E501  # in the tables a case stands on few lines

from __future__ import annotations

import pytest

from bondwright.site import Site, SiteError, problems, read
from tests.site.marked import GOOD, edited, unmarked

WYE = """\
site: x
sources: {u: {system: 480Y/277 V, available: {current: 20 kA}}}
places:
  s: {kind: service, main: 400 A breaker}
  d: {kind: disconnect, main: 100 A breaker}
transformers:
  t: {primary: 480 V delta, secondary: 208Y/120 V, rating: 45 kVA, impedance: 4 %}
runs:
  a: {from: u, to: s, length: 30 ft, lines: 500 kcmil Cu, neutral: 4/0 AWG Cu}
  b: {from: s, to: t, device: 70 A breaker, length: 50 ft, lines: 4 AWG Cu, neutral: none}
  c: {from: t, to: d, length: 10 ft, lines: 1 AWG Cu, neutral: 1 AWG Cu, ssbj: 6 AWG Cu}
"""


def test_sound_sites_have_no_problems() -> None:
    assert problems(read(GOOD)) == []
    assert problems(read(WYE)) == []


# What is changed in one of the two files (‸: where it must point), text, problem, hint.
SLIPS = {
    "dangling to": (
        GOOD, [("to: meter", "to: ‸metre")], "metre", "not the id of", "mean 'meter'?",
    ),
    "dangling from": (
        GOOD, [("from: meter", "from: ‸nowhere")], "nowhere", "not the id of",
        "there are: utility, press transformer, meter,",
    ),
    "dangling at": (
        GOOD, [("at: pump house panel", "at: ‸pump house pannel")], "pump house pannel",
        "not the id of", "mean 'pump house panel'?",
    ),
    "dangling metal": (
        GOOD, [("{kind: water pipe, from: farmhouse panel", "{kind: water pipe, from: ‸barn")],
        "barn", "not the id of", "there are",
    ),
    "a run's id where a place belongs": (
        GOOD, [("at: farmhouse panel", "at: ‸service drop")], "service drop", "not the id of",
        "is a run; name the place at its end",
    ),
    "run to itself": (
        GOOD, [("{from: utility, to: meter", "{from: meter, to: ‸meter")],
        "meter", "is where the run starts as well", "from one place to another",
    ),
    "run into a source": (
        GOOD, [("metal:", "  z: {kind: rod, at: meter}\nmetal:"),
               ("electrodes:", "  back: {from: meter, to: ‸utility, length: 1 ft, lines: 4 AWG Cu}\nelectrodes:")],
        "utility", "no run feeds a source", "swap 'from' and 'to'",
    ),
    "loop": (
        GOOD, [("{from: utility, to: meter", "{from: ‸pump house panel, to: meter")],
        "pump house panel",
        "closes a loop: meter -> farmhouse panel -> pump house panel -> meter", "turn one",
    ),
    "fed twice": (
        GOOD,
        [("electrodes:", "  drop 2: {from: utility, to: ‸meter, length: 90 ft, lines: 4/0 AWG Al}\nelectrodes:")],
        "meter", "is fed already, by the run 'service drop'", "'lines: 2 x 4/0 AWG Al'",
    ),
    "fed by nothing": (
        GOOD, [("  well pump:", "  ‸shed: {kind: panel}\n  well pump:")], "shed", "fed by no run",
        "'to: shed'",
    ),
    "transformer fed by nothing": (
        WYE,
        [("  t: {primary", "  ‸t2: {primary: 480 V delta, secondary: 208Y/120 V, rating: 9 kVA, impedance: 4 %}\n  t: {primary")],
        "t2", "fed by no run", "'to: t2'",
    ),
    "shared id": (
        GOOD, [("  well pump: {", "  ‸utility: {kind: box}\n  well pump: {")],
        "utility", "is the id of a source already", "id of its own",
    ),
    "line that is not there": (
        GOOD, [("on: [L2]", "on: [‸L3]")], "L3", "does not reach 'pump house panel'", "L1, L2",
    ),
    "line named twice": (GOOD, [("on: [L2]", "‸on: [L2, L2]")], "on", "names a line twice", "once"),
    "neutral from nowhere": (
        GOOD,
        [("electrodes:", "  tail: {from: well pump, to: end, length: 9 ft, lines: 12 AWG Cu, neutral: ‸12 AWG Cu}\nelectrodes:"),
         ("  well pump:", "  end: {kind: equipment}\n  well pump:")],
        "12 AWG Cu", "starts at 'well pump', where no neutral arrives", "neutral: none",
    ),
    "raceway beside another wiring": (
        GOOD, [("wiring: overhead", "wiring: cable, ‸raceway: {kind: emt, size: 2 in}")],
        "raceway", "is given, but the wiring is 'cable'", "'wiring: raceway'",
    ),
    "wiring in no raceway": (
        GOOD, [("wiring: overhead", "wiring: ‸raceway")], "raceway", "needs to say which", "{kind: emt",
    ),
    "egc ahead of the first disconnect": (
        GOOD, [("wiring: overhead", "wiring: overhead, ‸egc: 4 AWG Cu")], "egc",
        "supply-side run", "supply-side bonding jumper; write 'ssbj'",
    ),
    "egc behind a transformer": (
        WYE, [("ssbj: 6 AWG Cu", "‸egc: 6 AWG Cu")], "egc", "supply-side run", "write 'ssbj'",
    ),
    "ssbj past the first disconnect": (
        GOOD, [("device: 60 A breaker", "device: 60 A breaker, ‸ssbj: 4 AWG Cu")], "ssbj",
        "load-side run", "write 'egc'",
    ),
    "egc by a plastic raceway": (
        GOOD, [("egc: raceway, raceway: {kind: emt", "egc: ‸raceway, raceway: {kind: pvc")],
        "raceway", "needs a metal raceway, but this run has a pvc raceway", "size of the wire",
    ),
    "ssbj by no raceway": (
        GOOD, [("wiring: overhead", "ssbj: ‸raceway")], "raceway", "this run has no raceway", "size",
    ),
    "needed in another metal": (
        GOOD, [("needed: 6 AWG Cu", "needed: ‸6 AWG Al")], "6 AWG Al", "same metal", "one metal",
    ),
    "load on a line that is not there": (
        GOOD, [("{on: L1-N", "{on: ‸L3-N")], "L3-N", "needs L3", "there are L1, L2, N",
    ),
    "load on a neutral that is not there": (
        GOOD, [("{on: L1-L2, power: 1.5", "{on: ‸L1-N, power: 1.5")], "L1-N", "needs N", "L1, L2",
    ),
    "three-phase load on one phase": (
        GOOD, [("on: L1-L2          #", "on: ‸L1-L2-L3       #")], "L1-L2-L3", "needs L3", "L1, L2, N",
    ),
    "tie without a neutral": (
        GOOD, [("metal:", "ties: {t: {at: ‸well pump}}\nmetal:")], "well pump",
        "where no neutral arrives", "remove the tie",
    ),
    "tie at a source": (
        GOOD, [("metal:", "ties: {t: {at: ‸utility}}\nmetal:")], "utility", "is a source", "electrode",
    ),
    "primary of another voltage": (
        GOOD, [("primary: 240 V", "primary: ‸480 V")], "480 V", "does not match", "120/240 V arrives",
    ),
    "wye primary of another voltage": (
        WYE, [("primary: 480 V delta", "primary: ‸208Y/120 V")], "208Y/120 V", "does not match", "480",
    ),
    "three-phase primary on two lines": (
        WYE, [("primary: 480 V delta", "primary: ‸480 V delta"), ("lines: 4 AWG Cu,", "lines: 4 AWG Cu, on: [L1, L2],")],
        "480 V delta", "needs three lines, but L1, L2 arrive", "single-phase primary",
    ),
    "phases out of nothing": (
        GOOD, [("secondary: 120/240 V", "secondary: ‸208Y/120 V")], "208Y/120 V",
        "is three-phase, but the primary is single-phase", "same number of phases",
    ),
    "corner on a line that is not there": (
        GOOD, [("metal:", "ties: {t: {at: farmhouse panel, line: ‸L3}}\nmetal:")], "L3",
        "does not reach 'farmhouse panel'", "there are L1, L2",
    ),
    "zigzag that feeds": (
        WYE, [("impedance: 4 %", "impedance: 4 %, form: zigzag"), ("c: {from: t", "c: {from: ‸t")],
        "t", "is a zigzag transformer", "start the run at what feeds it",
    ),
    "open delta on one phase": (
        GOOD, [("    impedance: 3 %", "    impedance: 3 %\n    form: ‸open delta")], "open delta",
        "is three-phase only", "form: isolating",
    ),
    "tap beyond the end": (
        GOOD, [("0.07 ohm/kft}", "0.07 ohm/kft, taps: [{at: ‸211 ft, to: meter}]}")], "211 ft",
        "lies beyond its end", "measured from 'farmhouse panel'",
    ),
    "tap to nowhere": (
        GOOD, [("0.07 ohm/kft}", "0.07 ohm/kft, taps: [{at: 9 ft, to: ‸metre}]}")], "metre",
        "is not the id of", "did you mean 'meter'",
    ),
    "no service": (
        GOOD.split("transformers:")[0].split("places:")[0]
        + "places: {m: {kind: meter}}\nruns:\n  d: {from: utility, to: m, length: 9 ft, lines: 2 AWG Cu}\n",
        [("  utility:", "  ‸utility:")], "utility", "no service disconnect", "kind: service",
    ),
    "source that feeds nothing": (
        GOOD, [("  utility:", "  ‸spare: {system: 120/240 V, available: {current: 9 kA}}\n  utility:")],
        "spare", "feeds nothing", "'from: spare'",
    ),
    "ring of a rod": (
        GOOD, [("diameter: 5/8 in}", "ring: ‸2 AWG Cu}")], "2 AWG Cu",
        "does not belong to an electrode of kind 'rod'", "give length, diameter, count, spacing",
    ),
    "diameter of a ring": (
        GOOD, [("{kind: rod, at: pump house panel, length: 8 ft, diameter: 5/8 in",
                "{kind: ring, at: pump house panel, length: 90 ft, diameter: ‸5/8 in")],
        "5/8 in", "kind 'ring'", "give length, ring",
    ),
    "length of steel": (
        GOOD, [("{kind: rod, at: pump house panel, length: 8 ft, diameter: 5/8 in",
                "{kind: steel, at: pump house panel, length: ‸8 ft")],
        "8 ft", "kind 'steel'", "'resistance'",
    ),
    "spacing of one rod": (
        GOOD, [("count: 2, ", ""), ("spacing: 10 ft", "spacing: ‸10 ft")], "10 ft", "there is one",
        "count: 2",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", SLIPS)
def test_slips(case: str) -> None:
    base, edits, shown, problem, hint = SLIPS[case]
    text = base
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new, 1)
    text, line, column = unmarked(text)
    with pytest.raises(SiteError) as caught:
        read(text)
    # Where a feed is turned around something else may hang loose, too; the slip comes with it.
    found = [p for p in caught.value.problems if (p.line, p.column) == (line, column)]
    assert len(found) == 1, str(caught.value)
    assert found[0].text == shown
    assert problem in found[0].problem
    assert hint in found[0].hint
    assert len(caught.value.problems) == 1, str(caught.value)


# Code violations, old work and odd but real arrangements are for the plan to judge.
SOUND = {
    "tie where none belongs": [("metal:", "ties: {t: {at: pump house panel}}\nmetal:")],
    "tie by a screw with a size": [
        ("metal:", "ties: {t: {at: farmhouse panel, by: screw, size: 4 AWG Cu}}\nmetal:")
    ],
    "tie at the meter": [("metal:", "ties: {t: {at: meter}}\nmetal:")],
    "no egc at all": [("needed: 6 AWG Cu", "needed: 6 AWG Cu, egc: none")],
    "egc too small": [("needed: 6 AWG Cu", "needed: 6 AWG Cu, egc: 14 AWG Cu")],
    "no jumper ahead of the disconnect": [("wiring: overhead", "wiring: overhead, egc: none")],
    "meter behind a breaker": [("{kind: panel, building", "{kind: meter, building")],
    "primary within ten percent": [("primary: 240 V", "primary: 220 V")],
    "parallel sets": [("lines: 4/0 AWG Al", "lines: 2 x 4/0 AWG Al")],
    "main in the meter": [("{kind: meter}", "{kind: meter, main: 200 A breaker}")],
    "pipe to the source": [("to: pump house panel, length: 210", "to: utility, length: 210")],
    "as found": [("soil:", "describes: as found\nsoil:")],
}


@pytest.mark.parametrize("case", SOUND)
def test_what_the_plan_must_judge_is_read(case: str) -> None:
    assert isinstance(read(edited(*SOUND[case])), Site)


def test_a_primary_more_than_ten_percent_off_is_refused() -> None:
    assert read(edited(("primary: 240 V", "primary: 217 V")))
    with pytest.raises(SiteError):
        read(edited(("primary: 240 V", "primary: 215 V")))


def test_equally_near_names_are_all_offered() -> None:
    text = edited(
        ("  well pump:", "  barn A: {kind: panel}\n  barn B: {kind: panel}\n  well pump:"),
        (
            "electrodes:",
            "  x: {from: meter, to: barn C, length: 9 ft, lines: 4 AWG Cu}\nelectrodes:",
        ),
    )
    with pytest.raises(SiteError, match=r"did you mean 'barn A' or 'barn B'\?"):
        read(text)


def test_a_site_built_in_python_is_checked_the_same() -> None:
    site = read(WYE)
    runs = dict(site.runs)
    del runs["c"]
    (found,) = problems(site.model_copy(update={"runs": runs}))
    assert found.loc == ("places", "d")
    assert found.problem == "is fed by no run"
    assert found.on_key
