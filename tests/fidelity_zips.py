"""Workbooks zipped in every way that the format of zip files allows, and some that no workbook needs."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from fidelity_kinds import SHEET, kind, register
from parts import parts_of, write_zip

_FULL32 = 0xFFFFFFFF
_DESCRIBED, _UTF8 = 1 << 3, 1 << 11


@dataclass(frozen=True)
class Item:
    """One entry, and how it is written."""

    name: str
    content: bytes
    stored: bool = False
    flags: int = 0
    level: int = 6
    time: int = 0
    date: int = 33  # 1 January 1980, the first day there is
    local: bytes = b""
    """extra fields of the local header"""
    central: bytes = b""
    """extra fields of the directory"""
    comment: bytes = b""
    made_by: int = 20
    attributes: tuple[int, int] = (0, 0)
    wide: bool = False
    """whether sizes and places stand in extra fields of 64 bits"""
    descriptor: str = ""
    """"signed" or "bare": sizes stand behind the content, with or without a signature"""
    gap: bytes = b""
    """what lies behind it and belongs to nothing"""

    def written(self, offset: int) -> tuple[bytes, bytes]:
        """Return the entry and its record in the directory."""
        name = self.name.encode()
        method = 0 if self.stored else 8
        deflate = zlib.compressobj(self.level, zlib.DEFLATED, -zlib.MAX_WBITS)
        packed = self.content if self.stored else deflate.compress(self.content) + deflate.flush()
        flags = self.flags | (_DESCRIBED if self.descriptor else 0)
        true = (zlib.crc32(self.content), len(packed), len(self.content))
        said = (0, 0, 0) if self.descriptor else true
        local, central = self.local, self.central
        record, place = true, offset
        if self.wide:
            said, record, place = (said[0], _FULL32, _FULL32), (true[0], _FULL32, _FULL32), _FULL32
            local = struct.pack("<2H2Q", 1, 16, *(0, 0) if self.descriptor else true[:0:-1]) + local
            central = central + struct.pack("<2H3Q", 1, 24, *true[:0:-1], offset)
        version = 45 if self.wide else 20
        head = struct.pack(
            "<4s5H3L2H", b"PK\3\4", version, flags, method, self.time, self.date, *said, len(name), len(local)
        )
        tail = b""
        if self.descriptor:
            tail = struct.pack("<L2Q" if self.wide else "<3L", *true)
            tail = (b"PK\7\x08" if self.descriptor == "signed" else b"") + tail
        directory = struct.pack(
            "<4s6H3L5H2L", b"PK\1\2", self.made_by, version, flags, method, self.time, self.date, *record,
            len(name), len(central), len(self.comment), 0, *self.attributes, place,
        )  # fmt: skip
        return head + name + local + packed + tail + self.gap, directory + name + central + self.comment


def zipped(
    path: Path, items: Iterable[Item], comment: bytes = b"", *, wide: bool = False, backwards: bool = False
) -> Path:
    """Write a zip; `wide` gives it an end record of 64 bits, `backwards` a directory in another order."""
    data, records = b"", []
    for item in items:
        entry, record = item.written(len(data))
        data += entry
        records.append(record)
    count, directory = len(records), b"".join(records[::-1] if backwards else records)
    place = (len(directory), len(data))
    end = b""
    if wide:
        end = struct.pack("<4sQ2H2L4Q", b"PK\6\6", 44, 45, 45, 0, 0, count, count, *place)
        end += struct.pack("<4sLQL", b"PK\6\7", 0, sum(place), 1)
        count, place = 0xFFFF, (_FULL32, _FULL32)
    end += struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, count, count, *place, len(comment)) + comment
    path.write_bytes(data + directory + end)
    return path


def _items(path: Path, change: Callable[[Item], Item] = lambda item: item) -> list[Item]:
    """Return the parts of the register as entries."""
    return [change(Item(name, content)) for name, content in parts_of(register(path)).items()]


@kind("zip64: sizes and places of 64 bits throughout", SHEET)
def zip64(path: Path) -> Path:
    return zipped(path, _items(path, lambda item: replace(item, wide=True)), wide=True)


@kind("zip64 sizes in the sheet alone, no record of 64 bits at the end", SHEET, office=True)
def zip64_sheet(path: Path) -> Path:
    return zipped(path, _items(path, lambda item: replace(item, wide=item.name == SHEET)))


@kind("zip64 with data descriptors of 64 bits", SHEET)
def zip64_streamed(path: Path) -> Path:
    return zipped(path, _items(path, lambda item: replace(item, wide=True, descriptor="signed")), wide=True)


@kind("data descriptors with signature, as programs write that stream", SHEET, office=True)
def streamed(path: Path) -> Path:
    return zipped(path, _items(path, lambda item: replace(item, descriptor="signed")))


@kind("data descriptors without signature", SHEET)
def streamed_bare(path: Path) -> Path:
    return zipped(path, _items(path, lambda item: replace(item, descriptor="bare")))


@kind("stored entries, not packed", SHEET)
def stored(path: Path) -> Path:
    return zipped(path, _items(path, lambda item: replace(item, stored=True)))


@kind("entries packed at several levels, with the flags that tell them", SHEET)
def levels(path: Path) -> Path:
    return zipped(path, [replace(item, level=i % 10, flags=(i % 4) << 1) for i, item in enumerate(_items(path))])


_TIMES = struct.pack("<2HBL", 0x5455, 5, 1, 1_700_000_000)
_NTFS = struct.pack("<2HL2H3Q", 0x000A, 32, 0, 1, 24, 133_000_000_000_000_000, 133_000_000_000_000_000, 0)


@kind("extra fields (times, owners, unknown ones), different in directory and header", SHEET)
def extra_fields(path: Path) -> Path:
    owners = struct.pack("<2H2B", 0x7875, 11, 1, 4) + bytes(9)
    unknown = struct.pack("<2H4s", 0xCAFE, 4, b"kept")
    return zipped(
        path, _items(path, lambda item: replace(item, local=_TIMES + _NTFS + owners, central=unknown + _TIMES))
    )


@kind("comments on entries and on the file, attributes, odd times, other systems", SHEET)
def marks(path: Path) -> Path:
    made = [(20, (0, 0)), (3 << 8 | 63, (1, 0o100640 << 16)), (0x0B14, (0, 32)), (19 << 8 | 20, (1, 1))]
    times = [(0, 33), (0xBF7D, 0xFF9F), (0x6F3B, 0x58A6), (1, 33)]
    items = [
        replace(item, comment=b"of the die shop", made_by=made[i % 4][0], attributes=made[i % 4][1],
                time=times[i % 4][0], date=times[i % 4][1])
        for i, item in enumerate(_items(path))
    ]  # fmt: skip
    return zipped(path, items, comment="kept, äöü".encode() + bytes(range(9)))


@kind(
    "names marked as UTF-8, folders as entries, letter case of its own", "xl/worksheets/Blätter/SHEET1.xml",
    openpyxl=False,
)  # fmt: skip
def entry_names(path: Path) -> Path:
    def renamed(item: Item) -> Item:
        content = item.content.replace(b"worksheets/sheet1.xml", "worksheets/Blätter/Sheet1.xml".encode())
        return replace(item, name=item.name.replace("sheet1", "Blätter/SHEET1"), content=content, flags=_UTF8)

    folders = [Item(name, b"", stored=True, attributes=(0, 16)) for name in ("xl/", "xl/worksheets/")]
    return zipped(path, folders + _items(path, renamed))


@kind("entries in any order, the list of content types last", SHEET)
def order(path: Path) -> Path:
    return zipped(path, _items(path)[::-1])


@kind("a directory in another order than the entries", SHEET)
def directory_order(path: Path) -> Path:
    return zipped(path, _items(path), backwards=True)


@kind("a first entry named mimetype, bytes between entries that belong to none", SHEET, "mimetype")
def gaps(path: Path) -> Path:
    items = [Item("mimetype", b"application/x-invented", stored=True), *_items(path)]
    return zipped(path, [replace(item, gap=bytes(i % 5)) for i, item in enumerate(items)])


@kind("bytes before the first entry", refused="such a file is a zip, this is not")
def leading_bytes(path: Path) -> Path:
    path.write_bytes(b"#!/bin/sh\n" + register(path).read_bytes())
    return path


@kind("bytes after the end", refused="does not end where it should")
def trailing_bytes(path: Path) -> Path:
    path.write_bytes(register(path).read_bytes() + bytes(64))
    return path


@kind("two directories that contradict each other", refused="contradict each other")
def two_directories(path: Path) -> Path:
    data = bytearray(zipped(path, _items(path), wide=True).read_bytes())
    data[-14:-6] = struct.pack("<2HL", 1, 1, 46)
    path.write_bytes(data)
    return path


@kind("the same part twice", refused="twice")
def twice(path: Path) -> Path:
    parts = [*parts_of(register(path)).items(), (SHEET.upper(), b"<worksheet/>")]
    return write_zip(path, parts)


@kind("entries packed by another method (bzip2)", refused="by a method")
def other_method(path: Path) -> Path:
    data = register(path).read_bytes()
    head, record = b"PK\3\4" + bytes([20, 0, 0, 0, 8]), b"PK\1\2"
    assert head in data
    changed = data.replace(head, head[:-1] + b"\x0c")
    at = changed.find(record)
    while at >= 0:
        changed = changed[: at + 10] + b"\x0c" + changed[at + 11 :]
        at = changed.find(record, at + 1)
    path.write_bytes(changed)
    return path
