"""The workbook file as a package: its parts, what they are, how they point to each other, and its saving.

Opening reads the whole file into memory, checks every part and refuses whatever is not a sound .xlsx or .xlsm
workbook. Saving copies every part that was not replaced byte for byte.
"""

from __future__ import annotations

import os
import posixpath
import re
import stat
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import TracebackType
from urllib.parse import unquote
from xml.etree.ElementTree import Element

from pressfuncs.batch.archive import DEFAULT_LIMITS, Archive, Entry
from pressfuncs.batch.archive import Limits as Limits
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.safexml import parse_xml as parse_xml
from pressfuncs.batch.saving import identity, replace_file, require_writable

_WORKBOOK = re.compile(
    r"application/vnd\.(openxmlformats-officedocument\.spreadsheetml\.(sheet|template)"
    r"|ms-excel\.(sheet|template|addin)\.macroEnabled)\.main\+xml",
    re.IGNORECASE,
)
_OPEN_DOCUMENT = b"application/vnd.oasis.opendocument."
_OTHERS = (("wordprocessingml", "a text document"), ("presentationml", "a presentation"), ("visio", "a drawing"))
_SAVE_AS = "open it in the spreadsheet app and save it as .xlsx (or .xlsm, with macros)"


@dataclass(frozen=True)
class Relation:
    """What one part says of another: `type_tail` is the last word of the relation's type ("worksheet")."""

    type_tail: str
    target: str
    """name of the part, as the package spells it, or the address of something outside"""
    external: bool


class Package:
    """An opened workbook file; use `Package.open`."""

    def __init__(self, path: Path, archive: Archive, opened: os.stat_result) -> None:
        """Take an archive that was read from `path` when its state was `opened`."""
        self.path = path
        self._archive = archive
        self._opened = opened
        self._entries = {entry.name.lower(): entry for entry in archive.entries}
        self._relations: dict[str, dict[str, Relation]] = {}
        self.names = [entry.name for entry in archive.entries if not entry.name.endswith("/")]
        """names of the parts, in the order of the file"""
        for entry in archive.entries:
            archive.read(entry)
        self._types = self._read_content_types()
        self.workbook_part = self._find_workbook()
        """name of the part that lists the sheets"""

    @classmethod
    def open(cls, path: str | os.PathLike[str], limits: Limits = DEFAULT_LIMITS) -> Package:
        """Read and check a workbook file.

        Arguments:
            path: an .xlsx or .xlsm file
            limits: how large it may be

        Returns:
            The package, also as a context manager that lets go of the memory.

        Raises:
            Refused: whatever is not a sound, unencrypted workbook of a reasonable size.
        """
        path = Path(path)
        try:
            data, opened = _read_file(path, limits)
            _refuse_other_formats(data)
            return cls(path, Archive(data, limits), opened)
        except Refused as refused:
            raise Refused(refused.sentence, path) from None

    def __enter__(self) -> Package:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file's contents."""
        self._entries = {}
        del self._archive

    def has(self, name: str) -> bool:
        """Say whether there is a part of this name; letter case does not matter in packages."""
        return name.lower() in self._entries

    def read(self, name: str) -> bytes:
        """Return the bytes of a part, its checksum checked."""
        try:
            return self._archive.read(self._entry(name))
        except Refused as refused:
            raise Refused(refused.sentence, self.path) from None

    def xml(self, name: str) -> Element:
        """Return the root element of a part, parsed safely."""
        data = self.read(name)
        try:
            return parse_xml(data, name)
        except Refused as refused:
            raise Refused(refused.sentence, self.path) from None

    def content_types(self) -> dict[str, str]:
        """Return the content type of every part that has one, by the part's name."""
        return dict(self._types)

    def relations(self, part: str) -> dict[str, Relation]:
        """Return the relations of a part by their ids; those of the package itself for "".

        Internal targets are names of parts as the package spells them; one that does not exist is kept as it
        is written, so that `has` can tell.
        """
        if part not in self._relations:
            folder, name = posixpath.split(part)
            of = posixpath.join(folder, "_rels", name + ".rels")
            self._relations[part] = self._read_relations(of, folder) if self.has(of) else {}
        return self._relations[part]

    @property
    def signed(self) -> bool:
        """Say whether the file carries a digital signature, which any change makes invalid."""
        return any(name.lower().startswith("_xmlsignatures/") for name in self.names) or any(
            relation.type_tail == "origin" for relation in self.relations("").values()
        )

    @property
    def macro_enabled(self) -> bool:
        """Say whether the file may hold macros (.xlsm)."""
        return "macroenabled" in self._types[self.workbook_part].lower()

    def require_writable(self, destination: str | os.PathLike[str]) -> None:
        """Refuse, before any work is done, a destination that `save` would refuse."""
        target = Path(os.path.realpath(destination))
        require_writable(target, self._opened if self._in_place(target) else None)

    def save(self, destination: str | os.PathLike[str], replaced: Mapping[str, bytes]) -> bool:
        """Write the workbook with new contents for some parts, every other byte of a part as it was.

        Arguments:
            destination: the file to write, which may be the one that was opened; a link is followed and kept
            replaced: new contents by the name of the part

        Returns:
            False if nothing changed and the file is the opened one: then nothing is written. A package can be
            saved in place once; open the file again to go on.

        Raises:
            Refused: with the destination as it was, whatever happened.
            KeyError: a replaced part is not in the package.
        """
        changed: dict[str, bytes] = {}
        for name, data in replaced.items():
            entry = self._entry(name)
            same_sum = len(data) == entry.expanded and zlib.crc32(data) == entry.crc
            if not (same_sum and self.read(entry.name) == data):
                changed[entry.name] = data
        target = Path(os.path.realpath(destination))
        in_place = self._in_place(target)
        if in_place and not changed:
            return False
        pieces = self._archive.rewritten(changed) if changed else iter((self._archive.data,))
        replace_file(target, pieces, self._opened, self._opened if in_place else None)
        return True

    def with_parts(self, replaced: Mapping[str, bytes]) -> Iterator[bytes | memoryview]:
        """Yield the bytes of the file with new contents for some parts, named as the package spells them."""
        return self._archive.rewritten(replaced)

    def _in_place(self, target: Path) -> bool:
        """Say whether the target is the opened file, also when it was replaced meanwhile."""
        if target == Path(os.path.realpath(self.path)):
            return True
        try:
            return os.path.samestat(target.stat(), self._opened)
        except OSError:
            return False

    def _entry(self, name: str) -> Entry:
        try:
            return self._entries[name.lower()]
        except KeyError:
            raise KeyError(f"no part {name} in {self.path.name}") from None

    def _read_content_types(self) -> dict[str, str]:
        if not self.has("[Content_Types].xml"):
            raise Refused(f"is a zip file, but no workbook; {_SAVE_AS}")
        defaults: dict[str, str] = {}
        overrides: dict[str, str] = {}
        for element in parse_xml(self.read("[Content_Types].xml"), "[Content_Types].xml"):
            kind = element.get("ContentType", "")
            if element.tag.endswith("}Default"):
                defaults[element.get("Extension", "").lower()] = kind
            elif element.tag.endswith("}Override"):
                name = element.get("PartName", "").lstrip("/").lower()
                overrides[name] = overrides[unquote(name).lower()] = kind
        types = {
            name: overrides.get(name.lower()) or defaults.get(name.rpartition(".")[2].lower(), "")
            for name in self.names
        }
        return {name: kind for name, kind in types.items() if kind}

    def _read_relations(self, name: str, folder: str) -> dict[str, Relation]:
        found: dict[str, Relation] = {}
        for element in self.xml(name):
            if not element.tag.endswith("}Relationship"):
                continue
            tail = element.get("Type", "").rpartition("/")[2]
            target = element.get("Target", "")
            external = element.get("TargetMode", "").lower() == "external"
            if not external:
                target = self._resolved(folder, target)
            found[element.get("Id", "")] = Relation(tail, target, external)
        return found

    def _resolved(self, folder: str, target: str) -> str:
        """Return the name of the part a target points to."""
        target = target.partition("#")[0].replace("\\", "/")
        written = posixpath.normpath(posixpath.join("/", folder, target)).lstrip("/")
        for name in (written, unquote(written)):
            if name.lower() in self._entries:
                return self._entries[name.lower()].name
        return written

    def _find_workbook(self) -> str:
        targets = [r.target for r in self.relations("").values() if r.type_tail == "officeDocument"]
        part = next((target for target in targets if target in self._types), None)
        if part is None:
            raise Refused(f"is a zip file of parts, but none of them is the workbook; {_SAVE_AS}")
        kind = self._types[part]
        if "excel.sheet.binary" in kind:
            raise Refused(f"is a binary workbook (.xlsb); {_SAVE_AS}")
        for word, document in _OTHERS:
            if word in kind:
                raise Refused(f"is {document}, not a workbook; give an .xlsx or .xlsm file")
        if not _WORKBOOK.fullmatch(kind) or not self.xml(part).tag.endswith("}workbook"):
            raise Refused(f"is a package, but its main part {part} is no workbook; {_SAVE_AS}")
        return part


def _read_file(path: Path, limits: Limits) -> tuple[bytes, os.stat_result]:
    """Read the whole file, and its state at that moment."""
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise Refused("is a folder; give the name of a workbook")
        if not stat.S_ISREG(found.st_mode):
            raise Refused("is not a plain file; give the name of a workbook")
        with path.open("rb") as file:
            opened = os.fstat(file.fileno())
            data = file.read(min(limits.file, opened.st_size) + 1)  # a number of bytes that is set aside at once
            after = os.fstat(file.fileno())
    except FileNotFoundError:
        raise Refused(f"does not exist; look for it, the full name was {path.absolute()}") from None
    except PermissionError:
        raise Refused(
            "cannot be read: no permission, or another program keeps it to itself; close it there"
        ) from None
    except OSError as error:
        raise Refused(
            f"cannot be read ({error.strerror or error}); copy it to another disk and try the copy"
        ) from None
    if len(data) > limits.file:
        raise Refused(
            f'is larger than expected of a workbook: the limit "file" is {limits.file} bytes; '
            "raise that limit if you trust the file"
        )
    if identity(opened) != identity(after) or len(data) != opened.st_size:
        raise Refused("is being written by somebody else at this moment; run again when it is finished")
    return data, opened


def _refuse_other_formats(data: bytes) -> None:
    """Refuse what is not a zip, or a zip of another office format, by its first bytes."""
    if not data:
        raise Refused("is empty; take another copy")
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        if _holds_stream(data, "EncryptedPackage"):
            raise Refused("is encrypted; save it without a password and run again")
        if _holds_stream(data, "Workbook") or _holds_stream(data, "Book"):
            raise Refused(f"is a workbook of the old binary format (.xls); {_SAVE_AS}")
        raise Refused(f"is an office file of an old binary format, not an .xlsx or .xlsm workbook; {_SAVE_AS}")
    if data[:4] not in (b"PK\3\4", b"PK\5\6"):
        raise Refused(f"is not an .xlsx or .xlsm workbook (such a file is a zip, this is not); {_SAVE_AS}")
    if data[30:38] == b"mimetype" and _OPEN_DOCUMENT in data[38:140]:
        kind = "an OpenDocument spreadsheet (.ods)" if b"spreadsheet" in data[38:140] else "an OpenDocument file"
        raise Refused(f"is {kind}; {_SAVE_AS}")


@lru_cache(maxsize=4)
def _stream_pattern(name: str) -> re.Pattern[bytes]:
    """Return the pattern of a directory entry in a compound file: name, padding, length of the name, type."""
    raw = name.encode("utf-16-le")
    length = (len(raw) + 2).to_bytes(2, "little")
    return re.compile(re.escape(raw) + rb"\0" * (64 - len(raw)) + re.escape(length) + rb"[\1\2]", re.DOTALL)


def _holds_stream(data: bytes, name: str) -> bool:
    return any(found.start() % 128 == 0 for found in _stream_pattern(name).finditer(data))
