"""Generated files are what their generators give now."""

from pressfuncs import units
from pressfuncs.build import generate


def test_no_generated_file_has_drifted():
    assert generate.drifted() == []


def test_drift_is_seen(tmp_path, monkeypatch):
    stale, missing = tmp_path / "stale.json", tmp_path / "missing.json"
    stale.write_text("old", encoding="utf-8")
    monkeypatch.setattr(generate, "TEXT_FILES", {stale: lambda: "new", missing: lambda: "new"})
    assert generate.drifted() == [stale, missing]
    assert generate.write() == [stale, missing]
    assert stale.read_text(encoding="utf-8") == missing.read_text(encoding="utf-8") == "new"
    assert generate.drifted() == []


def test_pages_are_judged_once_the_files_they_are_made_from_are_right(tmp_path, monkeypatch):
    table, page = tmp_path / "table.json", tmp_path / "page.md"
    table.write_text("old", encoding="utf-8")
    page.write_text("page of old", encoding="utf-8")
    pages = {page: lambda: f"page of {table.read_text(encoding='utf-8')}"}
    monkeypatch.setattr(generate, "PAGES", pages)
    monkeypatch.setattr(generate, "TEXT_FILES", {table: lambda: "new", **pages})
    assert generate.drifted() == [table]
    assert generate.write() == [table, page]
    assert page.read_text(encoding="utf-8") == "page of new"


def test_written_tables_are_read_anew(monkeypatch):
    monkeypatch.setattr(generate, "TEXT_FILES", {})
    before = units.table()
    assert units.table() is before
    generate._forget()
    assert units.table() is not before
    assert units.table() == before
