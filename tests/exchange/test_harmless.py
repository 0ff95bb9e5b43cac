"""Files from strangers: taken where they are what their name says, else refused."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Callable

import pytest
from PIL import Image

from bondwright.exchange import harmless
from bondwright.exchange.harmless import HarmError, check_file, check_table, opened, parts_of
from bondwright.exchange.sheets import workbook

BOOK = workbook([("LP-1", [["Ckt", "Description"], ["1", "lights \u03a9"]])])
RELATIONS = "xl/_rels/workbook.xml.rels"


def book(*more: tuple[str, bytes], drop: str = "", encrypted: bool = False) -> bytes:
    """A workbook with other parts in it."""
    out = io.BytesIO()
    names = [name for name, _ in more]
    with zipfile.ZipFile(io.BytesIO(BOOK)) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.infolist():
            if part.filename not in (drop, *names):
                new.writestr(part.filename, old.read(part), zipfile.ZIP_DEFLATED)
        for name, content in more:
            new.writestr(name, content)
    data = bytearray(out.getvalue())
    if encrypted:
        at = data.rfind(b"PK\x01\x02")
        data[at + 8] |= 1
    return bytes(data)


def content_types(old: bytes, new: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(BOOK)) as file:
        told = file.read("[Content_Types].xml")
    assert old in told
    return told.replace(old, new)


def png(*, behind: bytes = b"") -> bytes:
    """A picture of one point, by the standard's own layout."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    parts = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts + behind


def jpeg(*, progressive: bool) -> bytes:
    """A picture by another program (Pillow)."""
    out = io.BytesIO()
    drawn = Image.radial_gradient("L")
    drawn.save(out, "JPEG", quality=90, restart_marker_rows=2, progressive=progressive)
    return out.getvalue()


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("site.yaml", "site: barn\n# 20 \u03a9\r\n".encode()),
        ("site.yaml", b"\xef\xbb\xbfsite: barn\n"),
        ("readings.csv", b"what,where\r\nvoltage,\x80 \xb5\r\n"),
        ("readings.csv", "what\twhere\r\n".encode("utf-16")),
        ("notes.TXT", b"\tpage one\n\x0cpage two\n"),
        ("model.ifc", b"ISO-10303-21;\nEND-ISO-10303-21;\n"),
        ("empty.txt", b""),
        ("schedule.xlsx", BOOK),
        ("schedule.xlsx", book(("xl/printerSettings/printerSettings1.bin", b"\1\0\2\0"))),
        ("schedule.xlsx", book(("xl/media/image1.png", png()))),
        ("photo.png", png()),
    ],
)
def test_what_is_what_its_name_says_is_taken(name: str, data: bytes) -> None:
    check_file(name, data)


@pytest.mark.parametrize("progressive", [False, True])
def test_a_photo_is_taken_and_nothing_behind_it(progressive: bool) -> None:
    photo = jpeg(progressive=progressive)
    check_file("photo.jpg", photo)
    check_file("photo.JPEG", photo)
    for bad, told in (
        (photo + b"MZ", "behind the end"),
        (photo[:-2], "damaged"),
        (photo[:200], "damaged"),
        (b"GIF89a", "no JPEG"),
    ):
        with pytest.raises(HarmError, match=told):
            check_file("photo.jpg", bad)


def external(kind: str, target: str) -> bytes:
    """The workbook's relations with one more, which leads out of it."""
    with zipfile.ZipFile(io.BytesIO(BOOK)) as file:
        told = file.read(RELATIONS).decode()
    office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    more = f'<Relationship Id="r9" Type="{office}/{kind}" Target="{target}" TargetMode="External"/>'
    return told.replace("</Relationships>", f"{more}</Relationships>").encode()


BAD: list[tuple[str, bytes | Callable[[], bytes], str]] = [
    ("site.yaml", b"site: a\x00b", "no text: line 1 holds U.0000"),
    ("site.yaml", b"site: a\n\n\x1b[2J", "line 3 holds U.001B"),
    ("site.yaml", b"site: \xff", "no UTF-8 text, by byte 7"),
    ("site.yaml", b"\xff\xfes\0", "no UTF-8 text"),
    ("a.csv", b"\xff\xfes", "broken UTF-16"),
    ("a.csv", b"MZ\x90\0", "a program for Windows"),
    ("a.txt", b"\x7fELF\2\1", "a program for Linux"),
    ("a.txt", b"#!/bin/sh\nreboot\n", "a program for a shell"),
    ("a.csv", "#!/bin/sh\n".encode("utf-16"), "a program for a shell"),
    ("a.yaml", b"PK\x03\x04", "an archive"),
    ("a.json", b"%PDF-1.7", "a PDF"),
    ("a.txt", b"{\\rtf1", "objects"),
    ("a.csv", b"\xd0\xcf\x11\xe0\xa1", "old document"),
    ("plan.pdf", b"%PDF-1.7", "only .yaml, .*.jpeg can be looked through"),
    ("run.exe", b"MZ", "only .yaml"),
    ("noend", b"text", "only .yaml"),
    ("a.html", b"<script>", "only .yaml"),
    ("old.xlsm", BOOK, "only .yaml"),
    ("a.xlsx", b"Ckt,Description\n", "no zip file"),
    ("a.xlsx", b"MZ" + BOOK, "between the parts"),
    ("a.xlsx", BOOK + b"MZ", "behind the end"),
    ("a.xlsx", BOOK[:-2] + b"\x02\x00MZ", "behind the end"),
    ("a.xlsx", BOOK[: len(BOOK) // 2], "no zip file"),
    ("a.xlsx", lambda: book(encrypted=True), "encrypted"),
    ("a.xlsx", lambda: book(drop="[Content_Types].xml"), "no workbook"),
    ("a.xlsx", lambda: book(("xl/vbaProject.bin", b"x")), "holds macros .'xl/vbaProject.bin'"),
    ("a.xlsx", lambda: book(("xl/macrosheets/sheet1.xml", b"<x/>")), "holds macros"),
    ("a.xlsx", lambda: book(("xl/activeX/activeX1.xml", b"<x/>")), "ActiveX"),
    ("a.xlsx", lambda: book(("xl/embeddings/oleObject1.bin", b"x")), "embedded objects"),
    ("a.xlsx", lambda: book(("xl/externalLinks/externalLink1.xml", b"<x/>")), "other files"),
    ("a.xlsx", lambda: book(("xl/connections.xml", b"<x/>")), "connections"),
    ("a.xlsx", lambda: book(("customUI/customUI14.xml", b"<x/>")), "buttons"),
    ("a.xlsx", lambda: book(("xl/media/inner.zip", BOOK)), "no part of a table"),
    ("a.xlsx", lambda: book(("xl/run.exe", b"MZ")), "no part of a table"),
    ("a.xlsx", lambda: book(("xl/media/a.emf", b"\1\0\0\0")), "no part of a table"),
    ("a.xlsx", lambda: book(("xl/media/a.png", png(behind=b"MZ"))), "behind the end of the pict"),
    ("a.xlsx", lambda: book(("xl/more.xml", BOOK)), "its part 'xl/more.xml' is an archive"),
    ("a.xlsx", lambda: book(("xl/more.xml", b"\x81\x82")), "is no text"),
    ("a.xlsx", lambda: book(("xl/more.xml", b"hello")), "is no XML"),
    ("a.xlsx", lambda: book(("xl/more.xml", b"<!DOCTYPE x><x/>")), "entities"),
    ("a.xlsx", lambda: book(("xl/printerSettings/printerSettings1.bin", b"MZ")), "a program"),
    ("a.xlsx", lambda: book((RELATIONS, external("externalLinkPath", "https://x.example/a"))),
     "links to another file"),
    ("a.xlsx", lambda: book(("xl/styles.xml", b"<a/>"), ("XL/Styles.xml", b"<b/>")), "twice"),
    ("a.xlsx", lambda: book(("[Content_Types].xml", content_types(
        b"spreadsheetml.sheet.main", b"ms-excel.sheet.macroEnabled.main"))), "it holds macros"),
    ("a.png", b"\x89PNG\r\n\x1a\n", "a damaged PNG"),
    ("a.png", png().replace(b"IHDR\0", b"IHDR\1"), "a damaged PNG"),
    ("a.png", png(behind=BOOK), "behind the end"),
    ("a.png", b"GIF89a", "no PNG"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "data", "told"), BAD)
def test_what_is_something_else_is_refused(
    name: str, data: bytes | Callable[[], bytes], told: str
) -> None:
    with pytest.raises(HarmError, match=f"'{name}' is not taken in: .*{told}"):
        check_file(name, data if isinstance(data, bytes) else data())


def test_a_link_to_a_page_in_a_cell_is_taken() -> None:
    for good in ("https://x.example/a", "HTTP://x.example", "mailto:anna@jobs.example"):
        check_file("a.xlsx", book((RELATIONS, external("hyperlink", good))))
    for bad in ("file:///x", "other.xlsx", "//server/share/x", "javascript:x", "xhttps://x"):
        with pytest.raises(HarmError, match="links to another file"):
            check_file("a.xlsx", book((RELATIONS, external("hyperlink", bad))))


def test_something_hidden_between_the_parts_is_refused() -> None:
    """A second zip file before ours, which no reader of ours lists, as a stowaway."""
    hidden = book(("xl/vbaProject.bin", b"x"))
    with pytest.raises(HarmError, match="between the parts"):
        check_file("a.xlsx", hidden + BOOK)


def test_a_bomb_is_refused_before_it_bursts(monkeypatch: pytest.MonkeyPatch) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for number in range(4):
            file.writestr(f"{number}.xml", b" " * 2**20)
    with pytest.raises(HarmError, match="larger than 3 MiB unpacked"):
        list(parts_of("a.xlsx", out.getvalue(), 3 * 2**20))
    monkeypatch.setattr(harmless, "MOST_PARTS", 3)
    with pytest.raises(HarmError, match="more than 3 parts"), opened("a", out.getvalue()):
        pass


def test_a_table_is_what_it_is_called_or_what_it_begins_with() -> None:
    check_table("", BOOK)
    check_table("schedule", BOOK)
    check_table("", b"Ckt,Breaker\n1,20A\n")
    check_table("a.csv", b"Ckt,Breaker\n1,20A\n")
    for name, data in (("a.csv", BOOK), ("a.xlsx", b"Ckt\n"), ("", b"MZ\0"), ("", BOOK + b"x")):
        with pytest.raises(HarmError):
            check_table(name, data)


@pytest.mark.parametrize("name", ["\x1b[2J.txt", "a\nb.txt"])
def test_a_name_is_shown_so_that_it_does_nothing(name: str) -> None:
    with pytest.raises(HarmError) as told:
        check_file(name, b"\0")
    assert str(told.value).isprintable()
