"""Comparing workbooks part by part, and writing workbooks that no app would write.

Nothing here uses the package under test: the standard library's zipfile and XML parser are the other opinion.
"""

from __future__ import annotations

import hashlib
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

from openpyxl.utils import get_column_letter

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
SHEET = "xl/worksheets/sheet1.xml"


def fingerprint(path: Path) -> str:
    """Return the SHA-256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def part_hashes(path: Path) -> dict[str, str]:
    """Return the SHA-256 of every part of a workbook, unpacked."""
    with zipfile.ZipFile(path) as book:
        return {name: hashlib.sha256(book.read(name)).hexdigest() for name in book.namelist()}


def differing_parts(first: Path, second: Path) -> dict[str, str]:
    """Return what became of each part that is not the same in both: "changed", "removed" or "added"."""
    old, new = part_hashes(first), part_hashes(second)
    found = {name: "changed" if name in new else "removed" for name in old if new.get(name) != old[name]}
    return found | {name: "added" for name in new if name not in old}


def raw_entries(path: Path) -> dict[str, tuple[bytes, bytes]]:
    """Return local header (with name and extra fields) and packed bytes of every entry, as they stand there."""
    data = path.read_bytes()
    found = {}
    with zipfile.ZipFile(path) as book:
        for entry in book.infolist():
            names, extra = struct.unpack_from("<2H", data, entry.header_offset + 26)
            content = entry.header_offset + 30 + names + extra
            header = data[entry.header_offset : content]
            found[entry.filename] = (header, data[content : content + entry.compress_size])
    return found


def whole_entries(path: Path) -> dict[str, bytes]:
    """Return the bytes of every entry, from its local header to where the next one or the directory begins."""
    data = path.read_bytes()
    with zipfile.ZipFile(path) as book:
        starts = sorted(entry.header_offset for entry in book.infolist())
        ends = dict(zip(starts, [*starts[1:], book.start_dir]))
        return {entry.filename: data[entry.header_offset : ends[entry.header_offset]] for entry in book.infolist()}


def written_header(path: Path, name: str) -> tuple[object, ...]:
    """Return what the local header of an entry says that a new content does not change, after checking the rest.

    Programs that read a zip as a stream see only this header: sizes and checksum must be right, and nothing
    may follow the content.
    """
    header, packed = raw_entries(path)[name]
    _, _, flags, method, time, date, crc, size, expanded, length, _ = struct.unpack_from("<4s5H3L2H", header)
    content = zlib.decompress(packed, -zlib.MAX_WBITS) if method else packed
    if not flags & 1 << 3 and expanded != 0xFFFFFFFF:
        assert (crc, size, expanded) == (zlib.crc32(content), len(packed), len(content))
        assert whole_entries(path)[name].rstrip(b"\0") == (header + packed).rstrip(b"\0")
    return flags & ~0b1110, time, date, header[30 : 30 + length], _without_sizes(header[30 + length :])


def entry_marks(path: Path) -> dict[str, tuple[object, ...]]:
    """Return what the zip says of every entry and a new content does not change: times, attributes, comment ..."""
    with zipfile.ZipFile(path) as book:
        return {
            entry.filename: (
                entry.date_time,
                entry.create_system,
                entry.create_version,
                entry.flag_bits & ~0b1110,  # how it is packed, and where its sizes stand
                entry.internal_attr,
                entry.external_attr,
                entry.comment,
                _without_sizes(entry.extra),
            )
            for entry in book.infolist()
        }


def _without_sizes(extra: bytes) -> bytes:
    """Return extra fields without the one that holds sizes and places of 64 bits."""
    kept, at = b"", 0
    while at + 4 <= len(extra):
        kind, length = struct.unpack_from("<2H", extra, at)
        kept += extra[at : at + 4 + length] if kind != 1 else b""
        at += 4 + length
    return kept


@dataclass(frozen=True)
class StoredCell:
    """A cell as a sheet part holds it."""

    kind: str
    value: str | None
    formula: bool


def stored_cells(part: bytes) -> dict[str, StoredCell]:
    """Return every cell of a sheet part that holds something, by its address, as another XML parser reads it."""
    found = {}
    for row_number, row in enumerate(_named(ElementTree.fromstring(part), "row"), 1):
        number = row.get("r", str(row_number))
        for column_number, cell in enumerate(_named(row, "c"), 1):
            texts = {tag: "".join(inner.itertext()) for tag in ("v", "is") for inner in _named(cell, tag)}
            formula = any(True for _ in _named(cell, "f"))
            if formula or texts:
                value = texts.get("v", texts.get("is"))
                address = cell.get("r", f"{get_column_letter(column_number)}{number}")
                found[address] = StoredCell(cell.get("t", "n"), value, formula)
    return found


def stored_values(path: Path) -> dict[str, str | None]:
    """Return what every cell stores, as it is written, by "Sheet!A1"; letter case of parts does not matter."""
    parts = {name.lower(): content for name, content in parts_of(path).items()}
    relations = ElementTree.fromstring(parts["xl/_rels/workbook.xml.rels"])
    targets = {relation.get("Id"): relation.get("Target", "") for relation in relations}
    found = {}
    for sheet in _named(ElementTree.fromstring(parts["xl/workbook.xml"]), "sheet"):
        (number,) = (value for name, value in sheet.attrib.items() if name.endswith("}id"))
        cells = stored_cells(parts[f"xl/{targets[number]}".lower()])
        found |= {f"{sheet.get('name')}!{place}": cell.value for place, cell in cells.items()}
    return found


def _named(element: ElementTree.Element, name: str) -> Iterator[ElementTree.Element]:
    return (inner for inner in element.iter() if inner.tag.rpartition("}")[2] == name)


def workbook_parts(sheet: bytes | str = "", *, kind: str = "", workbook: str = "") -> dict[str, bytes]:
    """Return the parts of the smallest workbook.

    Arguments:
        sheet: the sheet part, or the content of its `<sheetData>`
        kind: another content type of the workbook part
        workbook: another workbook part
    """
    if isinstance(sheet, str):
        sheet = f'<worksheet xmlns="{MAIN}"><sheetData>{sheet}</sheetData></worksheet>'.encode()
    kind = kind or "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    spread = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types">'
        f'<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kind}"/>'
        f'<Override PartName="/{SHEET}" ContentType="{spread}"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
        f'Type="{_RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": workbook
        or f'<workbook xmlns="{MAIN}" xmlns:r="{_RELATIONS}"><sheets><sheet name="Dies" sheetId="1" r:id="rId1"/>'
        "</sheets></workbook>",
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
        f'Type="{_RELATIONS}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
    }
    return {name: text.encode() for name, text in parts.items()} | {SHEET: sheet}


def write_zip(path: Path, parts: Mapping[str, bytes] | Iterable[tuple[str, bytes]]) -> Path:
    """Write parts into a zip, pairs in the given order and with repetitions."""
    pairs = parts.items() if isinstance(parts, Mapping) else parts
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in pairs:
            book.writestr(name, content)
    return path


def rewritten(path: Path, change: Callable[[str, bytes], bytes]) -> Path:
    """Write a workbook anew, every part as a function of its name and content gives it; some part must change."""
    parts = parts_of(path)
    new = {name: change(name, content) for name, content in parts.items()}
    assert new != parts
    return write_zip(path, new)


def parts_of(path: Path) -> dict[str, bytes]:
    """Return the unpacked parts of a workbook, in order."""
    with zipfile.ZipFile(path) as book:
        return {name: book.read(name) for name in book.namelist()}
