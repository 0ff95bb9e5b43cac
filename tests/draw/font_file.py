"""Reads advance widths out of a TrueType file, and writes the table that the drawing layer uses.

Run as ``python -m tests.draw.font_file`` from the top of the project to write the table anew.
"""

from __future__ import annotations

import json
import struct
from pathlib import Path

import font_source_sans_pro

TABLE = Path("src/bondwright/draw/data/widths.json")
WEIGHTS = {"regular": "SourceSansPro", "bold": "SourceSansProSemibold"}
RANGES = ((0x20, 0x52F), (0x2000, 0x22FF))


def advance_widths(path: Path) -> tuple[int, dict[int, int]]:
    """Return units per em and the advance width of every code point of the basic plane."""
    data = path.read_bytes()
    count = struct.unpack(">H", data[4:6])[0]
    tables = {}
    for k in range(count):
        tag, _, offset, length = struct.unpack(">4sIII", data[12 + 16 * k : 28 + 16 * k])
        tables[tag.decode()] = data[offset : offset + length]
    units = struct.unpack(">H", tables["head"][18:20])[0]
    measured = struct.unpack(">H", tables["hhea"][34:36])[0]
    widths = [struct.unpack(">H", tables["hmtx"][4 * g : 4 * g + 2])[0] for g in range(measured)]
    glyphs = _cmap4(tables["cmap"])
    return units, {code: widths[min(glyph, measured - 1)] for code, glyph in glyphs.items()}


def _cmap4(cmap: bytes) -> dict[int, int]:
    count = struct.unpack(">H", cmap[2:4])[0]
    for k in range(count):
        offset = struct.unpack(">I", cmap[8 + 8 * k : 12 + 8 * k])[0]
        if struct.unpack(">H", cmap[offset : offset + 2])[0] == 4:
            return _format4(cmap[offset:])
    raise ValueError("the font has no character map of format 4")


def _format4(table: bytes) -> dict[int, int]:
    twice = struct.unpack(">H", table[6:8])[0]
    n = twice // 2
    ends = struct.unpack(f">{n}H", table[14 : 14 + twice])
    starts = struct.unpack(f">{n}H", table[16 + twice : 16 + 2 * twice])
    deltas = struct.unpack(f">{n}h", table[16 + 2 * twice : 16 + 3 * twice])
    at = 16 + 3 * twice
    offsets = struct.unpack(f">{n}H", table[at : at + twice])
    found = {}
    for k in range(n):
        for code in range(starts[k], ends[k] + 1):
            if offsets[k] == 0:
                glyph = (code + deltas[k]) & 0xFFFF
            else:
                here = at + 2 * k + offsets[k] + 2 * (code - starts[k])
                glyph = struct.unpack(">H", table[here : here + 2])[0]
                glyph = (glyph + deltas[k]) & 0xFFFF if glyph else 0
            if glyph and code != 0xFFFF:
                found[code] = glyph
    return found


def width_table() -> dict[str, dict[str, int]]:
    """Return for each weight the width of each character, in thousandths of an em."""
    out = {}
    for weight, name in WEIGHTS.items():
        units, widths = advance_widths(Path(font_source_sans_pro.font_files_ttf[name]))
        out[weight] = {
            chr(code): round(width * 1000 / units)
            for code, width in sorted(widths.items())
            if any(low <= code <= high for low, high in RANGES)
        }
    return out


if __name__ == "__main__":
    table = {
        "source": "advance widths of Source Sans Pro Regular and Semibold (SIL Open Font License)",
        "unit": "thousandths of an em",
        **width_table(),
    }
    TABLE.write_text(json.dumps(table, ensure_ascii=True, indent=0) + "\n", encoding="utf-8")
