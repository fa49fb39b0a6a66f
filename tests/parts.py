"""Comparing workbooks part by part, and writing workbooks that no app would write.

Nothing here uses the package under test: the standard library's zipfile is the other opinion.
"""

from __future__ import annotations

import hashlib
import struct
import zipfile
from collections.abc import Iterable, Mapping
from pathlib import Path

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
