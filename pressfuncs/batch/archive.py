"""The zip of a workbook: read strictly, written with every untouched entry copied byte for byte.

The standard library's zipfile reads the same format, but forgivingly, and cannot copy an entry without
unpacking it. Here an entry that is not replaced keeps its compressed bytes, flags, times, extra fields, data
descriptor and place; only its offset in the central directory is set anew.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pressfuncs.batch.packing import deflated
from pressfuncs.batch.refusals import Refused

_CENTRAL = struct.Struct("<4s6H3L5H2L")
_LOCAL = struct.Struct("<4s5H3L2H")
_END = struct.Struct("<4s4H2LH")
_END64 = struct.Struct("<4sQ2H2L4Q")
_LOCATOR = struct.Struct("<4sLQL")
_FULL16, _FULL32 = 0xFFFF, 0xFFFFFFFF
_ENCRYPTED = 1 | 1 << 6 | 1 << 13
_DESCRIPTOR = 1 << 3
_UTF8 = 1 << 11
_STORED, _DEFLATED = 0, 8
_NEWEST = 63  # version of the format, in tenths, that unpacking may ask for
_ZIP64 = 1  # id of the extra field that holds numbers of 64 bits


@dataclass(frozen=True)
class Limits:
    """How large a workbook may be before it is taken for a trap; every number may be set higher.

    The sizes an entry announces are held against these limits, and unpacking stops where an entry grows
    larger than it announced.
    """

    file: int = 512 << 20
    """bytes of the file itself"""
    entries: int = 20_000
    """parts in the file"""
    total: int = 2 << 30
    """bytes of all parts unpacked"""
    part: int = 1 << 30
    """bytes of one part unpacked"""
    ratio: float = 400.0
    """how many times larger than its packed bytes a part may be"""
    ratio_floor: int = 64 << 20
    """bytes unpacked up to which the ratio is not looked at: blank sheets pack extremely well"""


DEFAULT_LIMITS = Limits()


@dataclass(frozen=True)
class Entry:
    """One entry of the zip: what the central directory says of it, and where its bytes are."""

    name: str
    central: bytes
    flags: int
    method: int
    crc: int
    packed: int
    expanded: int
    offset: int
    content: int
    """offset of the packed bytes"""
    end: int
    """offset of what follows: the next entry, or the central directory"""


class Archive:
    """A zip held in memory: a snapshot that nobody can change while it is worked on."""

    def __init__(self, data: bytes, limits: Limits = DEFAULT_LIMITS) -> None:
        """Read the central directory and hold it against the limits; nothing is unpacked yet.

        Raises:
            Refused: damaged, encrypted, beyond a limit, or with names that no workbook needs.
        """
        self.data = data
        self._end = _end_of(data)
        self.entries = _entries(data, self._end, limits)
        self._check_sizes(limits)

    def read(self, entry: Entry) -> bytes:
        """Unpack one entry and check its checksum; it never grows larger than it announced."""
        packed = memoryview(self.data)[entry.content : entry.content + entry.packed]
        if entry.method == _STORED:
            expanded = bytes(packed)
        elif entry.method == _DEFLATED:
            inflate = zlib.decompressobj(-zlib.MAX_WBITS)
            try:
                expanded = inflate.decompress(packed, entry.expanded + 1)
            except zlib.error:
                raise damaged(f"the part {entry.name} cannot be unpacked") from None
        else:
            raise Refused(
                f"the part {entry.name} is packed by a method (number {entry.method}) that workbooks do not use; "
                "open the file in the spreadsheet app and save it anew"
            )
        if len(expanded) != entry.expanded:
            raise damaged(f"the part {entry.name} is not of the size it announces")
        if zlib.crc32(expanded) != entry.crc:
            raise damaged(f"the checksum of the part {entry.name} is wrong")
        return expanded

    def rewritten(self, replaced: Mapping[str, bytes]) -> Iterator[bytes | memoryview]:
        """Yield the bytes of the zip with the contents of some entries replaced (packed by deflate)."""
        whole = memoryview(self.data)
        in_place = sorted(self.entries, key=lambda entry: entry.offset)
        position = in_place[0].offset if in_place else self._end.directory
        yield whole[:position]
        central: dict[str, bytes] = {}
        for entry in in_place:
            if position >= _FULL32:
                raise Refused("would become larger than 4 GiB; split the workbook")
            if entry.name in replaced:
                header, packed, central[entry.name] = self._replacement(entry, replaced[entry.name], position)
                yield header
                yield packed
                position += len(header) + len(packed)
            else:
                central[entry.name] = _moved(entry, position)
                yield whole[entry.offset : entry.end]
                position += entry.end - entry.offset
        directory = b"".join(central[entry.name] for entry in self.entries)
        yield directory
        yield self._end.rewritten(len(self.entries), len(directory), position)

    def _replacement(self, entry: Entry, expanded: bytes, position: int) -> tuple[bytes, bytes, bytes]:
        """Return the local header, the packed bytes and the central record of an entry with new contents."""
        packed = deflated(expanded)
        flags = entry.flags & ~(_DESCRIPTOR | 0b110)
        measures = (zlib.crc32(expanded), len(packed), len(expanded))
        old = _LOCAL.unpack_from(self.data, entry.offset)
        names_at = entry.offset + _LOCAL.size
        name = self.data[names_at : names_at + old[9]]
        extra = _without_zip64(self.data[names_at + old[9] : entry.content])
        header = _LOCAL.pack(old[0], 20, flags, _DEFLATED, *old[4:6], *measures, len(name), len(extra))
        old = _CENTRAL.unpack_from(entry.central)
        rest = entry.central[_CENTRAL.size :]
        kept = _without_zip64(rest[old[10] : old[10] + old[11]])
        record = _CENTRAL.pack(
            *(old[0], old[1], 20, flags, _DEFLATED, *old[5:7], *measures),
            *(old[10], len(kept), old[12], 0, *old[14:16], position),
        )
        tail = rest[old[10] + old[11] :]
        return header + name + extra, packed, record + rest[: old[10]] + kept + tail

    def _check_sizes(self, limits: Limits) -> None:
        total = 0
        for entry in self.entries:
            total += entry.expanded
            if entry.expanded > limits.part:
                raise _too_large(f"the part {entry.name} unpacks to {entry.expanded} bytes", "part", limits.part)
            if entry.expanded > limits.ratio_floor and entry.expanded > limits.ratio * max(1, entry.packed):
                raise _too_large(
                    f"the part {entry.name} unpacks to {entry.expanded / max(1, entry.packed):.0f} times its size",
                    "ratio",
                    limits.ratio,
                )
        if total > limits.total:
            raise _too_large(f"its parts unpack to {total} bytes", "total", limits.total)


@dataclass(frozen=True)
class _EndRecord:
    """Where the central directory is, and what must be written after it."""

    directory: int
    size: int
    count: int
    zip64: bytes
    """the record for 64 bits as it was, or nothing"""
    comment: bytes

    def rewritten(self, count: int, size: int, directory: int) -> bytes:
        """Return the records after the central directory for a directory of another place and size."""
        extra = b""
        if self.zip64 or count >= _FULL16 or directory + size >= _FULL32:
            versions = _END64.unpack_from(self.zip64)[2:4] if self.zip64 else (45, 45)
            kept = self.zip64[_END64.size :]
            length = _END64.size - 12 + len(kept)
            extra = _END64.pack(b"PK\6\6", length, *versions, 0, 0, count, count, size, directory) + kept
            extra += _LOCATOR.pack(b"PK\6\7", 0, directory + size, 1)
        short = min(count, _FULL16)
        places = (min(size, _FULL32), min(directory, _FULL32))
        return extra + _END.pack(b"PK\5\6", 0, 0, short, short, *places, len(self.comment)) + self.comment


def damaged(cause: str) -> Refused:
    """Return the refusal of a damaged zip."""
    return Refused(f"is damaged: {cause}; take another copy, or let the spreadsheet app repair it and save it")


def _too_large(cause: str, limit: str, value: float) -> Refused:
    return Refused(
        f'is larger than expected of a workbook: {cause}, the limit "{limit}" is {value:.10g}; '
        "raise that limit if you trust the file"
    )


def _end_of(data: bytes) -> _EndRecord:
    """Find the end record; it must end where the file ends, so that every program reads the same directory."""
    at = data.rfind(b"PK\5\6", max(0, len(data) - _END.size - _FULL16))
    if at < 0 or at + _END.size > len(data):
        raise damaged("the list of its parts at the end is missing, the file was cut short")
    fields = _END.unpack_from(data, at)
    if at + _END.size + fields[7] != len(data):
        raise damaged("it does not end where it should, the file was cut short or added to")
    _, disk, first_disk, _, count, size, directory, _ = fields
    zip64, close = b"", at
    if data[at - _LOCATOR.size : at - _LOCATOR.size + 4] == b"PK\6\7" and at >= _LOCATOR.size:
        record = _LOCATOR.unpack_from(data, at - _LOCATOR.size)[2]
        if record + _END64.size > at or data[record : record + 4] != b"PK\6\6":
            raise damaged("its 64 bit end record is missing")
        zip64, close = data[record : at - _LOCATOR.size], record
        _, _, _, _, disk, first_disk, _, count, size, directory = _END64.unpack_from(zip64)
        if any(
            short not in (full, wide)
            for short, full, wide in zip(fields[4:7], (_FULL16, _FULL32, _FULL32), (count, size, directory))
        ):
            raise damaged("its two end records contradict each other, and programs differ in which one they read")
    if disk or first_disk or directory + size != close:
        raise damaged("the list of its parts is not where it should be")
    return _EndRecord(directory, size, count, zip64, data[at + _END.size :])


def _entries(data: bytes, end: _EndRecord, limits: Limits) -> list[Entry]:
    """Read the central directory and hold every record against the local header it points to."""
    if end.count > limits.entries:
        raise _too_large(f"it has {end.count} parts", "entries", limits.entries)
    records: list[tuple[tuple[int, ...], bytes, bytes]] = []
    at, close = end.directory, end.directory + end.size
    while at < close:
        if len(records) == end.count or data[at : at + 4] != b"PK\1\2" or at + _CENTRAL.size > close:
            raise damaged("the list of its parts cannot be read")
        fields = _CENTRAL.unpack_from(data, at)
        length = _CENTRAL.size + sum(fields[10:13])
        raw = data[at : at + length]
        at += length
        records.append((_sizes(fields, raw), raw, raw[_CENTRAL.size : _CENTRAL.size + fields[10]]))
    if at != close or len(records) != end.count:
        raise damaged("the list of its parts is incomplete")
    starts = sorted(sizes[2] for sizes, _, _ in records)
    follows = dict(zip(starts, [*starts[1:], end.directory]))
    entries: list[Entry] = []
    seen: set[str] = set()
    for (expanded, packed, offset), raw, raw_name in records:
        fields = _CENTRAL.unpack_from(raw)
        flags, method = fields[3], fields[4]
        name = _name(raw_name, flags)
        if name.lower() in seen:
            raise Refused(
                f"holds the part {name} twice, and programs differ in which one they read; "
                "open it in the spreadsheet app, check it and save it anew"
            )
        seen.add(name.lower())
        local = data[offset : offset + _LOCAL.size]
        if len(local) < _LOCAL.size or local[:4] != b"PK\3\4":
            raise damaged(f"the part {name} is not where the list says")
        _, _, local_flags, local_method, _, _, _, _, _, name_length, extra_length = _LOCAL.unpack(local)
        if (flags | local_flags) & _ENCRYPTED or method == 99:
            raise Refused("is encrypted; save it without a password and run again")
        if fields[2] & 0xFF > _NEWEST:
            raise damaged(f"the part {name} asks for a zip program that does not exist")
        content = offset + _LOCAL.size + name_length + extra_length
        own_name = data[offset + _LOCAL.size : offset + _LOCAL.size + name_length]
        if own_name != raw_name or local_method != method or content + packed > follows[offset]:
            raise damaged(f"the part {name} and the list of parts contradict each other")
        entries.append(
            Entry(name, raw, flags, method, fields[7], packed, expanded, offset, content, follows[offset])
        )
    return entries


def _sizes(fields: tuple[int, ...], raw: bytes) -> tuple[int, int, int]:
    """Return unpacked size, packed size and offset, of which large ones stand in an extra field."""
    numbers = [fields[9], fields[8], fields[16]]
    if _FULL32 in numbers:
        extra = raw[_CENTRAL.size + fields[10] : _CENTRAL.size + fields[10] + fields[11]]
        block = dict(_blocks(extra)).get(_ZIP64, b"")
        wanted = [i for i, number in enumerate(numbers) if number == _FULL32]
        if len(block) < 8 * len(wanted):
            raise damaged("the list of its parts lacks a size")
        for place, i in enumerate(wanted):
            numbers[i] = int.from_bytes(block[8 * place : 8 * place + 8], "little")
    return numbers[0], numbers[1], numbers[2]


def _name(raw: bytes, flags: int) -> str:
    try:
        name = raw.decode("utf-8" if flags & _UTF8 else "cp437")
    except UnicodeDecodeError:
        raise damaged("the name of a part cannot be read") from None
    if "\\" in name or "\0" in name or re.match(r"/|[A-Za-z]:", name) or ".." in name.split("/") or not name:
        raise Refused(
            f"holds a part named {name!r}, a name that leads out of the file; do not trust this file, "
            "ask its sender for a clean copy"
        )
    return name


def _blocks(extra: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield id and bytes of each extra field; what does not follow the form is left out."""
    at = 0
    while at + 4 <= len(extra):
        kind, length = struct.unpack_from("<HH", extra, at)
        if at + 4 + length > len(extra):
            return
        yield kind, extra[at + 4 : at + 4 + length]
        at += 4 + length


def _without_zip64(extra: bytes) -> bytes:
    kept = b""
    for kind, block in _blocks(extra):
        if kind != _ZIP64:
            kept += struct.pack("<HH", kind, len(block)) + block
    return kept


def _moved(entry: Entry, position: int) -> bytes:
    """Return the central record of an untouched entry with its new offset, in the field that holds it."""
    if position == entry.offset:
        return entry.central
    fields = _CENTRAL.unpack_from(entry.central)
    record = bytearray(entry.central)
    if fields[16] != _FULL32:
        struct.pack_into("<L", record, _CENTRAL.size - 4, position)
        return bytes(record)
    at = _CENTRAL.size + fields[10]
    while struct.unpack_from("<H", record, at)[0] != _ZIP64:
        at += 4 + int(struct.unpack_from("<H", record, at + 2)[0])
    before = 8 * sum(field == _FULL32 for field in (fields[9], fields[8]))
    struct.pack_into("<Q", record, at + 4 + before, position)
    return bytes(record)
