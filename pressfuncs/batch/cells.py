"""Reading the cells of a sheet part: fast ways for parts as most programs write them, a careful way for the rest.

Rows of one layout are taken as blocks; where rows differ, a pattern finds cell after cell; a parser reads parts of
any other form. All see the same cells.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple, Protocol
from xml.parsers import expat

from pressfuncs.batch.addresses import column_index_from_string
from pressfuncs.batch.layouts import Block, Stretch, blocks
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.stored import resolved

MAIN_NAMESPACES = (
    "http://schemas.openxmlformats.org/spreadsheetml/2006/main",
    "http://purl.oclc.org/ooxml/spreadsheetml/main",
)

_CELL = re.compile(
    rb'<c r="([A-Z]{1,3})([0-9]{1,7})"(?: s="([0-9]+)")?((?: [A-Za-z][A-Za-z0-9:]*="[^<>"]*")*) ?(?:/>|>'
    rb'(?:<f((?: [A-Za-z][A-Za-z0-9:]*="[^<>"]*")*) ?(?:/>|>([^<]*)</f>))?'
    rb"(?:<v[^<>]*?(?:/>|>([^<]*)</v>))?"
    rb"(<is>.*?</is>)?"
    rb"(?:<extLst>.*?</extLst>)?</c>)",
    re.DOTALL,
)
ATTRIBUTE = re.compile(rb'([A-Za-z][A-Za-z0-9:]*)="([^"]*)"')
_INLINE_TEXT = re.compile(rb"<t(?:\s[^<>]*)?>([^<]*)</t>")
_PHONETIC = re.compile(rb"<rPh[\s>].*?</rPh>", re.DOTALL)
_ROOT = re.compile(
    rb'<worksheet\b[^<>]*\sxmlns="(?:%s)"' % b"|".join(re.escape(name.encode()) for name in MAIN_NAMESPACES)
)
_HIDDEN_ROW = re.compile(rb"<row\s[^<>]*\bhidden\s*=\s*[\"'](?:1|true)")
_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")


class RawFormula(NamedTuple):
    """A formula as the file holds it: its text and the attributes of `<f>`; `dynamic` for a spilling one."""

    text: str
    attributes: dict[str, str]
    dynamic: bool


_NONE: dict[str, str] = {}

Take = Callable[[int, int, int, str, "str | None", "RawFormula | None"], None]


def text_of(raw: bytes) -> str:
    """Return the text that the content of an element stands for."""
    return resolved(raw.decode("utf-8"))


class Taker(Protocol):
    """Takes the cells of a sheet."""

    def take(self, row: int, column: int, style: int, kind: str, text: str | None, raw: RawFormula | None) -> None:
        """Take a cell that holds something: number of its style, type and text of its value, its formula."""

    def take_block(self, block: Block) -> None:
        """Take rows of one layout."""

    def hide(self) -> None:
        """Note that a row is hidden."""

    def restart(self) -> None:
        """Forget what was taken; all of it comes again."""


def unescape_text(text: str) -> str:
    r"""Undo the `_x000D_` escapes of the file format.

    >>> unescape_text("a_x000D_b")
    'a\rb'
    """
    return _ESCAPE.sub(lambda match: chr(int(match[1], 16)), text) if "_x" in text else text


def read_cells(part: bytes, name: str, taker: Taker, by_blocks: bool = True) -> None:
    """Give every cell of the part to the taker, in the order of the file.

    Arguments:
        part: the bytes of the sheet part
        name: what to call it in a refusal
        taker: see `Taker`; it is restarted when a fast way meets something that it does not understand
        by_blocks: False takes cell by cell, to prove that it comes to the same
    """
    bounds = _canonical_bounds(part)
    if bounds is not None and part.find(b"\r", *bounds) >= 0:  # an XML parser knows one end of a line only
        part = part.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        bounds = _canonical_bounds(part)
    if bounds is None or not _read_fast(part, *bounds, taker, by_blocks):
        taker.restart()
        _CarefulReader(name, taker).read(part)


def _canonical_bounds(part: bytes) -> tuple[int, int] | None:
    """Return where the rows begin and end in a part of the usual form; None if it is of another."""
    start = part.find(b"<sheetData>")
    end = part.rfind(b"</sheetData>")
    if start < 0 and end < 0 and b"<sheetData/>" in part and b":sheetData" not in part and _ROOT.search(part):
        return 0, 0
    if start < 0 or end < start or part.count(b"<sheetData") != 1 or not _ROOT.search(part, 0, start):
        return None
    if any(sign in part for sign in (b"<!--", b"<![CDATA[", b"<!DOCTYPE", b"<!ENTITY")):
        return None
    if part[:2] in (b"\xff\xfe", b"\xfe\xff") or re.search(rb'encoding="(?!utf-8")', part[:200], re.IGNORECASE):
        return None
    return start + len(b"<sheetData>"), end


def _read_fast(part: bytes, start: int, end: int, taker: Taker, by_blocks: bool) -> bool:
    """Read the rows; return False if some cells are not of the usual form."""
    for piece in blocks(part, start, end) if by_blocks else [Stretch(start, end)]:
        if isinstance(piece, Block):
            taker.take_block(piece)
        elif not _read_stretch(part, piece, taker.take):
            return False
    if b"hidden" in part and _HIDDEN_ROW.search(part, start, end):
        taker.hide()
    return True


def _read_stretch(part: bytes, stretch: Stretch, take: Take) -> bool:
    """Read cell by cell; return False if some cell is not of the usual form."""
    start, end = stretch.start, stretch.end
    numbers: dict[bytes, int] = {}
    seen = 0
    for match in _CELL.finditer(part, start, end):
        letters, row, style, rest, formula_attributes, formula, value, inline = match.groups()
        seen += 1
        column = numbers.get(letters)
        if column is None:
            column = numbers[letters] = column_index_from_string(letters.decode())
        kind = "n"
        if rest:
            attributes = dict(ATTRIBUTE.findall(rest))
            kind = attributes.get(b"t", b"n").decode()
            style = style or attributes.get(b"s", b"")
            dynamic = b"cm" in attributes
        else:
            dynamic = False
        raw: RawFormula | None = None
        if formula is not None or formula_attributes:
            raw = RawFormula(
                text_of(formula or b""),
                {k.decode(): text_of(v) for k, v in ATTRIBUTE.findall(formula_attributes)}
                if formula_attributes
                else _NONE,
                dynamic,
            )
        elif not value and not inline and not (kind == "str" and b"<v" in match[0]):
            continue
        if inline:
            texts = _INLINE_TEXT.findall(_PHONETIC.sub(b"", inline))
            text: str | None = "".join(text_of(t) for t in texts)
        elif value:
            text = text_of(value)
        else:
            text = "" if kind in ("str", "inlineStr") else None
        take(int(row), column, int(style) if style else 0, kind, text, raw)
    return seen == sum(part.count(sign, start, end) for sign in (b"<c ", b"<c>", b"<c\n", b"<c\t", b"<?"))


class _CarefulReader:
    """The careful way: an XML parser, for prefixes, comments, cells without addresses, other encodings."""

    def __init__(self, name: str, taker: Taker) -> None:
        self.name = name
        self.taker = taker
        self.begun = False
        self.row = 0
        self.column = 0
        self.inside = False
        self.cell: dict[str, str] | None = None
        self.formula: dict[str, str] | None = None
        self.texts: dict[str, list[str]] = {}
        self.field = ""
        self.phonetic = 0

    def read(self, part: bytes) -> None:
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.StartElementHandler = self.start
        parser.EndElementHandler = self.end
        parser.CharacterDataHandler = self.text
        parser.StartDoctypeDeclHandler = self.refuse_doctype
        try:
            parser.Parse(part, True)
        except expat.ExpatError as error:
            raise Refused(
                f"{self.name} in the workbook is damaged ({error}); repair it in the application"
            ) from error

    def refuse_doctype(self, *_: Any) -> None:
        raise Refused(
            f"{self.name} in the workbook declares entities; workbooks never need that, so it is refused"
        )

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        namespace, _, local = tag.rpartition(" ")
        if not self.begun:
            self.begun = True
            if namespace not in MAIN_NAMESPACES or local != "worksheet":
                raise Refused(
                    f"{self.name} in the workbook is damaged (it is no worksheet); repair it in the application"
                )
        if namespace not in MAIN_NAMESPACES:
            return
        if local == "sheetData":
            self.inside = True
        elif not self.inside:
            return
        elif local == "row":
            self.row = int(attributes["r"]) if "r" in attributes else self.row + 1
            self.column = 0
            if attributes.get("hidden") in ("1", "true"):
                self.taker.hide()
        elif local == "c":
            place = attributes.get("r")
            if place:
                letters = place.rstrip("0123456789")
                self.column, self.row = column_index_from_string(letters), int(place[len(letters) :])
            else:
                self.column += 1
            self.cell, self.formula, self.texts = attributes, None, {}
        elif self.cell is not None:
            if local == "f":
                self.formula = attributes
            if local == "rPh":
                self.phonetic += 1
            if local == "is":
                self.texts.setdefault("t", [])
            if local in ("f", "v") or (local == "t" and not self.phonetic):
                self.field = local
                self.texts.setdefault(local, [])

    def text(self, text: str) -> None:
        if self.cell is not None and self.field:
            self.texts[self.field].append(text)

    def end(self, tag: str) -> None:
        namespace, _, local = tag.rpartition(" ")
        if namespace not in MAIN_NAMESPACES:
            return
        if local == "sheetData":
            self.inside = False
        if self.cell is None:
            return
        if local == self.field:
            self.field = ""
        if local == "rPh":
            self.phonetic -= 1
        if local == "c":
            self.finish(self.cell)
            self.cell = None

    def finish(self, cell: dict[str, str]) -> None:
        kind = cell.get("t", "n")
        joined = {field: "".join(parts) for field, parts in self.texts.items()}
        raw = None
        if self.formula is not None:
            raw = RawFormula(joined.get("f", ""), dict(self.formula), "cm" in cell)
        value = joined.get("t") if kind == "inlineStr" else joined.get("v")
        if not value:
            # A text of no letters is not blank; arrays give such texts to cells without a formula too.
            held = raw is not None or ("t" if kind == "inlineStr" else "v") in joined
            value = "" if held and kind in ("str", "inlineStr") else None
        if raw is not None or value is not None:
            self.taker.take(self.row, self.column, int(cell.get("s", "0")), kind, value, raw)
