"""Real files that the batch mode must refuse: each function writes one into a folder and returns its path."""

from __future__ import annotations

import os
import re
import struct
import warnings
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

from parts import MAIN, SHEET, workbook_parts, write_zip

Maker = Callable[[Path], Path]


def compound_file(path: Path, stream: str) -> Path:
    """Write an OLE compound file of one stream: header, allocation table, directory, contents."""
    header = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16)
    header += struct.pack("<5H6x", 0x3E, 3, 0xFFFE, 9, 6)
    header += struct.pack("<9L", 0, 1, 1, 0, 0x1000, 0xFFFFFFFE, 0, 0xFFFFFFFE, 0)
    header += struct.pack("<L", 0) + b"\xff" * (108 * 4)
    table = struct.pack("<4L", 0xFFFFFFFD, 0xFFFFFFFE, 3, 0xFFFFFFFE) + b"\xff" * (512 - 16)

    def entry(name: str, kind: int, child: int, start: int, size: int) -> bytes:
        raw = name.encode("utf-16-le")
        links = struct.pack("<3L", 0xFFFFFFFF, 0xFFFFFFFF, child)
        head = raw.ljust(64, b"\0") + struct.pack("<HBB", len(raw) + 2, kind, 1) + links
        return head + bytes(36) + struct.pack("<LQ", start, size)

    directory = entry("Root Entry", 5, 1, 0xFFFFFFFE, 0) + entry(stream, 2, 0xFFFFFFFF, 2, 1024) + bytes(256)
    path.write_bytes(header.ljust(512, b"\xff") + table + directory + bytes(1024))
    return path


def patched(path: Path, edit: Callable[[bytearray], None]) -> Path:
    data = bytearray(path.read_bytes())
    edit(data)
    path.write_bytes(data)
    return path


def sound(folder: Path) -> Path:
    return write_zip(folder / "book.xlsx", workbook_parts('<row r="1"><c r="A1"><v>1</v></c></row>' * 400))


def entry_of(data: bytes, name: str) -> tuple[int, int]:
    """Return where the local header and the central record of an entry begin."""
    raw = name.encode()
    local = next(m.start() for m in re.finditer(b"PK\3\4", data) if data[m.start() + 30 :].startswith(raw))
    central = next(m.start() for m in re.finditer(b"PK\1\2", data) if data[m.start() + 46 :].startswith(raw))
    return local, central


def with_part(folder: Path, name: str, content: bytes = b"x") -> Path:
    return write_zip(folder / "book.xlsx", workbook_parts() | {name: content})


def without_part(folder: Path, name: str) -> Path:
    parts = workbook_parts()
    del parts[name]
    return write_zip(folder / "book.xlsx", parts)


def plain(content: bytes) -> Maker:
    def make(folder: Path) -> Path:
        (folder / "book.xlsx").write_bytes(content)
        return folder / "book.xlsx"

    return make


def open_document(folder: Path) -> Path:
    with zipfile.ZipFile(folder / "book.ods", "w") as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        book.writestr("content.xml", "<office/>")
    return folder / "book.ods"


def of_kind(kind: str) -> Maker:
    return lambda folder: write_zip(folder / "book.xlsx", workbook_parts(kind=kind))


def twice(*names: str) -> Maker:
    def make(folder: Path) -> Path:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            pairs = list(workbook_parts().items()) + [(name, b"again") for name in names]
            return write_zip(folder / "book.xlsx", pairs)

    return make


def backslash(folder: Path) -> Path:
    path = with_part(folder, "xl/worksheets/other.xml")
    path.write_bytes(path.read_bytes().replace(b"xl/worksheets/other.xml", b"xl\\worksheets\\other.xml"))
    return path


def encrypted_entry(folder: Path) -> Path:
    def edit(data: bytearray) -> None:
        local, central = entry_of(data, SHEET)
        data[local + 6] |= 1
        data[central + 8] |= 1

    return patched(sound(folder), edit)


def bad_checksum(folder: Path) -> Path:
    def edit(data: bytearray) -> None:
        local, central = entry_of(data, SHEET)
        data[local + 14] ^= 1
        data[central + 16] ^= 1

    return patched(sound(folder), edit)


def flipped_bits(folder: Path) -> Path:
    def edit(data: bytearray) -> None:
        local, _ = entry_of(data, SHEET)
        for i in range(local + 60, local + 70):
            data[i] ^= 0xFF

    return patched(sound(folder), edit)


def cut(share: float) -> Maker:
    def make(folder: Path) -> Path:
        path = sound(folder)
        data = path.read_bytes()
        path.write_bytes(data[: int(len(data) * share)])
        return path

    return make


def grows_beyond_its_size(folder: Path) -> Path:
    """An entry of 100 MB that announces 1000 bytes in both headers."""

    def edit(data: bytearray) -> None:
        local, central = entry_of(data, "xl/media/image1.png")
        struct.pack_into("<L", data, local + 22, 1000)
        struct.pack_into("<L", data, central + 24, 1000)
        checksum = zlib.crc32(bytes(1000))
        struct.pack_into("<L", data, local + 14, checksum)
        struct.pack_into("<L", data, central + 16, checksum)

    return patched(with_part(folder, "xl/media/image1.png", bytes(100 << 20)), edit)


def overlapping(folder: Path) -> Path:
    """An entry whose packed bytes reach into the next one."""

    def edit(data: bytearray) -> None:
        _, central = entry_of(data, "xl/workbook.xml")
        size = struct.unpack_from("<L", data, central + 20)[0]
        struct.pack_into("<L", data, central + 20, size + 200)

    return patched(sound(folder), edit)


def other_name_inside(folder: Path) -> Path:
    """An entry that is called differently in the list than where it stands."""

    def edit(data: bytearray) -> None:
        local, _ = entry_of(data, SHEET)
        data[local + 30 + len(SHEET) - 5] = ord("9")

    return patched(sound(folder), edit)


def shifted_directory(folder: Path) -> Path:
    path = sound(folder)
    path.write_bytes(b"#!/bin/sh\n" + path.read_bytes())
    return path


def prefixed_directory(folder: Path) -> Path:
    """Bytes before the first entry, so that every offset is wrong."""
    path = sound(folder)
    path.write_bytes(b"PK\3\4" + path.read_bytes())
    return path


def bytes_behind(folder: Path) -> Path:
    path = sound(folder)
    path.write_bytes(path.read_bytes() + b"\n")
    return path


def wrong_count(folder: Path) -> Path:
    def edit(data: bytearray) -> None:
        at = data.rindex(b"PK\5\6")
        struct.pack_into("<2H", data, at + 8, 3, 3)

    return patched(sound(folder), edit)


def other_packing(folder: Path) -> Path:
    with zipfile.ZipFile(folder / "book.xlsx", "w", zipfile.ZIP_BZIP2) as book:
        for name, content in workbook_parts().items():
            book.writestr(name, content)
    return folder / "book.xlsx"


def document_type(name: str) -> Maker:
    def make(folder: Path) -> Path:
        parts = workbook_parts()
        declared = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
        return write_zip(folder / "book.xlsx", parts | {name: declared + parts[name]})

    return make


def document_type_in_utf16(folder: Path) -> Path:
    text = f'<?xml version="1.0" encoding="UTF-16"?><!DOCTYPE x SYSTEM "file:///x"><workbook xmlns="{MAIN}"/>'
    return write_zip(folder / "book.xlsx", workbook_parts() | {"xl/workbook.xml": text.encode("utf-16")})


def pipe(folder: Path) -> Path:
    os.mkfifo(folder / "book.xlsx")
    return folder / "book.xlsx"


_EXCEL = "application/vnd.ms-excel."
_OFFICE = "application/vnd.openxmlformats-officedocument."

REFUSED: dict[str, tuple[Maker, str]] = {
    "empty": (plain(b""), "is empty"),
    "text": (plain(b"die;force\n1;2\n" * 50), "not an .xlsx or .xlsm workbook"),
    "old_workbook": (
        lambda folder: compound_file(folder / "book.xls", "Workbook"),
        r"\(\.xls\).*as \.xlsx",
    ),
    "older_workbook": (lambda folder: compound_file(folder / "book.xls", "Book"), r"\(\.xls\)"),
    "old_document": (lambda folder: compound_file(folder / "book.xls", "WordDocument"), "old binary format"),
    "password": (
        lambda folder: compound_file(folder / "book.xlsx", "EncryptedPackage"),
        "encrypted; save it without a password",
    ),
    "open_document": (open_document, r"OpenDocument spreadsheet \(\.ods\)"),
    "binary_workbook": (of_kind(_EXCEL + "sheet.binary.macroEnabled.main"), r"\(\.xlsb\)"),
    "text_document": (of_kind(_OFFICE + "wordprocessingml.document.main+xml"), "is a text document"),
    "other_package": (of_kind("application/xml"), "no workbook"),
    "other_zip": (
        lambda folder: write_zip(folder / "a.zip", {"readme.txt": b"x"}),
        "is a zip file, but no workbook",
    ),
    "no_relations": (lambda folder: without_part(folder, "_rels/.rels"), "none of them is the workbook"),
    "no_workbook_part": (lambda folder: without_part(folder, "xl/workbook.xml"), "none of them is the workbook"),
    "other_root": (
        lambda folder: write_zip(folder / "book.xlsx", workbook_parts(workbook="<document/>")),
        "no workbook",
    ),
    "malformed": (
        lambda folder: write_zip(folder / "book.xlsx", workbook_parts(workbook="<workbook><sheets>")),
        "xl/workbook.xml is damaged",
    ),
    "encrypted_entry": (encrypted_entry, "encrypted; save it without a password"),
    "twice": (twice(SHEET), "twice"),
    "twice_by_letter_case": (twice(SHEET.upper()), "twice"),
    "absolute_name": (lambda folder: with_part(folder, "/etc/passwd"), "leads out of the file"),
    "drive_name": (lambda folder: with_part(folder, "C:/x.xml"), "leads out of the file"),
    "climbing_name": (lambda folder: with_part(folder, "xl/../../x.xml"), "leads out of the file"),
    "backslash_name": (backslash, "leads out of the file"),
    "checksum": (bad_checksum, "is damaged: the checksum"),
    "flipped_bits": (flipped_bits, "is damaged"),
    "cut_short": (cut(0.98), "is damaged"),
    "half": (cut(0.5), "is damaged"),
    "overlapping": (overlapping, "contradict each other"),
    "other_name_inside": (other_name_inside, "contradict each other"),
    "script_before": (shifted_directory, "not an .xlsx or .xlsm workbook"),
    "bytes_before": (prefixed_directory, "is damaged"),
    "wrong_count": (wrong_count, "is damaged"),
    "bytes_behind": (bytes_behind, "cut short or added to"),
    "other_packing": (other_packing, "save it anew"),
    "entities_in_workbook": (document_type("xl/workbook.xml"), "declares a document type"),
    "entities_in_types": (document_type("[Content_Types].xml"), "declares a document type"),
    "entities_in_relations": (document_type("_rels/.rels"), "declares a document type"),
    "external_entity_in_utf16": (document_type_in_utf16, "declares a document type"),
    "bomb_by_ratio": (
        lambda folder: with_part(folder, "xl/media/image1.png", bytes(100 << 20)),
        r'times its size, the limit "ratio" is 400; raise',
    ),
    "bomb_that_lies": (grows_beyond_its_size, "not of the size it announces"),
    "pipe": (pipe, "not a plain file"),
}
