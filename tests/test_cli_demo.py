"""`pressfuncs demo`: the command around the demonstration."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from pressfuncs.batch.report import CAUTION
from pressfuncs.cli import main


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_demo_shows_what_changed_where_the_files_are_and_the_caution():
    done = CliRunner().invoke(main, ["demo"])
    assert done.exit_code == 0, done.output
    assert "No longer fits: " in done.stdout
    assert CAUTION in done.stdout
    names = [path.name for path in Path("pressfuncs-demo").iterdir()]
    assert len(names) == 5
    assert all(f"pressfuncs-demo/{name}" in done.stdout for name in names)


def test_demo_again_gives_the_same_answer_in_json():
    first, second = (CliRunner().invoke(main, ["demo", "here", "--json"]) for _ in range(2))
    assert (first.exit_code, second.exit_code) == (0, 0)
    one, two = json.loads(first.stdout), json.loads(second.stdout)
    for name in ("seconds", "matching_seconds"):
        assert one.pop(name) > 0
        assert two.pop(name) > 0
    assert one == two
    assert Path(one["recalculated"]).is_file()
    assert [change for change in one["differences"] if change["before"] != change["after"]]


def test_demo_keeps_a_register_that_somebody_has_worked_in():
    assert CliRunner().invoke(main, ["demo", "here"]).exit_code == 0
    worked_in = next(Path("here").iterdir())
    worked_in.write_bytes(b"mine")
    done = CliRunner().invoke(main, ["demo", "here"])
    assert done.exit_code == 1
    assert done.stderr.startswith("pressfuncs: ")
    assert worked_in.name in done.stderr
    assert done.stderr.count("\n") == 1
    assert worked_in.read_bytes() == b"mine"


def test_demo_that_cannot_write_says_so():
    Path("file").touch()
    assert CliRunner().invoke(main, ["demo", "file"]).exit_code == 2
    done = CliRunner().invoke(main, ["demo", "file/below"])
    assert (done.exit_code, done.stderr) == (1, "pressfuncs: file/below: Not a directory\n")
