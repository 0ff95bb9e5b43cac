"""Runs ngspice, a general circuit simulator, on a netlist and reads its answer back."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path


def node_voltages(ngspice: Path, netlist: str, folder: Path) -> dict[str, complex]:
    """Run one ac analysis and return the voltage of every node by its SPICE name."""
    deck, raw = folder / "deck.cir", folder / "deck.raw"
    deck.write_text(netlist)
    done = subprocess.run(
        [str(ngspice), "-b", "-r", str(raw), str(deck)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        cwd=folder,
        env={**os.environ, "SPICE_ASCIIRAWFILE": "1"},
    )
    if done.returncode or not raw.exists():
        message = f"ngspice failed:\n{done.stdout}\n{done.stderr}"
        raise RuntimeError(message)
    return _read(raw.read_text())


def _read(text: str) -> dict[str, complex]:
    head, _, body = text.partition("Values:\n")
    count = int(next(line for line in head.splitlines() if line.startswith("No. Var")).split()[-1])
    variables = head.partition("Variables:\n")[2].splitlines()[:count]
    names = [line.split()[1] for line in variables]
    values = body.replace("\t", " ").split()[1:]
    found = {}
    for name, value in zip(names, values, strict=False):
        if name == "frequency":
            continue  # the sweep itself, whose imaginary part is left unset
        real, imag = value.split(",")
        if name.startswith("v(") or "#" not in name:
            found[name.removeprefix("v(").removesuffix(")")] = complex(float(real), float(imag))
    return found
