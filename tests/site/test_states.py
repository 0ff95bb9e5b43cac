"""The ways a site is run: those written, and those that follow."""

# ruff: noqa: E501  # in the tables a case stands on few lines

from __future__ import annotations

from typing import Any

import pytest

from bondwright.site import OperatingState, Position, Site, SiteError, read, states, topology

BASE = """\
site: x
sources: {u: {system: 120/240 V, available: {current: 10 kA}}}
generators: {g: {system: 120/240 V, rating: 12 kVA}}
inverters:
  roof: {system: 240 V, rating: 5 kVA}
transfers: {ts: {normal: nf, standby: gf, neutral: solid}}
places:
  s: {kind: service, main: 200 A breaker}
  a: {kind: panel, main: 60 A breaker}
  b: {kind: panel}
runs:
  d: {from: u, to: s, length: 9 ft, lines: 4 AWG Cu}
  nf: {from: s, to: ts, length: 9 ft, lines: 6 AWG Cu, device: 60 A breaker}
  gf: {from: g, to: ts, length: 9 ft, lines: 6 AWG Cu, device: 50 A breaker}
  pf: {from: ts, to: a, length: 9 ft, lines: 6 AWG Cu}
  q: {from: s, to: b, length: 9 ft, lines: 6 AWG Cu, device: 60 A breaker}
  pv: {from: s, to: roof, length: 9 ft, lines: 10 AWG Cu, device: 30 A breaker, neutral: none}
"""


def by_name(text: str) -> dict[str, OperatingState]:
    return {state.id: state for state in states(read(text))}


def test_a_plain_site_has_one_state() -> None:
    text = (
        "site: x\nsources: {u: {system: 120/240 V, available: {current: 10 kA}}}\n"
        "places: {s: {kind: service, main: 200 A}}\n"
        "runs: {d: {from: u, to: s, length: 9 ft, lines: 4 AWG Cu}}\n"
    )
    (only,) = states(read(text))
    assert only.id == "normal"
    assert only.on == {"u"}
    assert only.energised == {"u", "s"}
    assert only.systems == ("u",)


def test_states_that_follow() -> None:
    found = by_name(BASE)
    assert list(found) == ["normal", "on g"]
    normal, standby = found.values()
    assert normal.on == {"u", "roof"}
    assert normal.transfers == {"ts": Position.NORMAL}
    assert normal.energised == {"u", "s", "ts", "a", "b", "roof"}
    # The array works in parallel with the utility and stops with it.
    assert standby.on == {"g"}
    assert standby.transfers == {"ts": Position.STANDBY}
    assert standby.energised == {"g", "ts", "a"}
    assert standby.topology.fed_by["ts"] == "gf"
    assert standby.systems == ("g",)


WRITTEN = (
    BASE
    + """\
states:
  panel off: {open: [a]}
  feeder off: {open: [nf]}
  testing the generator: {on: [u, g]}
  all out: {on: []}
  thrown over: {transfers: {ts: standby}}
"""
)


@pytest.mark.parametrize(
    ("name", "on", "energised"),
    [
        # The line side of an open main stays live.
        ("panel off", {"u", "roof"}, {"u", "s", "ts", "a", "b", "roof"}),
        ("feeder off", {"u", "roof"}, {"u", "s", "b", "roof"}),
        ("testing the generator", {"u", "g"}, {"u", "g", "s", "ts", "a", "b", "roof"}),
        ("all out", set(), set()),
        ("thrown over", {"u", "g", "roof"}, {"u", "g", "s", "ts", "a", "b", "roof"}),
    ],
)
def test_states_as_written(name: str, on: set[str], energised: set[str]) -> None:
    found = by_name(WRITTEN)
    assert "normal" not in found
    assert found[name].on == on
    assert found[name].energised == energised


def test_what_hangs_behind_an_open_main_is_dead() -> None:
    text = BASE.replace("runs:\n", "  c: {kind: box}\nruns:\n") + (
        "  e: {from: a, to: c, length: 9 ft, lines: 6 AWG Cu}\nstates: {off: {open: [a]}}\n"
    )
    assert "a" in by_name(text)["off"].energised
    assert "c" not in by_name(text)["off"].energised


SECOND = BASE.replace(
    "neutral: solid}}", "neutral: solid}, t2: {normal: n2, standby: s2, neutral: switched}}"
).replace("runs:\n", "  c: {kind: panel}\nruns:\n")


def test_two_switches_on_one_generator() -> None:
    text = SECOND + (
        "  n2: {from: s, to: t2, length: 9 ft, lines: 6 AWG Cu, device: 60 A breaker}\n"
        "  s2: {from: g, to: t2, length: 9 ft, lines: 6 AWG Cu, device: 50 A breaker}\n"
        "  p2: {from: t2, to: c, length: 9 ft, lines: 6 AWG Cu}\n"
    )
    found = by_name(text)
    assert list(found) == ["normal", "on g", "on g by ts", "on g by t2"]
    assert found["on g"].energised == {"g", "ts", "a", "t2", "c"}
    assert found["on g by t2"].energised == {"g", "t2", "c"}


def test_a_switch_behind_another() -> None:
    """A second switch whose standby supply comes from the first: both turn for the generator."""
    text = SECOND.replace("  pf: {from: ts, to: a", "  s2: {from: ts, to: t2").replace(
        "  q: {from: s, to: b", "  n2: {from: s, to: t2"
    ) + (
        "  pf: {from: t2, to: a, length: 9 ft, lines: 6 AWG Cu}\n"
        "  q: {from: a, to: b, length: 9 ft, lines: 6 AWG Cu}\n"
        "  r: {from: a, to: c, length: 9 ft, lines: 6 AWG Cu}\n"
    )
    found = by_name(text)
    assert list(found) == ["normal", "t2 on standby", "on g"]
    assert found["on g"].transfers == {"ts": Position.STANDBY, "t2": Position.STANDBY}
    assert found["on g"].energised == {"g", "ts", "t2", "a", "b", "c"}
    assert found["t2 on standby"].on == {"u", "roof"}


def test_the_tree_of_one_source() -> None:
    tree = topology(read(BASE))
    assert tree.idle == {"gf"}
    assert tree.root("a") == "u"
    turned = tree.turned_to("g")
    assert turned.root("a") == "g"
    assert turned.idle == {"nf"}
    assert tree.turned_to("u").stands == tree.stands


@pytest.mark.parametrize(
    ("neutral", "position", "joined"),
    [
        ("solid", "normal", True),
        ("solid", "standby", True),
        ("switched", "normal", False),
        ("switched", "standby", False),
    ],
)
def test_neutrals_that_a_switch_joins(neutral: str, position: Any, joined: bool) -> None:
    site = read(BASE.replace("neutral: solid", f"neutral: {neutral}"))
    tree = topology(site, {"ts": Position(position)})
    assert tree.neutrals_joined("u", "g") is joined
    assert tree.neutrals_joined("a", "g") is (joined or position == "standby")
    assert tree.neutrals_joined("a", "u") is (joined or position == "normal")
    assert tree.systems["g"].derived is not joined


def test_a_run_without_neutral_joins_none() -> None:
    text = BASE.replace("to: ts, length: 9 ft, lines: 6 AWG Cu, device: 50", "to: ts, length: 9 ft, neutral: none, lines: 6 AWG Cu, device: 50")  # fmt: skip
    tree = topology(read(text))
    assert not tree.neutrals_joined("u", "g")
    assert tree.systems["g"].derived
    assert tree.neutral_part("roof") is None


def test_an_autotransformer_makes_no_system() -> None:
    text = (
        "site: x\nsources: {u: {system: 480Y/277 V, available: {current: 10 kA}}}\n"
        "transformers: {t: {primary: 480Y/277 V, secondary: 208Y/120 V, rating: 9 kVA, "
        "impedance: 4 %, form: FORM}}\n"
        "places: {s: {kind: service, main: 200 A}, p: {kind: panel}}\n"
        "runs:\n  d: {from: u, to: s, length: 9 ft, lines: 4 AWG Cu}\n"
        "  e: {from: s, to: t, length: 9 ft, lines: 4 AWG Cu, device: 60 A}\n"
        "  f: {from: t, to: p, length: 9 ft, lines: 4 AWG Cu}\n"
    )
    auto = topology(read(text.replace("FORM", "auto")))
    assert (auto.systems["p"].origin, auto.systems["p"].derived) == ("u", False)
    assert str(auto.systems["p"].voltages) == "208Y/120 V"
    assert auto.neutrals_joined("p", "u")
    assert auto.supply_side_runs == {"d"}
    two = topology(read(text.replace("FORM", "isolating")))
    assert (two.systems["p"].origin, two.systems["p"].derived) == ("t", True)
    assert not two.neutrals_joined("p", "u")
    assert two.supply_side_runs == {"d", "f"}


SLIPS = {
    "unknown source": ("states: {x: {on: [gg]}}", "'gg' is no source", "there are: g, roof, u"),
    "unknown switch": ("states: {x: {transfers: {tz: normal}}}", "'tz' is no transfer", "ts"),
    "nothing to open": ("states: {x: {open: [b]}}", "'b' has nothing to open", "'main'"),
    "word": ("states: {x: {transfers: {ts: off}}}", "'off' is not one of", "normal, standby"),
}


@pytest.mark.parametrize("case", SLIPS)
def test_slips_in_states(case: str) -> None:
    text, problem, hint = SLIPS[case]
    with pytest.raises(SiteError) as caught:
        read(BASE + text + "\n")
    (found,) = caught.value.problems
    assert problem in str(found)
    assert hint in found.hint


EDITS: dict[str, tuple[list[tuple[str, str]], str]] = {
    "one run on both sides": ([("standby: gf", "standby: nf"), ("to: ts, length: 9 ft, lines: 6 AWG Cu, device: 50", "to: a, length: 9 ft, lines: 6 AWG Cu, device: 50"), ("  pf: {from: ts, to: a", "  pf: {from: ts, to: x"), ("  b: {kind", "  x: {kind: box}\n  b: {kind")], "'nf' is the normal run as well"),
    "not a run": ([("standby: gf", "standby: gfx")], "'gfx' is not the id of a run; did you mean 'gf'"),
    "a run to elsewhere": ([("standby: gf", "standby: q")], "'q' is a run that leads to 'b', not here"),
    "a third run": ([("  q: {from: s, to: b", "  q: {from: s, to: ts"), ("  b: {kind: panel}\n", "")], "is a transfer switch that does not name it"),
    "feeds itself": ([("  gf: {from: g", "  gf: {from: a"), ("generators: {g: {system: 120/240 V, rating: 12 kVA}}\n", "")], "'gf' starts at 'a', which 'ts' feeds"),
    "two voltages": ([("generators: {g: {system: 120/240 V", "generators: {g: {system: 208Y/120 V")], "is fed by two different systems"),
    "idle generator": ([("  gf: {from: g", "  gf: {from: s")], "'g' feeds nothing"),
    "a hybrid inverter": ([("  q: {from: s", "  q: {from: roof")], "is fed by a run and feeds one as well"),
    "array of another voltage": ([("roof: {system: 240 V", "roof: {system: 480 V")], "does not match what it works with"),
}  # fmt: skip


@pytest.mark.parametrize("case", EDITS)
def test_slips_in_switches_and_sources(case: str) -> None:
    edits, problem = EDITS[case]
    text = BASE
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new, 1)
    with pytest.raises(SiteError) as caught:
        read(text)
    assert problem in str(caught.value)
    assert len(caught.value.problems) == 1, str(caught.value)


def test_switches_that_feed_each_other_are_refused() -> None:
    text = SECOND.replace("  gf: {from: g, to: ts", "  gf: {from: c, to: ts").replace(
        "generators: {g: {system: 120/240 V, rating: 12 kVA}}\n", ""
    ) + (
        "  n2: {from: s, to: t2, length: 9 ft, lines: 6 AWG Cu, device: 60 A breaker}\n"
        "  s2: {from: a, to: t2, length: 9 ft, lines: 6 AWG Cu, device: 50 A breaker}\n"
        "  p2: {from: t2, to: c, length: 9 ft, lines: 6 AWG Cu}\n"
    )
    assert isinstance(read(text), Site)
    with pytest.raises(SiteError, match="feeds itself"):
        read(text + "states: {x: {transfers: {ts: standby, t2: standby}}}\n")


def test_a_site_without_any_supply() -> None:
    with pytest.raises(SiteError, match="describe the supply under"):
        read("site: x\nplaces: {a: {kind: panel}, b: {kind: box}}\n"
             "runs: {r: {from: a, to: b, length: 9 ft, lines: 6 AWG Cu}}\n")  # fmt: skip
