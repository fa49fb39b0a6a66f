"""Workbooks written by hand, with the values that an application would have stored, and read back."""

from __future__ import annotations

import posixpath
import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from openpyxl import load_workbook
from openpyxl.utils import range_boundaries
from parts import MAIN, write_zip

from pressfuncs.batch.outcome import Outcome
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.errors import CellError

_RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TYPES = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_BOOK = "xl/workbook.xml"
_OUTSIDE = ' TargetMode="External"'
NOTHING = object()
"""Stands for a formula cell that stores no value."""


@dataclass(frozen=True)
class F:
    """A formula cell: its text without "=", what it stores, and the attributes of `<f>` and `<c>`."""

    text: str
    stored: Any = NOTHING
    attributes: str = ""
    cell: str = ""


@dataclass(frozen=True)
class Styled:
    """A constant or formula in a cell with a style: 1 is a date, 2 a number with two places."""

    content: Any
    style: int = 1


@dataclass(frozen=True)
class Part:
    """A further part, and the relation by which another part finds it."""

    name: str
    """where it is, or the address of something outside the file"""
    content: bytes | str | None
    """None for a part that is there already, and for something outside"""
    kind: str = ""
    """its content type; nothing leaves it to the suffix"""
    relation: str = ""
    """the type of the relation, or its last word; nothing for a part that nobody points to"""
    of: str = "xl/workbook.xml"
    """the part that points to it, "" for the package"""
    id: str = ""
    """the id of the relation, where something names it"""
    outside: bool = False


@dataclass
class Made:
    """What `make` is told of a workbook besides its cells."""

    names: Sequence[tuple[str, str] | tuple[str, str, int]] = ()
    tables: Mapping[str, tuple[str, str, Sequence[str]]] = field(default_factory=dict)
    """name -> (sheet, area, columns); `name` may end in "+totals" """
    date1904: bool = False
    external: str = ""
    """target of an external link part, which formulas name as [1]"""
    more: Mapping[str, bytes] = field(default_factory=dict)
    rows: str = ""
    """attributes of every row"""
    macros: bool = False
    states: Mapping[str, str] = field(default_factory=dict)
    parts: Sequence[Part] = ()
    heads: Mapping[str, str] = field(default_factory=dict)
    """what stands before the cells of a sheet"""
    tails: Mapping[str, str] = field(default_factory=dict)
    """what stands after the cells of a sheet, before the tables"""
    extensions: Mapping[str, str] = field(default_factory=dict)
    """what stands in the `<extLst>` of a sheet, by sheet; of the workbook for "" """
    sheets: str = ""
    """further entries in the list of sheets"""
    book: str = ""
    """what stands after the names in the workbook part"""
    suffixes: Mapping[str, str] = field(default_factory=dict)
    """content types by suffix"""
    styles: str = ""
    """what stands after the styles of cells"""


def _value(value: Any) -> tuple[str, str]:
    """Return the type attribute and the text of `<v>`."""
    if isinstance(value, bool):
        return "b", str(int(value))
    if isinstance(value, (int, float)):
        return "", repr(value)
    if isinstance(value, CellError):
        return "e", value.code
    return "str", escape(value)


def cell_xml(address: str, content: Any) -> str:
    """Write one cell."""
    style = ""
    if isinstance(content, Styled):
        style, content = f' s="{content.style}"', content.content
    if isinstance(content, F):
        kind, text = ("", "") if content.stored is NOTHING else _value(content.stored)
        stored = "" if content.stored is NOTHING else f"<v>{text}</v>"
        attributes = f" {content.attributes}" if content.attributes else ""
        body = f"<f{attributes}>{escape(content.text)}</f>" if content.text else f"<f{attributes}/>"
        more = f" {content.cell}" if content.cell else ""
        return f'<c r="{address}"{style}{_type(kind)}{more}>{body}{stored}</c>'
    if content is None:
        return f'<c r="{address}"{style}/>'
    if isinstance(content, str):
        return f'<c r="{address}"{style} t="inlineStr"><is><t xml:space="preserve">{escape(content)}</t></is></c>'
    kind, text = _value(content)
    return f'<c r="{address}"{style}{_type(kind)}><v>{text}</v></c>'


def _type(kind: str) -> str:
    return f' t="{kind}"' if kind else ""


def sheet_xml(cells: Mapping[str, Any], rows: str = "", tail: str = "", head: str = "") -> str:
    """Write a sheet part from cells by address."""
    by_row: dict[int, list[tuple[int, str]]] = {}
    for address, content in cells.items():
        column, row, _, _ = range_boundaries(address)
        by_row.setdefault(row, []).append((column, cell_xml(address, content)))
    data = "".join(
        f'<row r="{row}"{" " + rows if rows else ""}>{"".join(xml for _, xml in sorted(by_row[row]))}</row>'
        for row in sorted(by_row)
    )
    return (
        f'<worksheet xmlns="{MAIN}" xmlns:r="{_RELATIONS}">{head}<sheetData>{data}</sheetData>{tail}</worksheet>'
    )


def make(path: Path, sheets: Mapping[str, Mapping[str, Any]], made: Made | None = None) -> Path:
    """Write a workbook: sheet name -> address -> constant, None, `F` or `Styled`."""
    return _Package(sheets, made or Made()).write(path)


class _Package:
    """Collects parts, their types and the relations of the workbook part."""

    def __init__(self, sheets: Mapping[str, Mapping[str, Any]], made: Made) -> None:
        self.made = made
        self.parts: dict[str, bytes] = {
            "xl/styles.xml": _STYLES.replace(b"</styleSheet>", made.styles.encode() + b"</styleSheet>")
        }
        kind = (
            "application/vnd.ms-excel.sheet.macroEnabled.main+xml" if made.macros else f"{_TYPES}.sheet.main+xml"
        )
        self.types = {"xl/workbook.xml": kind, "xl/styles.xml": f"{_TYPES}.styles+xml"}
        self.relations: dict[str, list[str]] = defaultdict(list)
        self.relations[_BOOK].append(_relation("rIdS", "styles", "styles.xml"))
        self.relations[""].append(_relation("rId1", "officeDocument", _BOOK))
        for part in made.parts:
            self.add(part)
        listed = "".join(self.sheet(number, *sheet) for number, sheet in enumerate(sheets.items(), 1))
        links = self.external() if made.external else ""
        if made.macros:
            kind = "application/vnd.ms-office.vbaProject"
            self.add(Part("xl/vbaProject.bin", bytes(range(256)) * 40, kind, "vbaProject", id="rIdV"))
        names = "".join(_name_xml(*name) for name in made.names)
        date1904 = ' date1904="1"' if made.date1904 else ""
        extensions = _extensions(made, "")
        self.parts[_BOOK] = (
            f'<workbook xmlns="{MAIN}" xmlns:r="{_RELATIONS}"><workbookPr{date1904}/>'
            f"<sheets>{listed}{made.sheets}</sheets>{links}{names and f'<definedNames>{names}</definedNames>'}"
            f"{made.book}{extensions}</workbook>"
        ).encode()

    def sheet(self, number: int, name: str, cells: Mapping[str, Any]) -> str:
        """Add a sheet with its tables; return its entry in the workbook part."""
        part = f"xl/worksheets/sheet{number}.xml"
        listed = []
        for i, (table, (owner, area, columns)) in enumerate(self.made.tables.items(), 1):
            if owner == name:
                self.relations[part].append(_relation(f"rId{i}", "table", f"../tables/table{i}.xml"))
                listed.append(f'<tablePart r:id="rId{i}"/>')
                self.parts[f"xl/tables/table{i}.xml"] = _table_xml(i, table, area, columns).encode()
                self.types[f"xl/tables/table{i}.xml"] = f"{_TYPES}.table+xml"
        tables = f"<tableParts>{''.join(listed)}</tableParts>" if listed else ""
        tail = self.made.tails.get(name, "") + tables + _extensions(self.made, name)
        self.parts[part] = sheet_xml(cells, self.made.rows, tail, self.made.heads.get(name, "")).encode()
        self.types[part] = f"{_TYPES}.worksheet+xml"
        self.relations[_BOOK].append(_relation(f"rId{number}", "worksheet", f"worksheets/sheet{number}.xml"))
        state = f' state="{self.made.states[name]}"' if name in self.made.states else ""
        return f'<sheet name={quoteattr(name)} sheetId="{number}"{state} r:id="rId{number}"/>'

    def external(self) -> str:
        """Add a link to another workbook; return the entry in the workbook part."""
        link = "xl/externalLinks/link1.xml"
        content = f'<externalLink xmlns="{MAIN}" xmlns:r="{_RELATIONS}"><externalBook r:id="rId1"/></externalLink>'
        self.add(Part(link, content, f"{_TYPES}.externalLink+xml", "externalLink", id="rIdX"))
        self.add(Part(self.made.external, None, "", "externalLinkPath", link, "rId1", outside=True))
        return '<externalReferences><externalReference r:id="rIdX"/></externalReferences>'

    def add(self, part: Part) -> None:
        """Add a part, its content type, and the relation that leads to it."""
        if part.content is not None:
            content = part.content.encode() if isinstance(part.content, str) else part.content
            self.parts[part.name] = content
            if part.kind:
                self.types[part.name] = part.kind
        if part.relation:
            listed = self.relations[part.of]
            target, more = (part.name, _OUTSIDE) if part.outside else (f"/{part.name}", "")
            listed.append(_relation(part.id or f"rIdP{len(listed)}", part.relation, target, more))

    def write(self, path: Path) -> Path:
        """Write everything into a zip."""
        for of, relations in self.relations.items():
            folder, name = posixpath.split(of)
            self.parts[posixpath.join(folder, "_rels", name + ".rels")] = _relations(relations)
        suffixes = "".join(
            f'<Default Extension="{suffix}" ContentType="{kind}"/>' for suffix, kind in self.made.suffixes.items()
        )
        kinds = "".join(
            f'<Override PartName="/{part}" ContentType="{kind}"/>' for part, kind in self.types.items()
        )
        self.parts["[Content_Types].xml"] = (
            f'<Types xmlns="{_PACKAGE}/content-types"><Default Extension="rels" '
            'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            f'<Default Extension="xml" ContentType="application/xml"/>{suffixes}{kinds}</Types>'
        ).encode()
        return write_zip(path, self.parts | dict(self.made.more))


def _relation(number: str, kind: str, target: str, more: str = "") -> str:
    kind = kind if "://" in kind else f"{_RELATIONS}/{kind}"
    return f'<Relationship Id="{number}" Type="{kind}" Target={quoteattr(target)}{more}/>'


def _extensions(made: Made, owner: str) -> str:
    return f"<extLst>{made.extensions[owner]}</extLst>" if owner in made.extensions else ""


def _relations(relations: Sequence[str]) -> bytes:
    return f'<Relationships xmlns="{_PACKAGE}/relationships">{"".join(relations)}</Relationships>'.encode()


def _name_xml(name: str, text: str, sheet: int | None = None) -> str:
    scope = "" if sheet is None else f' localSheetId="{sheet}"'
    return f"<definedName name={quoteattr(name)}{scope}>{escape(text)}</definedName>"


def _table_xml(number: int, name: str, area: str, columns: Sequence[str]) -> str:
    totals = ' totalsRowCount="1"' if name.endswith("+totals") else ""
    plain = name.removesuffix("+totals")
    inner = "".join(f'<tableColumn id="{i}" name={quoteattr(c)}/>' for i, c in enumerate(columns, 1))
    return (
        f'<table xmlns="{MAIN}" id="{number}" name="{plain}" displayName="{plain}" ref="{area}"{totals}>'
        f'<tableColumns count="{len(columns)}">{inner}</tableColumns></table>'
    )


_STYLES = (
    f'<styleSheet xmlns="{MAIN}"><fonts count="1"><font/></fonts>'
    '<fills count="1"><fill><patternFill/></fill></fills><borders count="1"><border/></borders>'
    '<cellStyleXfs count="1"><xf/></cellStyleXfs>'
    '<cellXfs count="3"><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="2"/></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
).encode()


def values(path: Path) -> dict[str, Any]:
    """Return what every cell stores, by "Sheet!A1", read by openpyxl."""
    book = load_workbook(path, data_only=True)
    return {
        f"{sheet.title}!{cell.coordinate}": cell.value
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    }


def array(text: str, area: str, stored: Any = NOTHING, dynamic: bool = False) -> F:
    """Return an array formula that fills an area."""
    return F(text, stored, f't="array" ref="{area}"', 'cm="1"' if dynamic else "")


def refresh(path: Path, **options: Any) -> tuple[dict[str, Any], Outcome]:
    """Recalculate into another file; return what its cells store, and the outcome."""
    out = path.with_name(f"{path.stem}_out{path.suffix}")
    outcome = recalculate(path, out, Options(**{"second_engine": False, **options}))
    return values(out), outcome


def force(*numbers: float) -> float:
    """Return the shearing force in kN for mm and MPa, of the function that is used most here."""
    length, thickness, strength = numbers
    return length * thickness * strength / 1000


def one(tmp_path: Path, formula: str | F, cells: Mapping[str, Any] | None = None, made: Made | None = None) -> Any:
    """Return the new value of one formula in Z1 beside some cells; everything must have been refreshed."""
    content = formula if isinstance(formula, F) else F(formula)
    path = make(tmp_path / "one.xlsx", {"Dies": {**(cells or {}), "Z1": content}}, made)
    found, outcome = refresh(path)
    assert outcome.complete, outcome
    return found.get("Dies!Z1")


def frozen_reason(
    tmp_path: Path, formula: str, cells: Mapping[str, Any] | None = None, made: Made | None = None
) -> str:
    """Return why a formula in Z1 is frozen; it must keep the text that it stores."""
    path = make(tmp_path / "one.xlsx", {"Dies": {**(cells or {}), "Z1": F(formula, "kept")}}, made)
    found, outcome = refresh(path)
    assert found["Dies!Z1"] == "kept"
    assert [(f.sheet, f.cell) for f in outcome.frozen] == [("Dies", "Z1")], outcome
    return outcome.frozen[0].reason


def without_values(part: bytes) -> bytes:
    """Return a sheet part, in UTF-8, without types and stored values of cells: what must not change."""
    if part[:2] in (b"\xff\xfe", b"\xfe\xff"):
        part = part.decode("utf-16").encode()
    part = re.sub(rb"<((?:\w+:)?)v(?:\s[^<>]*)?>[^<]*</\1v>|<(?:\w+:)?v\s*/>", b"", part)
    return re.sub(rb"(<(?:\w+:)?c\s[^<>]*?)\st=(?:\"[a-zA-Z]+\"|'[a-zA-Z]+')", rb"\1", part)
