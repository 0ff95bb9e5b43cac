"""Circuits of different kinds to try solvers on, made from a seed."""

from __future__ import annotations

import math
import random

import numpy as np

from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.impedance import bundle_impedance

LEAKAGE = 2j * math.pi * 60 * 1e-9


def passive(rng: random.Random, n: int, scale: float = 0.1) -> np.ndarray:
    """Return a coupled impedance matrix with earth return: n wires at random distances."""
    at = [(rng.uniform(0, 0.5), rng.uniform(0, 0.5)) for _ in range(n)]
    distance = np.array([[max(math.dist(a, b), 0.01) for b in at] for a in at])
    resistance = [rng.uniform(1e-4, 3e-3) for _ in range(n)]
    gmr = [rng.uniform(5e-4, 4e-3) for _ in range(n)]
    z = bundle_impedance(resistance, [0.0] * n, gmr, distance, 60.0, rng.uniform(10, 1000))
    return z * rng.uniform(5, 200) * scale * 10


def random_network(seed: int) -> tuple[Circuit, list[tuple[str, str]]]:
    """Return a meshed network with double ties, and node pairs worth a fault.

    A three-wire source feeds a random tree of places through coupled runs of line, neutral and
    metal; ties, electrodes and pipes are put anywhere, so that loops and double ties abound.
    """
    rng = random.Random(seed)
    circuit = Circuit(60.0, LEAKAGE)
    places = rng.randint(2, 6)
    circuit.add_source("emf1", "emf1", "p0:N", 120)
    circuit.add_source("emf2", "emf2", "p0:N", -120)
    circuit.add_section(
        "source",
        ("L1", "L2"),
        ("emf1", "emf2"),
        ("p0:L1", "p0:L2"),
        [[0.01 + 0.02j, -0.004 - 0.01j], [-0.004 - 0.01j, 0.01 + 0.02j]],
    )
    circuit.add_switch("tie p0", "p0:N", "p0:G")
    circuit.add_impedance("ground p0", "p0:G", EARTH, rng.uniform(2, 50))
    pairs = []
    for k in range(1, places + 1):
        up = f"p{rng.randrange(k)}"
        here = f"p{k}"
        names = ["L1", "L2", "N", "G"]
        circuit.add_section(
            f"run {k}",
            names,
            [f"{up}:{t}" for t in names],
            [f"{here}:{t}" for t in names],
            passive(rng, 4),
        )
        if rng.random() < 0.5:
            circuit.add_switch(f"tie {here}", f"{here}:N", f"tie {here}")
            circuit.add_impedance(f"join {here}", f"tie {here}", f"{here}:G", 1e-3)
        if rng.random() < 0.4:
            circuit.add_impedance(f"ground {here}", f"{here}:G", EARTH, rng.uniform(2, 50))
        if rng.random() < 0.4:
            other = f"p{rng.randrange(k)}"
            circuit.add_impedance(f"pipe {k}", f"{here}:G", f"{other}:G", rng.uniform(0.005, 0.2))
        for name, a, b in (("a", "L1", "N"), ("b", "L2", "N"), ("c", "L1", "L2")):
            if rng.random() < 0.7:
                z = complex(rng.uniform(3, 60), rng.uniform(0, 5))
                circuit.add_impedance(f"load {k}{name}", f"{here}:{a}", f"{here}:{b}", z)
        pairs.append((f"{here}:L1", f"{here}:G"))
    return circuit, pairs


def delta_wye(*, tied: bool, switched: bool = True) -> Circuit:
    """Return a delta-wye transformer on a grounded wye source, its secondary tied or floating."""
    circuit = Circuit(60.0, LEAKAGE)
    turn = complex(-0.5, -math.sqrt(3) / 2)
    for k in range(3):
        volts = 277.13 * turn**k
        circuit.add_source(f"emf{k}", f"emf{k}", "src:N", volts)
        circuit.add_impedance(f"z{k}", f"emf{k}", f"H{k}", 0.01 + 0.03j)
    circuit.add_impedance("ground", "src:N", EARTH, 1.0)
    for k in range(3):
        circuit.add_transformer(f"t{k}", f"H{k}", f"H{(k + 1) % 3}", f"w{k}", "X0", 480 / 120)
        circuit.add_impedance(f"leak{k}", f"w{k}", f"X{k + 1}", 0.01 + 0.02j)
        circuit.add_impedance(f"load{k}", f"X{k + 1}", "X0", 8 + k)
    circuit.add_switch("tie", "X0", "G", closed=tied and switched)
    circuit.add_impedance("rod", "G", EARTH, 20.0)
    return circuit


def centre_tapped() -> Circuit:
    """Return a single-phase transformer with two coupled secondary halves and unequal loads."""
    circuit = Circuit(60.0, LEAKAGE)
    circuit.add_source("emf", "emf", EARTH, 7200)
    circuit.add_impedance("line", "emf", "H1", 5 + 10j)
    circuit.add_transformer("upper", "H1", EARTH, "w1", "N", 60)
    circuit.add_transformer("lower", "H1", EARTH, "N", "w2", 60)
    circuit.add_section(
        "halves",
        ("1", "2"),
        ("w1", "w2"),
        ("L1", "L2"),
        [[0.015 + 0.012j, -0.005 - 0.008j], [-0.005 - 0.008j, 0.015 + 0.012j]],
    )
    circuit.add_impedance("ground", "N", EARTH, 5)
    circuit.add_impedance("a", "L1", "N", 6)
    circuit.add_impedance("b", "L2", "N", 20)
    circuit.add_impedance("c", "L1", "L2", 12 + 3j)
    return circuit
