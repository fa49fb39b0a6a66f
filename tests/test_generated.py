"""Generated files are what their generators give now."""

from __future__ import annotations

from pathlib import Path

import pytest

from pressfuncs import units
from pressfuncs.build import generate


@pytest.fixture(autouse=True)
def _no_files_by_chance(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if "tmp_path" in request.fixturenames:
        for files in ("TABLES", "PAGES", "WORKBOOKS"):
            monkeypatch.setattr(generate, files, {})


def test_no_generated_file_has_drifted():
    assert generate.drifted() == []


def test_drift_is_seen_and_mended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    stale, missing = tmp_path / "stale.json", tmp_path / "new" / "missing.json"
    stale.write_text("old", encoding="utf-8")
    monkeypatch.setattr(generate, "TABLES", {stale: lambda: "new", missing: lambda: "new"})
    assert generate.drifted() == [stale, missing]
    assert generate.write() == [stale, missing]
    assert stale.read_text(encoding="utf-8") == missing.read_text(encoding="utf-8") == "new"
    assert generate.drifted() == []


def test_pages_are_judged_once_the_tables_they_are_made_with_are_right(tmp_path: Path, monkeypatch):
    table, page = tmp_path / "table.json", tmp_path / "page.md"
    table.write_text("old", encoding="utf-8")
    page.write_text("page of old", encoding="utf-8")
    monkeypatch.setattr(generate, "TABLES", {table: lambda: "new"})
    monkeypatch.setattr(generate, "PAGES", {page: lambda: f"page of {table.read_text(encoding='utf-8')}"})
    assert generate.drifted() == [table]
    assert generate.write() == [table, page]
    assert page.read_text(encoding="utf-8") == "page of new"
    page.write_text("page of old", encoding="utf-8")
    assert generate.drifted() == [page]


def test_missing_workbook_is_seen_and_made(tmp_path: Path, monkeypatch):
    path, build = next(iter(_WORKBOOKS.items()))
    other = tmp_path / path.name
    monkeypatch.setattr(generate, "WORKBOOKS", {other: build})
    assert generate.drifted() == [other]
    assert generate.write() == [other]
    assert generate.drifted() == []


_WORKBOOKS = generate.WORKBOOKS


def test_tables_are_read_anew_after_a_write(tmp_path: Path):
    before = units.table()
    assert units.table() is before
    generate.write()
    assert units.table() is not before
    assert units.table() == before
