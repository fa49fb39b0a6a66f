"""A corpus of invented heads of registers in five languages: no column is ever taken for what it is not."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pytest
import registers_made as made

from pressfuncs import units
from pressfuncs.batch.assignment import fields
from pressfuncs.batch.assignment.registers import Register, read_register
from pressfuncs.quantities import TEXT

FOLDER = Path(__file__).parent / "corpus" / "register_heads"
LANGUAGES = ("english", "german", "french", "spanish", "italian")


@dataclass
class Head:
    """An invented head with two rows."""

    language: str
    name: str
    register: str
    system: str
    layout: str
    columns: list[list[str]] = field(default_factory=list)
    """heading, meaning, unit meant, two cells, unit in the row below"""

    def cells(self) -> list[list[str]]:
        """Return the register as it stands in the file."""
        headings, first, second, below = zip(*((c[0], c[3], c[4], c[5]) for c in self.columns))
        above = [["Press shop, hall A"], ["as of May"], []] if self.layout == "title" else []
        return [
            *above,
            list(headings),
            *([list(below)] if self.layout == "below" else []),
            list(first),
            list(second),
        ]


def read_heads(language: str) -> list[Head]:
    heads: list[Head] = []
    for line in (FOLDER / f"{language}.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith("["):
            what, _, name = line[1:].partition("]")
            heads.append(Head(language, name.strip(), *what.split()))
        elif line and not line.startswith("#"):
            parts = [part.strip() for part in line.split("|")]
            heads[-1].columns.append([*parts, ""][:6])
    return heads


HEADS = [head for language in LANGUAGES for head in read_heads(language)]


def core(register: str, name: str, unit: str, cell: str) -> tuple[float, ...]:
    """Return what the author of a head means by a cell, in core units."""
    dimension = fields.fields(register)[name].kind.dimension
    factor = units.factor(unit, dimension) if unit else 1.0
    return tuple(float(part) * factor for part in cell.split(";"))


@pytest.mark.parametrize("file", ["csv", "xlsx"])
@pytest.mark.parametrize("head", HEADS, ids=lambda head: f"{head.language}, {head.name}")
def test_no_column_of_a_head_is_misread(tmp_path, head, file):
    path = tmp_path / f"register.{file}"
    if file == "csv":
        made.write_csv(path, head.cells())
    else:
        made.write_xlsx(path, [[_number(cell) for cell in row] for row in head.cells()])
    register = read_register(path, head.register, system=head.system)
    assert len(register) == 2, register.troubles
    expected: set[str] = set()
    for heading, meaning, unit, *cells, below in head.columns:
        what, *open_fields = meaning.split()
        if what == "-":
            assert not said_of(register, heading, below), heading
        elif what == "?":
            assert said_of(register, heading, below), heading
            for name in open_fields:
                assert name in register.unread or name in register.headings, heading
        else:
            expected.add(what)
            check_figures(register, what, unit, cells)
    assert set(register.headings) == expected
    open_ = {name for _, meaning, *_ in head.columns if meaning[0] == "?" for name in meaning.split()[1:]}
    assert set(register.unread) == open_ - expected | (open_ & {"pad_force"})


def said_of(register: Register, heading: str, below: str) -> bool:
    places = (f'column "{heading}"', f'column "{heading} [{below}]"')
    return any(trouble.place in places for trouble in register.troubles)


def check_figures(register: Register, name: str, unit: str, cells: list[str]) -> None:
    if fields.fields(register.kind)[name].kind is TEXT:
        assert register.texts[name] == cells
        return
    expected = [core(register.kind, name, unit, cell) for cell in cells]
    if name in register.series:
        assert register.series[name] == [pytest.approx(figures) for figures in expected]
    else:
        assert register.numbers[name] == pytest.approx([figures[0] for figures in expected])


def _number(cell: str) -> object:
    try:
        return float(cell)
    except ValueError:
        return cell or None


def test_the_corpus_is_large_enough():
    assert len(HEADS) >= 60
    assert {head.language for head in HEADS} == set(LANGUAGES)
    assert {head.system for head in HEADS} == {"metric", "inch"}
    assert {head.layout for head in HEADS} == {"plain", "title", "below"}
