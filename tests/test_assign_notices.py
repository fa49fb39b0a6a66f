"""What the terminal says of the columns of a register: refused, not known, read from texts."""

from __future__ import annotations

from pathlib import Path

import pytest
import registers_made as made
from click.testing import CliRunner

from pressfuncs.batch.assignment.registers import Register, read_register
from pressfuncs.batch.assignment.report import MOST, notices
from pressfuncs.cli import main

HEADINGS = ["Die", "t [mm]", "Cut length [mm]", "Shut height [mm]"]
GOOD = ["D1", 2.0, 300.0, 250.0]


def lines(*registers: Register) -> list[str]:
    return list(notices(registers))


def dies(tmp_path: Path, *columns: tuple[str, object]) -> Register:
    cells = [[*HEADINGS, *(heading for heading, _ in columns)], [*GOOD, *(cell for _, cell in columns)]]
    return read_register(made.write_csv(tmp_path / "dies.csv", cells), "die")


def test_nothing_is_said_of_a_register_that_is_understood(tmp_path):
    assert lines(dies(tmp_path)) == []


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("Force [tons]", 'column "Force [tons]": heading "Force [tons]": "tons" is not clear for a force'),
        ("Relief", "write shear height; the column is not used"),
        (
            "striping force kN",
            'a force that is not understood, so the whole stroke is not known; nearest is "stripping',
        ),
        ("Federkraft kN", 'map it with --fields to a field, or to "" if it is not used'),
        ("Part hight mm", 'nearest is "part height"; that is left open: write it so'),
        ("Shut height of tool", 'nearest is "shut height": if it is meant, write "shut height"'),
        ("Shelf", "columns that no check knows: Shelf"),
    ],
)
def test_a_column_that_is_not_used_is_named_with_what_to_do(tmp_path, heading, words):
    """Issue: columns that are not known were silent on the terminal."""
    (line,) = lines(dies(tmp_path, (heading, 12.0)))
    assert line.startswith("die register, column")
    assert words in line


def test_a_column_of_texts_is_near_to_texts_only(tmp_path):
    said = lines(dies(tmp_path, ("Drawing no", "Z-4007"), ("Stripper typ", "spring")))
    assert [line for line in said if "Drawing" in line] == [
        "die register, columns that no check knows: Drawing no"
    ]
    assert 'column "Stripper typ": is not known; nearest is "stripper type"' in said[0]


def test_columns_that_no_check_knows_share_a_line(tmp_path):
    (line,) = lines(dies(tmp_path, ("Shelf", "A1"), ("Owner", "x"), ("Z", 3.0)))
    assert line == "die register, columns that no check knows: Shelf, Owner, Z"


def test_many_lines_are_cut_short(tmp_path):
    register = dies(tmp_path, *((f"Federkraft {i} kN", 1.0) for i in range(MOST + 3)))
    said = lines(register)
    assert len(said) == MOST + 1
    assert said[-1] == "and 3 more, see the sheet Problems and the sheets as read"


def test_numbers_stored_as_text_are_said_once_a_column(tmp_path):
    rows = [HEADINGS, ["D1", "2", 300.0, 250.0], ["D2", "2.5", 300.0, 250.0]]
    register = read_register(made.write_xlsx(tmp_path / "dies.xlsx", rows), "die")
    assert lines(register) == [
        'die register, column "t [mm]": 2 numbers that are stored as text, first B2, read as a number'
    ]


def test_the_command_prints_them_and_takes_the_decimals(tmp_path):
    die = tmp_path / "dies.csv"
    die.write_text("Die;t mm;Force kN;Federkraft kN;Shelf\nD1;2;310,5;5;A\nD2;2;1.200;5;B\n", encoding="utf-8")
    press = made.write_csv(tmp_path / "presses.csv", made.table("press", [made.PRESS]))
    command = ["assign", str(die), str(press), "-o", str(tmp_path / "out.xlsx")]
    done = CliRunner().invoke(main, command)
    assert done.exit_code == 0, done.output
    assert 'column "Force kN": row 3 is "1.200", which may be 1.2 or 1200' in done.output
    assert 'column "Federkraft kN": is a force that is not understood' in done.output
    assert "columns that no check knows: Shelf" in done.output
    done = CliRunner().invoke(main, [*command, "--decimal", "comma"])
    assert done.exit_code == 0, done.output
    assert "which may be" not in done.output
