"""Workbook names put into a workbook file: only the part that lists the names changes.

The functions a workbook uses are found in its formulas; their names are added as formulas (LAMBDA), so that
they compute with no add-in. Names that are there already stay untouched, and one in the way is refused.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from xml.parsers import expat
from xml.sax.saxutils import escape, quoteattr

from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.safexml import malformed, refuse_document_type
from pressfuncs.batch.tags import TAG, prefix_of, tag_at

_CALL = re.compile(r"([\w.\[\]']*[!.])?\b(PF_[A-Z0-9_]+)\s*\(", re.IGNORECASE)
_TEXTS = re.compile(r'"(?:[^"]|"")*"|&quot;(?:(?!&quot;).)*&quot;')
_FORMULA = re.compile(
    r"<(?:\w+:)?(f|formula[12]?|definedName|calculatedColumnFormula)\b[^>]*(?<!/)>([^<]*)<", re.ASCII
)
_SHEETS_AND_TABLES = re.compile(r"spreadsheetml\.(worksheet|table)\+xml", re.IGNORECASE)
_BEFORE_NAMES = ("sheets", "functionGroups", "externalReferences")
MARK = "pressfuncs "
"""How the comment of each name begins: by it a later version knows its own."""


@dataclass(frozen=True)
class Definition:
    """A name to be added: its formula as a file keeps it, and its comment, at most 255 characters."""

    formula: str
    comment: str


@dataclass(frozen=True)
class Uses:
    """The worksheet functions that the formulas of a workbook call, by name in capitals."""

    plain: frozenset[str]
    through_an_add_in: frozenset[str]
    """calls that name their add-in, which workbook names do not answer"""


@dataclass
class Added:
    """What became of each name."""

    added: list[str] = field(default_factory=list)
    replaced: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)


@dataclass
class _Name:
    start: int
    attributes: dict[str, str]
    text: str = ""
    end: int = 0


def functions_used(package: Package) -> Uses:
    """Return the functions called in cells, tables, rules, checks of input and names."""
    plain: set[str] = set()
    through: set[str] = set()
    kinds = package.content_types()
    for part in package.names:
        if part != package.workbook_part and not _SHEETS_AND_TABLES.search(kinds.get(part, "")):
            continue
        for _, formula in _FORMULA.findall(_decoded(package.read(part))):
            for before, name in _CALL.findall(_TEXTS.sub("", formula)):
                (through if before else plain).add(name.upper())
    return Uses(frozenset(plain), frozenset(through - plain))


def _decoded(data: bytes) -> str:
    return data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig", "replace")


def add_names(
    package: Package, definitions: Mapping[str, Definition], destination: str | os.PathLike[str]
) -> Added:
    """Write the workbook with names added; every part but the list of names stays byte for byte.

    Raises:
        Refused: the workbook has a name of its own that is in the way; nothing is written.
    """
    package.require_writable(destination)
    if package.signed:
        raise Refused(
            "is digitally signed, and any change breaks the signature; take an unsigned copy", package.path
        )
    try:
        part, added = with_names(package.read(package.workbook_part), definitions, package.workbook_part)
    except Refused as refused:
        raise Refused(refused.sentence, package.path) from None
    package.save(destination, {package.workbook_part: part})
    return added


def with_names(
    part: bytes, definitions: Mapping[str, Definition], name: str = "workbook.xml"
) -> tuple[bytes, Added]:
    """Return the workbook part with names added, and what became of each."""
    refuse_document_type(part, name)
    found = _scan(part, name)
    added = Added()
    edits: list[tuple[int, int, bytes]] = []
    new: list[bytes] = []
    prefix = prefix_of(tag_at(part, found.sheets_start))
    for wanted in sorted(definitions):
        definition = definitions[wanted]
        element = _element(prefix, wanted, definition)
        same = [known for known in found.names if known.attributes.get("name", "").lower() == wanted.lower()]
        own = [known for known in same if known.attributes.get("comment", "").startswith(MARK)]
        if not same:
            new.append(element)
            added.added.append(wanted)
        elif len(same) == 1 and same[0].text == definition.formula and "localSheetId" not in same[0].attributes:
            added.kept.append(wanted)
        elif same == own and len(own) == 1 and "localSheetId" not in own[0].attributes:
            edits.append((own[0].start, own[0].end, element))
            added.replaced.append(wanted)
        else:
            raise Refused(
                f"has a name {same[0].attributes['name']} of its own; rename or delete it in the name manager"
            )
    if new:
        edits.append(found.edit(part, prefix, b"".join(new)))
    for start, end, piece in sorted(edits, reverse=True):
        part = part[:start] + piece + part[end:]
    return part, added


def _element(prefix: bytes, name: str, definition: Definition) -> bytes:
    comment = quoteattr(definition.comment[:255])
    text = f'name="{name}" comment={comment}>{escape(definition.formula)}'
    return b"<%sdefinedName %s</%sdefinedName>" % (prefix, text.encode("utf-8"), prefix)


class _Scan:
    """Where the list of names is, or would be, and the names in it."""

    def __init__(self) -> None:
        self.names: list[_Name] = []
        self.sheets_start = -1
        self.before = -1
        """end of the last element that stands before the list of names"""
        self.list_start = -1
        self.list_end = -1

    def edit(self, part: bytes, prefix: bytes, elements: bytes) -> tuple[int, int, bytes]:
        """Return the edit that puts elements at the end of the list, or makes the list."""
        if self.list_start < 0:
            whole = b"<%sdefinedNames>%s</%sdefinedNames>" % (prefix, elements, prefix)
            return self.before, self.before, whole
        tag = tag_at(part, self.list_start)
        if tag.endswith(b"/>"):
            end = self.list_start + len(tag)
            return self.list_start, end, tag[:-2].rstrip() + b">" + elements + b"</%sdefinedNames>" % prefix
        return self.list_end, self.list_end, elements


def _scan(part: bytes, name: str) -> _Scan:
    """Find the list of names by an XML parser; the positions are those of the bytes."""
    if part[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise Refused(f"keeps its part {name} in UTF-16; open it in the spreadsheet app and save it anew")
    scan = _Scan()
    open_tags: list[str] = []
    starts: list[int] = []

    def start(tag: str, attributes: dict[str, str]) -> None:
        local = tag.rpartition(":")[2]
        open_tags.append(local)
        place = parser.CurrentByteIndex
        starts.append(place)
        if open_tags[1:] == ["sheets"]:
            scan.sheets_start = place
        elif open_tags[1:] == ["definedNames"]:
            scan.list_start = place
        elif open_tags[1:] == ["definedNames", "definedName"]:
            scan.names.append(_Name(place, attributes))

    def text(data: str) -> None:
        if open_tags[1:] == ["definedNames", "definedName"]:
            scan.names[-1].text += data

    def end(tag: str) -> None:
        place = parser.CurrentByteIndex
        empty = TAG.match(part, starts.pop())
        if empty is not None and empty[3]:  # of an empty element the parser gives the place behind it
            place = after = empty.end()
        else:
            after = part.index(b">", place) + 1
        if open_tags[1:] == ["definedNames", "definedName"]:
            scan.names[-1].end = after
        elif open_tags[1:] == ["definedNames"]:
            scan.list_end = place
        elif len(open_tags) == 2 and open_tags[1] in _BEFORE_NAMES:
            scan.before = after
        open_tags.pop()

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.CharacterDataHandler = text
    parser.EndElementHandler = end
    try:
        parser.Parse(part, True)
    except expat.ExpatError as error:
        raise malformed(name, error) from None
    if scan.sheets_start < 0:
        raise Refused("lists no sheets; open it in the spreadsheet app and save it anew")
    return scan


def missing_from(uses: Iterable[str], known: Iterable[str]) -> list[str]:
    """Return the functions used that are not known, in order."""
    return sorted(set(uses) - set(known))
