"""Every kind of workbook: recalculated, nothing but stored values of formula cells ever differs."""

from __future__ import annotations

import math
import struct
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from books import force, values, without_values
from fidelity_kinds import KINDS, Kind, register
from fidelity_page import PAGE, with_tables
from headless_office import convert_all
from parts import (
    SHEET,
    differing_parts,
    entry_marks,
    fingerprint,
    part_hashes,
    parts_of,
    raw_entries,
    rewritten,
    stored_cells,
    stored_values,
    whole_entries,
    write_zip,
    written_header,
)

from pressfuncs.batch.outcome import Outcome
from pressfuncs.batch.package import Package
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.refusals import Refused

TAKEN = [kind for kind in KINDS.values() if not kind.refused]
REFUSED = [kind for kind in KINDS.values() if kind.refused]

Change = Callable[[bytes], bytes]

each = pytest.mark.parametrize("kind", TAKEN, ids=lambda kind: kind.make.__name__)


def in_utf16(part: bytes) -> bytes:
    return part.decode().encode("utf-16")


@pytest.mark.parametrize("kind", REFUSED, ids=lambda kind: kind.make.__name__)
def test_a_kind_that_is_not_taken_is_refused_and_left_alone(kind: Kind, tmp_path: Path) -> None:
    path = kind.make(tmp_path / "book.xlsx")
    before = fingerprint(path)
    with pytest.raises(Refused, match=kind.refused):
        recalculate(path, path, kind.options)
    assert fingerprint(path) == before
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.filterwarnings("ignore::UserWarning:openpyxl")  # of what the other reader does not know
@each
def test_nothing_but_stored_values_differs(kind: Kind, tmp_path: Path) -> None:
    path = kind.make(tmp_path / f"book{kind.suffix}")
    out = tmp_path / f"out{kind.suffix}"
    assert set(kind.holds) <= set(part_hashes(path))
    outcome = recalculate(path, out, kind.options)
    assert outcome.complete, (outcome.frozen, outcome.not_refreshed)
    assert outcome.failing == []
    changed = differing_parts(path, out)
    assert set(changed.values()) == {"changed"}
    the_zip_is_kept(path, out, set(changed))
    only_values_differ(kind, path, out, changed, outcome)
    the_values_are_right(kind, values(out) if kind.openpyxl else stored_values(out))
    a_second_run_changes_nothing(kind, out)


def test_a_signed_book_is_checked_without_being_told(tmp_path: Path) -> None:
    path = KINDS["digital signatures, without --allow-signed"].make(tmp_path / "book.xlsx")
    before = fingerprint(path)
    assert len(recalculate(path, None).changes) == 2
    assert fingerprint(path) == before


@pytest.mark.parametrize("change", [lambda part: part, in_utf16], ids=["utf-8", "utf-16"])
def test_readers_that_trust_the_declared_extent_see_what_has_grown(change: Change, tmp_path: Path) -> None:
    path = KINDS["dynamic arrays that grow"].make(tmp_path / "book.xlsx")
    rewritten(path, lambda name, part: change(part.replace(b"A1:H2", b"A1:E2")) if name == SHEET else part)
    recalculate(path, path, Options(second_engine=False))
    sheet = openpyxl.load_workbook(path, read_only=True, data_only=True)["Dies"]
    assert sheet.calculate_dimension() == "A1:F4"
    assert [row[5].value for row in sheet.iter_rows()] == [force(10 * row, 2, 310) for row in (1, 2, 3, 4)]
    sheet.parent.close()


@pytest.mark.parametrize("declared", ["A1:Z99", "C7", "", "what?"])
def test_an_extent_that_holds_all_or_says_nothing_is_left_alone(declared: str, tmp_path: Path) -> None:
    path = KINDS["dynamic arrays that grow"].make(tmp_path / "book.xlsx")
    rewritten(path, lambda name, part: part.replace(b"A1:H2", declared.encode()) if name == SHEET else part)
    outcome = recalculate(path, path, Options(second_engine=False))
    assert len(outcome.changes) == 6
    kept = {"C7": "C3:F7"}.get(declared, declared)
    assert f'<dimension ref="{kept}"/>'.encode() in parts_of(path)[SHEET]


def test_the_mark_of_a_rich_value_goes_with_the_value_and_stays_with_others(tmp_path: Path) -> None:
    path = KINDS["rich values (linked data types, pictures in cells)"].make(tmp_path / "book.xlsx")
    old = parts_of(path)[SHEET]
    assert b'<c r="D1" vm="1"><f>' in old
    recalculate(path, path, Options(second_engine=False))
    new = parts_of(path)[SHEET]
    assert b'<c r="D1"><f>' in new
    assert b'<c r="A2" t="e" vm="1"><v>' in new


def test_inline_texts_with_elements_of_others_are_replaced(tmp_path: Path) -> None:
    text = b'<is><t>old</t><q:more xmlns:q="urn:q"/><w:more/></is>'
    path = KINDS["inline and rich strings, reading aids"].make(tmp_path / "book.xlsx")
    new = b'<worksheet xmlns:w="urn:w" '
    rewritten(path, lambda _, part: part.replace(b"<is><t>old</t></is>", text).replace(b"<worksheet ", new))
    outcome = recalculate(path, path, Options(second_engine=False))
    assert "D4" in {change.cell for change in outcome.changes}
    assert values(path)["Dies!D4"] == 62.0


def test_parts_are_of_the_type_that_is_given_under_their_escaped_name(tmp_path: Path) -> None:
    def renamed(name: str, part: bytes) -> bytes:
        return part.replace(b"xl/workbook.xml", b"xl/das%20B%C3%BCchlein.xml")

    path = rewritten(register(tmp_path / "book.xlsx"), renamed)
    parts = {name.replace("workbook", "das Büchlein"): part for name, part in parts_of(path).items()}
    with Package.open(write_zip(path, parts)) as package:
        assert package.workbook_part == "xl/das Büchlein.xml"


def test_libreoffice_reads_the_values_too(tmp_path: Path) -> None:
    asked = [kind for kind in TAKEN if kind.office]
    books = []
    for kind in asked:
        path = kind.make(tmp_path / f"{kind.make.__name__}{kind.suffix}")
        recalculate(path, path, kind.options)
        books.append(path)
    assert len(books) > 7
    for kind, saved in zip(asked, convert_all(books, tmp_path, recalculate=False)):
        the_values_are_right(kind, values(saved))


def the_zip_is_kept(path: Path, out: Path, changed: set[str]) -> None:
    """Untouched entries are the same bytes, and all entries have the same order, names and marks."""
    old, new = whole_entries(path), whole_entries(out)
    assert list(old) == list(new)
    for name in old:
        assert name in changed or old[name] == new[name], name
    assert entry_marks(path) == entry_marks(out)
    for name in changed:
        assert written_header(path, name) == written_header(out, name)
        flags, method = struct.unpack_from("<2H", new[name], 6)
        assert (flags & 0b1110, method) == (0, 8)
        fields = raw_entries(out)[name][0][30 + len(name.encode()) :]
        assert b"\1\0\x10\0" not in fields, "no sizes of 64 bits"
    with zipfile.ZipFile(path) as before, zipfile.ZipFile(out) as after:
        assert after.testzip() is None
        assert before.comment == after.comment


def only_values_differ(kind: Kind, path: Path, out: Path, changed: dict[str, str], outcome: Outcome) -> None:
    """Sheet parts differ in the cells that the outcome names, and there in type and value."""
    old, new = parts_of(path), parts_of(out)
    differing = 0
    for name in changed:
        assert "/worksheets/" in name
        assert kind.undone(without_values(old[name])) == kind.undone(without_values(new[name]))
        before, after = stored_cells(old[name]), stored_cells(new[name])
        cells = {place for place in before.keys() | after.keys() if before.get(place) != after.get(place)}
        assert cells <= {change.cell for change in outcome.changes}
        differing += len(cells)
    assert differing == len(outcome.changes)


def the_values_are_right(kind: Kind, found: Mapping[str, Any]) -> None:
    """Every cell that the kind names stores what it should, as another program reads it."""
    assert kind.values
    for place, value in kind.values.items():
        read = found[place] if isinstance(value, str) else float(found[place])
        assert read == value or math.isclose(read, value, rel_tol=1e-12), (place, read, value)


def a_second_run_changes_nothing(kind: Kind, out: Path) -> None:
    """Neither in place nor into another file."""
    before = out.read_bytes()
    again = recalculate(out, out, kind.options)
    assert (again.changes, again.written) == ([], None)
    other = out.with_name("other.xlsx")
    recalculate(out, other, kind.options)
    assert other.read_bytes() == out.read_bytes() == before


def test_the_page_lists_the_kinds_that_were_tried(tmp_path: Path) -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert all(f"\n| {kind.name} |" in page for kind in KINDS.values())
    assert with_tables(page, tmp_path) == page, "run python tests/fidelity_page.py"
    assert with_tables(page.replace("| kept |", "| lost |"), tmp_path) == page
