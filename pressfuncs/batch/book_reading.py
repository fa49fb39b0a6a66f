"""Reading a workbook: its sheets, shared strings, date styles, defined names and tables."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pressfuncs.batch.addresses import range_boundaries
from pressfuncs.batch.book import Book, Sheet, Table
from pressfuncs.batch.cells import unescape_text
from pressfuncs.batch.dates import BUILT_IN, is_date_format
from pressfuncs.batch.package import Package, parse_xml
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.sheet_reading import SheetReader


def read_book(package: Package, by_blocks: bool = True) -> Book:
    """Read everything the batch mode needs; Refused with one sentence if the workbook cannot be read.

    `by_blocks=False` reads every cell on its own, to prove that the result is the same.
    """
    try:
        return _read_book(package, by_blocks)
    except (KeyError, IndexError, ValueError, UnicodeDecodeError) as error:
        cause = f"{type(error).__name__}: {error}"
        raise Refused(f"is damaged ({cause}); repair it in the application that wrote it") from error


def _read_book(package: Package, by_blocks: bool) -> Book:
    root = parse_xml(package.read(package.workbook_part), package.workbook_part)
    relations = package.relations(package.workbook_part)
    by_kind = {relation.type_tail: relation.target for relation in relations.values() if not relation.external}
    properties = next((e for e in root if _local(e) == "workbookPr"), None)
    date1904 = properties is not None and properties.attrib.get("date1904") in ("1", "true")
    strings = _shared_strings(package, by_kind.get("sharedStrings"))
    date_styles = _date_styles(package, by_kind.get("styles"))
    sheet_names: list[str] = []
    sheets: dict[str, Sheet] = {}
    tables: dict[str, Table] = {}
    for element in _children(root, "sheets", "sheet"):
        name = element.attrib["name"]
        sheet_names.append(name)
        relation = relations.get(next((v for k, v in element.attrib.items() if k.endswith("}id")), ""))
        if relation is None or relation.type_tail != "worksheet" or not package.has(relation.target):
            continue  # chart sheets and dialogue sheets hold no cells
        reader = SheetReader(Sheet(name, relation.target), strings, date_styles, date1904)
        sheets[name] = reader.read(package.read(relation.target), by_blocks)
        for inner in package.relations(relation.target).values():
            if inner.type_tail == "table":
                _read_table(package, name, inner.target, tables)
    names = {}
    for element in _children(root, "definedNames", "definedName"):
        scope = element.attrib.get("localSheetId")
        owner = sheet_names[int(scope)] if scope is not None else None
        names[owner, element.attrib["name"].lower()] = element.text or ""
    return Book(sheets, names, tables, date1904)


def _local(element: Any) -> str:
    return str(element.tag).rpartition("}")[2]


def _children(root: Any, parent: str, child: str) -> Iterator[Any]:
    for element in root:
        if _local(element) == parent:
            yield from (inner for inner in element if _local(inner) == child)


def _shared_strings(package: Package, part: str | None) -> list[str]:
    if part is None or not package.has(part):
        return []
    strings = []
    for item in parse_xml(package.read(part), part):
        if _local(item) != "si":
            continue
        texts = []
        for child in item:
            kind = _local(child)
            if kind == "t":
                texts.append(child.text or "")
            elif kind == "r":
                texts += [inner.text or "" for inner in child if _local(inner) == "t"]
        strings.append(unescape_text("".join(texts)))
    return strings


def _date_styles(package: Package, part: str | None) -> frozenset[int]:
    """Return the style numbers that show a number as a date or a time."""
    if part is None or not package.has(part):
        return frozenset()
    root = parse_xml(package.read(part), part)
    formats: dict[int, str] = {}
    for element in _children(root, "numFmts", "numFmt"):
        formats[int(element.attrib["numFmtId"])] = element.attrib["formatCode"]
    return frozenset(
        number
        for number, element in enumerate(_children(root, "cellXfs", "xf"))
        if _shows_a_date(int(element.attrib.get("numFmtId", "0")), formats)
    )


def _shows_a_date(number: int, formats: dict[int, str]) -> bool:
    return is_date_format(formats[number]) if number in formats else number in BUILT_IN


def _read_table(package: Package, sheet: str, part: str, tables: dict[str, Table]) -> None:
    root = parse_xml(package.read(part), part)
    c1, r1, c2, r2 = range_boundaries(root.attrib["ref"])
    columns = [unescape_text(e.attrib["name"]).lower() for e in _children(root, "tableColumns", "tableColumn")]
    name = root.attrib.get("displayName") or root.attrib["name"]
    tables[name.lower()] = Table(
        sheet=sheet,
        area=(int(r1 or 1), int(c1 or 1), int(r2 or 1), int(c2 or 1)),
        heading_rows=int(root.attrib.get("headerRowCount", "1")),
        total_rows=int(root.attrib.get("totalsRowCount", "0")),
        columns={column: int(c1 or 1) + i for i, column in enumerate(columns)},
    )
