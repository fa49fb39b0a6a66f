"""`pressfuncs functions` and `pressfuncs build`: the list, the page of one function, drift."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import examples
import pytest
from click.testing import CliRunner, Result

from pressfuncs import edge
from pressfuncs.build import generate
from pressfuncs.cli import handbook, main
from pressfuncs.quantities import SYSTEMS
from pressfuncs.registry import FUNCTIONS

every_function = pytest.mark.parametrize("spec", examples.ALL, ids=examples.name_of)


def run(*words: str) -> Result:
    done = CliRunner().invoke(main, list(words))
    assert done.exit_code == 0, done.output
    return done


def unspaced(text: str) -> str:
    """Return a text without its spaces and line breaks, since a page is wrapped."""
    return "".join(text.split())


def data(*words: str) -> Any:
    return json.loads(run(*words, "--json").stdout)


def test_list_has_every_function_once_below_its_chapter():
    chapter, found = "", {}
    for line in run("functions").stdout.splitlines():
        if line.startswith("  "):
            name, summary = line.split(maxsplit=1)
            assert name not in found
            found[name] = (chapter, summary)
        elif line:
            chapter = line
    assert found == {spec.sheet_name: (spec.chapter, spec.docs.summary) for spec in examples.ALL}


def test_list_as_json_has_every_function():
    rows = data("functions")
    assert {row["name"] for row in rows} == set(FUNCTIONS)
    assert all([*row] == ["name", "worksheet", "chapter", "summary"] for row in rows)


@every_function
def test_page_says_everything_the_register_knows(spec):
    page = unspaced(run("functions", spec.sheet_name).stdout)
    docs = spec.docs
    for text in (spec.sheet_name, docs.summary, docs.formula, docs.notes, docs.example, spec.citation):
        assert unspaced(text) in page
    for argument in spec.arguments:
        assert unspaced(f"{argument.name} {argument.help} (") in page
        assert unspaced(handbook.units_of(argument.kind)) in page
        assert unspaced(handbook.default_in_words(argument)) in page
        assert all(unspaced(choice) in page for choice in argument.choices)
    assert unspaced(handbook.worksheet_call(spec)) in page


@every_function
def test_page_as_json_has_the_arguments_in_order(spec):
    page = data("functions", spec.name)
    assert [argument["name"] for argument in page["arguments"]] == [argument.name for argument in spec.arguments]
    for shown, argument in zip(page["arguments"], spec.arguments, strict=True):
        assert [shown[system] for system in SYSTEMS] == [argument.kind.unit(system) for system in SYSTEMS]
        assert shown["required"] == argument.required
        if isinstance(argument.default, (int, float)):
            back = [shown["default"][s] * argument.kind.factor(s) for s in SYSTEMS]
            assert back == pytest.approx([argument.default] * 2)


def test_worksheet_call_has_units_last_and_optional_arguments_in_brackets():
    assert handbook.worksheet_call(FUNCTIONS["shearing_force"]) == (
        "=PF_SHEARING_FORCE(cut_length, thickness, shear_strength, [units])"
    )
    assert handbook.worksheet_call(FUNCTIONS["version"]) == "=PF_VERSION()"
    assert handbook.worksheet_call(FUNCTIONS["explain"]) == "=PF_EXPLAIN(name, [values, ...])"


@pytest.mark.parametrize("spec", examples.COMPUTING, ids=examples.name_of)
def test_worksheet_example_computes_what_the_command_line_example_does(spec):
    formula = handbook.example_formula(spec)
    if any(argument.series for argument in spec.arguments):
        assert formula == ""  # a series is a range, and an example has no sheet
        return
    inside = formula.removeprefix(f"={spec.sheet_name}(").removesuffix(")")
    cells = json.loads("[" + ", ".join(part.strip() or "null" for part in inside.split(",") if inside) + "]")
    expected = edge.call(spec, examples.cells(spec))
    assert edge.call(spec, cells) == (pytest.approx(expected) if isinstance(expected, float) else expected)


# Build


def test_build_check_is_silent_about_nothing_and_passes():
    assert f"{generate.count()} generated files are up to date" in run("build", "--check").stdout


def test_build_check_names_what_has_drifted_and_build_mends_it(tmp_path: Path, monkeypatch):
    stale = tmp_path / "stale.md"
    stale.write_text("old", encoding="utf-8")
    for files in ("TABLES", "WORKBOOKS"):
        monkeypatch.setattr(generate, files, {})
    monkeypatch.setattr(generate, "PAGES", {stale: lambda: "new"})
    done = CliRunner().invoke(main, ["build", "--check"])
    assert done.exit_code == 1
    assert "stale.md" in done.stdout
    assert stale.read_text(encoding="utf-8") == "old"
    assert "run 'pressfuncs build'" in done.stderr
    assert "stale.md" in run("build").stdout
    assert stale.read_text(encoding="utf-8") == "new"


def test_build_refuses_an_installed_package(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(generate, "PACKAGE", tmp_path / "pressfuncs")
    done = CliRunner().invoke(main, ["build"])
    assert done.exit_code == 1
    assert "checkout" in done.stderr
