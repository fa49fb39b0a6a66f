"""Generated files are what their generators give now."""

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
