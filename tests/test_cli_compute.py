"""`pressfuncs compute` and the program around it: values, units, JSON, refusals, exit statuses."""

from __future__ import annotations

import json
import math
import os
import shlex
import signal
import subprocess
import sys
import time
from typing import Any

import examples
import pytest
from click.testing import CliRunner, Result

from pressfuncs import __version__, edge
from pressfuncs.cli import compute_function, handbook, main
from pressfuncs.quantities import SYSTEMS
from pressfuncs.registry import FUNCTIONS

PROGRAM = [sys.executable, "-c", "from pressfuncs.cli import main; main()"]
SHEARING = [
    "compute",
    "shearing_force",
    "--cut-length",
    "471.239",
    "--thickness",
    "3.2",
    "--shear-strength",
    "310",
]
HEAVY = {"numpy", "openpyxl", "pint", "formualizer", "xlwings"}

every_function = pytest.mark.parametrize("spec", examples.ALL, ids=examples.name_of)
every_computing = pytest.mark.parametrize("spec", examples.COMPUTING, ids=examples.name_of)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def answer(*words: str) -> Any:
    """Return the JSON that a command line prints."""
    done = run(*words, "--json")
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)


def sentence(done: Result, status: int) -> str:
    """Return the one sentence of a command that must fail with this status."""
    assert done.exit_code == status, done.output
    assert done.stderr.startswith("pressfuncs: ")
    assert done.stderr.count("\n") == 1
    return done.stderr


def flags(spec: Any, cells: list[Any]) -> list[str]:
    """Return the cells of a call as flags of the command line, to the last digit."""
    words: list[str] = []
    for argument, cell in zip(spec.arguments, cells, strict=True):
        if cell is not None:
            texts = [str(row[0]) for row in cell] if argument.series else [str(cell)]
            words += [handbook.flag(argument.name), ", ".join(texts)]
    return words


@pytest.mark.parametrize("system", SYSTEMS)
@every_computing
def test_json_of_every_function_is_what_the_edge_gives(spec, system):
    cells = examples.cells(spec, system)
    found = answer("compute", spec.name, *flags(spec, cells), "--units", system)
    expected = edge.call(spec, [*cells, system] if spec.has_units else cells)
    assert found["value"] == expected
    assert (found["function"], found["units"]) == (spec.name, system if spec.has_units else None)
    assert found["formula"] == spec.docs.formula
    assert found["source"] == spec.citation_of(examples.arguments(spec))
    assert [*found["arguments"]] == [argument.name for argument in spec.arguments]
    if spec.columns is None and not spec.result_kind:
        assert found["unit"] == spec.result.unit(system)


@every_function
def test_example_in_the_help_of_every_function_runs(spec):
    page = run("compute", spec.name, "--help")
    assert page.exit_code == 0
    heading, line = page.stdout.rstrip("\n").splitlines()[-2:]
    assert heading == "Example:"
    program, *words = shlex.split(line)
    assert program == "pressfuncs"
    done = run(*words)
    assert done.exit_code == 0, done.stderr
    assert done.stdout.strip()


@every_function
def test_help_of_every_function_says_all_of_its_page(spec):
    page = "".join(run("compute", spec.name, "--help").stdout.split())  # it is wrapped, at hyphens too
    for text in (spec.docs.summary, spec.docs.formula, spec.docs.notes, spec.citation, spec.sheet_name):
        assert "".join(text.split()) in page
    for argument in spec.arguments:
        assert "".join(f"{handbook.flag(argument.name)} {argument.help} (".split()) in page


def test_worked_line_and_source_are_printed():
    done = run(*SHEARING)
    assert done.exit_code == 0
    assert done.stdout.splitlines() == edge.explanation(FUNCTIONS["shearing_force"], [471.239, 3.2, 310.0])
    assert "467.469088 kN" in done.stdout


@pytest.mark.parametrize(
    "name",
    [
        "shearing_force",
        "shearing-force",
        "SHEARING_FORCE",
        "PF_SHEARING_FORCE",
        "pf-shearing-force",
        "Pf_Shearing_force",
    ],
)
def test_name_is_taken_in_every_spelling(name):
    assert answer("compute", name, *SHEARING[2:])["function"] == "shearing_force"


def test_flags_are_taken_with_underscores_and_in_any_letter_case():
    done = run(
        "compute", "shearing_force", "--Cut_Length", "471.239", "--THICKNESS", "3.2", "--shear_strength", "310"
    )
    assert done.stdout == run(*SHEARING).stdout


@pytest.mark.parametrize(
    ("thickness", "core"), [("3.2", 3.2), ("0.125 in", 3.175), ("1/8 in", 3.175), ("3.2e0", 3.2), ("16/5", 3.2)]
)
def test_values_are_bare_numbers_or_have_their_unit(thickness, core):
    words = ["--cut-length", "100 mm", "--thickness", thickness, "--shear-strength", "300 MPa"]
    assert answer("compute", "shearing_force", *words)["value"] == pytest.approx(100 * core * 300 / 1000)


def test_inch_units_read_bare_numbers_and_give_the_result():
    words = ["--cut-length", "4", "--thickness", "0.125", "--shear-strength", "50000"]
    found = answer("compute", "shearing_force", *words, "--units", "INCH")
    assert found["value"] == pytest.approx(4 * 0.125 * 50000 / 2000)
    assert (found["unit"], found["units"]) == ("tonf_us", "inch")
    assert found["arguments"]["shear_strength"]["unit"] == "psi"
    assert found["arguments"]["shear_strength"]["value"] == pytest.approx(50000)


@pytest.mark.parametrize(
    "words",
    [
        ["--forces", "10 kN", "--forces", "20 kN", "--positions", "-50", "--positions", "100"],
        ["--forces", "10 kN, 20 kN", "--positions", "-50, 100"],
        ["--forces", "10; 20", "--positions=-50", "--positions", "10 cm"],
    ],
)
def test_several_values_are_one_list_or_several_flags_and_may_be_negative(words):
    assert answer("compute", "load_centre", *words)["value"] == pytest.approx(50.0)


def test_negative_quantity_with_a_unit_is_a_value_and_not_a_flag():
    words = ["--forces", "10 kN", "--positions", "-1/2 in"]
    assert answer("compute", "load_centre", *words)["value"] == pytest.approx(-12.7)


@pytest.mark.parametrize("forces", ["12,5", "12,5 kN"])
def test_decimal_comma_is_refused_and_not_read_as_two_values(forces):
    said = sentence(run("compute", "load_centre", "--forces", forces, "--positions", "1"), 1)
    assert "decimal point" in said or "not known" in said


def test_left_out_arguments_have_their_defaults():
    found = answer("compute", "stripping_force", "--force", "100")
    assert found["arguments"]["stripping_share"] == {"value": 0.2, "unit": ""}
    assert found["value"] == pytest.approx(20)


def test_default_is_shown_in_both_units():
    page = " ".join(run("compute", "stripping_force_by_edge", "--help").stdout.split())
    assert "default 24.13165053 MPa or 3500" in page


def test_rows_are_printed_below_headings_with_units():
    words = ["--rated-force", "1000", "--rated-height", "6", "--stroke", "100", "--rod", "400", "--points", "5"]
    done = run("compute", "capacity_curve", *words)
    lines = done.stdout.splitlines()
    headings = lines.index("height above the bottom, mm  capacity, kN")
    rows = [[float(text) for text in line.split()] for line in lines[headings + 1 :]]
    expected = answer("compute", "capacity_curve", *words)
    assert len(rows) == 5
    for row, exact in zip(rows, expected["value"], strict=True):
        assert row == pytest.approx(exact, rel=1e-9)
    assert expected["columns"] == [
        {"heading": "height above the bottom", "unit": "mm"},
        {"heading": "capacity", "unit": "kN"},
    ]
    inch = run("compute", "capacity_curve", *words, "--units", "inch").stdout
    assert "height above the bottom, in  capacity, tonf_us" in inch


def test_decimal_points_of_rows_stand_below_one_another():
    words = ["--rated-force", "1000", "--rated-height", "6", "--stroke", "100", "--rod", "400", "--points", "7"]
    lines = run("compute", "capacity_curve", *words).stdout.splitlines()[4:]
    first_points = {line.index(".") for line in lines if "." in line.split()[0]}
    assert len(first_points) == 1


def test_values_of_explain_are_taken_as_they_stand_in_cells():
    words = ["--name", "PF_SHEARING_FORCE", "--values", "471.239", "--values", "3.2 mm", "--values", "310"]
    assert run("compute", "explain", *words).stdout == run(*SHEARING).stdout


# Refusals


@pytest.mark.parametrize("as_json", [[], ["--json"]])
def test_refused_value_is_one_sentence_and_status_1(as_json):
    done = run(
        "compute", "shearing_force", "--cut-length", "9", "--thickness", "0", "--shear-strength", "1", *as_json
    )
    assert "thickness must be greater than 0 mm, got 0 mm" in sentence(done, 1)
    if not as_json:
        assert done.stdout == ""
        return
    data = json.loads(done.stdout)
    assert (data["error"], data["cell"], data["argument"]) == ("OutOfRange", "#NUM!", "thickness")


def test_refusal_speaks_in_the_units_asked_for():
    words = ["--cut-length", "9", "--thickness", "-1", "--shear-strength", "1", "--units", "inch"]
    assert "got -1 in" in sentence(run("compute", "shearing_force", *words), 1)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("5 kg", "kg is a mass"),
        ("3,2", "decimal point"),
        ("", "thickness is blank"),
        ("nan", "not a number"),
        ("1e999", "not a number"),
        ("thick", "not a number"),
    ],
)
def test_unreadable_values_are_refused(value, said):
    words = ["--cut-length", "9", "--thickness", value, "--shear-strength", "1"]
    assert said in sentence(run("compute", "shearing_force", *words), 1)


def test_wrong_choice_names_the_choices():
    words = ["--force", "10", "--thickness", "3", "--penetration", "0.4", "--relief", "2", "--model", "soft"]
    assert "choose from ratio, smooth" in sentence(run("compute", "relieved_shearing_force", *words), 1)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["compute", "shearing_force"], "shearing_force needs --cut-length, --thickness, --shear-strength"),
        (["compute", "shearing_forc"], "nearest: shearing_force"),
        (["functions", "PF_SHEARNG_FORCE"], "nearest: shearing_force"),
        (["compute", *SHEARING[1:], "--thick", "3"], "--thick"),
        (["compute", "shearing_force", "--thickness", "--cut-length"], "--thickness has no value"),
        ([*SHEARING, "--units", "imperial"], "imperial"),
        ([*SHEARING, "3"], "3"),
        (["compute", "shearing_force", "--thickness"], "--thickness"),
        (["comput"], "nearest: compute"),
        (["--colour"], "--colour"),
        (["functions", "a", "b"], "b"),
    ],
)
def test_wrong_usage_is_one_sentence_and_status_2(words, said):
    done = run(*words)
    message = sentence(done, 2)
    assert said in message
    assert "--help'." in message
    assert done.stdout == ""


# The program


def test_version_is_that_of_the_package():
    assert run("--version").stdout == f"pressfuncs {__version__}\n"


def test_no_command_shows_the_help_on_standard_error_with_status_2():
    done = run()
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == run("--help").stdout


def test_help_of_every_command_ends_with_an_example():
    with main.make_context("pressfuncs", ["--version-is-not-asked"], resilient_parsing=True) as ctx:
        names = main.list_commands(ctx)
    for words in ([], *([name] for name in names)):
        lines = run(*words, "--help").stdout.rstrip("\n").splitlines()
        example = lines[lines.index("Example:") + 1 :]
        assert example
        assert all(line.startswith("  pressfuncs ") for line in example)


def test_fault_of_our_own_is_one_sentence_that_asks_for_a_report(monkeypatch):
    monkeypatch.setattr(compute_function, "_answer", lambda spec, cells: {}["lost"])
    message = sentence(run(*SHEARING), 70)
    assert "KeyError: 'lost'" in message
    assert "report" in message
    debugged = run("--debug", *SHEARING)
    assert debugged.exit_code == 70
    assert debugged.stderr.startswith("Traceback")
    assert "please report it." in debugged.stderr.splitlines()[-1]


def test_interrupt_is_quiet_with_status_130(tmp_path):
    code = f"""
import time, pathlib
from pressfuncs.cli import compute_function, main
def wait(spec, cells):
    pathlib.Path({str(tmp_path / "ready")!r}).touch()
    time.sleep(60)
compute_function._answer = wait
main({SHEARING!r})
"""
    started = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    deadline = time.monotonic() + 30
    while not (tmp_path / "ready").exists() and time.monotonic() < deadline:
        time.sleep(0.02)
    started.send_signal(signal.SIGINT)
    out, err = started.communicate(timeout=30)
    assert (started.returncode, out, err) == (130, b"", b"")


@pytest.mark.parametrize("words", [["functions"], ["--help"], ["compute", "shearing_force", "--help"], SHEARING])
def test_closed_pipe_is_quiet(words):
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([*PROGRAM, *words], stdout=writing, stderr=subprocess.PIPE, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (141, b"")


def test_full_disk_is_one_sentence():
    with open("/dev/full", "w") as full:
        done = subprocess.run([*PROGRAM, "functions"], stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr == "pressfuncs: cannot go on: No space left on device\n"


@pytest.mark.parametrize(
    ("words", "status"), [(SHEARING, 0), (["compute", "version", "--x"], 2), (SHEARING[:4], 2)]
)
def test_exit_status_reaches_the_shell(words, status):
    assert subprocess.run([*PROGRAM, *words], capture_output=True, check=False).returncode == status


@pytest.mark.parametrize("words", [["--help"], ["compute", "--help"], ["functions"], SHEARING])
def test_quick_commands_load_no_heavy_library(words):
    code = f"""
import sys
from pressfuncs.cli import main
try:
    main({words!r})
finally:
    print(*({HEAVY!r} & set(sys.modules)), file=sys.stderr)
"""
    begun = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    print(f"pressfuncs {' '.join(words[:2])}: {time.perf_counter() - begun:.3f} s")
    assert done.stderr.split() == []
    assert done.stdout


def test_numbers_are_shown_to_ten_digits():
    line = run("compute", "piston_area", "--bore", "200", "--rod", "0").stdout.splitlines()[0]
    assert line.endswith(f"{math.pi * 100**2:.10g} mm2")
