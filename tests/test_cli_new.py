"""`pressfuncs new`: lists and copies templates, and never replaces a workbook unless told to."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from pressfuncs.batch.report import CAUTION
from pressfuncs.build.templates import BUILDERS, TEMPLATES, described
from pressfuncs.cli import main
from pressfuncs.templates import template_path

every_file = pytest.mark.parametrize("name", sorted(TEMPLATES))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str):
    return CliRunner().invoke(main, ["new", *words])


def test_new_lists_every_template_once_with_the_words_of_its_builder(folder):
    done = run("--list")
    assert done.exit_code == 0
    listed = [line.split(None, 1) for line in done.stdout.splitlines()]
    assert [name for name, _ in listed] == list(BUILDERS)
    assert [what for _, what in listed] == [described()[name] for name in BUILDERS]
    assert all(what.endswith(".") for _, what in listed)
    assert not list(folder.iterdir())


@every_file
def test_new_copies_a_template_with_its_bytes_and_says_the_safety_words(name, folder):
    words = [name.partition(".")[0], *(["--units", "inch"] if ".inch." in name else [])]
    done = run(*words)
    assert done.exit_code == 0, done.output
    assert done.stdout == f"written: {name}\n{CAUTION}\n"
    assert (folder / name).read_bytes() == template_path(name).read_bytes()


def test_new_never_replaces_a_workbook_unless_told_to(folder):
    Path("quote.xlsx").write_bytes(b"mine")
    done = run("quote")
    assert (done.exit_code, done.stderr) == (1, "pressfuncs: quote.xlsx is there already; --force replaces it\n")
    assert Path("quote.xlsx").read_bytes() == b"mine"
    assert run("quote", "--force").exit_code == 0
    assert Path("quote.xlsx").read_bytes() == template_path("quote.xlsx").read_bytes()


def test_new_writes_where_it_is_told(folder):
    Path("jobs").mkdir()
    assert run("quote.xlsx", "-o", "jobs").exit_code == 0
    assert run("quote", "-o", "jobs/cover.xlsx", "--units", "inch").exit_code == 0
    assert sorted(path.name for path in Path("jobs").iterdir()) == ["cover.xlsx", "quote.xlsx"]


@pytest.mark.parametrize(
    ("words", "status", "sentence"),
    [
        (["qoute"], 2, 'there is no template "qoute", nearest: quote. See'),
        ([], 2, "which template? 'pressfuncs new --list' shows them. See"),
        (["quote", "-o", "a.xls"], 1, "a.xls: the name of the workbook must end with .xlsx"),
        (["quote", "-o", "nowhere/a.xlsx"], 1, "nowhere/a.xlsx: No such file or directory"),
        (["quote", "--units", "imperial"], 2, "'imperial' is not one of"),
    ],
)
def test_new_refuses_in_one_sentence(folder, words, status, sentence):
    done = run(*words)
    assert done.exit_code == status
    assert sentence in done.stderr
    assert done.stderr.count("\n") == 1
    assert not list(folder.iterdir())
