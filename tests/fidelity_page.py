"""The tables of docs/fidelity.md, from the kinds of workbooks that are tried; run it to write them anew."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

import fidelity_objects
import fidelity_parts
import fidelity_sheets
import fidelity_writers
import fidelity_zips
from fidelity_kinds import BY_HAND, KINDS, SHEET, Kind
from parts import differing_parts, part_hashes

from pressfuncs.batch.recalc import recalculate

GROUPS = {
    "Parts beside the sheets": fidelity_parts,
    "What lies on the sheets": fidelity_objects,
    "Cells, and how sheets are written": fidelity_sheets,
    "Programs that wrote the file": fidelity_writers,
    "How the file is zipped": fidelity_zips,
}
PAGE = Path(__file__).parent.parent / "docs" / "fidelity.md"
_HEAD = (
    "| kind | made | parts kept | read by | outcome |",
    "|---|---|---|---|---|",
)
_TABLES = re.compile(r"(?<=<!-- tables -->\n).*(?=<!-- end of tables -->)", re.DOTALL)


def tables(folder: Path) -> str:
    """Return a table a group; books are made in the folder to count their parts."""
    text = ""
    for heading, module in GROUPS.items():
        rows = [_row(kind, folder) for kind in KINDS.values() if kind.make.__module__ == module.__name__]
        text += "\n".join(["", f"### {heading}", "", *_HEAD, *rows, ""])
    return text + "\n"


def _row(kind: Kind, folder: Path) -> str:
    if kind.refused:
        return f'| {kind.name} | {kind.how} | all | - | refused: "{kind.refused}" |'
    shown = ", ".join(f"`{part}`" for part in kind.holds if part != SHEET)
    parts = f"{_kept(kind, folder)}{shown and f': {shown}'}"
    readers = ["openpyxl" if kind.openpyxl else "an XML parser", *(["LibreOffice"] if kind.office else [])]
    outcome = "kept" + (f", but for {kind.also}" if kind.also else "")
    return f"| {kind.name} | {kind.how} | {parts} | {', '.join(readers)} | {outcome} |"


def _kept(kind: Kind, folder: Path) -> str:
    """Return how many parts are the same afterwards; of books whose writer may change, no number."""
    if kind.how != BY_HAND:
        return "all but the sheets"
    book, out = folder / f"book{kind.suffix}", folder / "out.xlsx"
    recalculate(kind.make(book), out, kind.options)
    return f"{len(part_hashes(book)) - len(differing_parts(book, out))} of {len(part_hashes(book))}"


def with_tables(page: str, folder: Path) -> str:
    """Return the text of the page with its tables as they should be."""
    return _TABLES.sub(lambda _: tables(folder), page)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        PAGE.write_text(with_tables(PAGE.read_text(encoding="utf-8"), Path(scratch)), encoding="utf-8")
