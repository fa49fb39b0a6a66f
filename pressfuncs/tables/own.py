"""The user's own table of materials: a range of a workbook, or a materials.csv beside it.

The first row holds headings, as in our own table (`shear_low_MPa`) or as people write them (`Shear strength,
max [MPa]`). A column whose unit is not clear, or a cell that is no number, is refused when it is asked for.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path
from typing import Any, Optional

from pressfuncs import units
from pressfuncs.errors import CellError, Impossible, NotInTable, WrongChoice, WrongType
from pressfuncs.limits import not_in_table
from pressfuncs.tables import holds, plain_name

Rows = tuple[tuple[object, ...], ...]

FILE_NAME = "materials.csv"

_NAMES = {"name", "material", "grade"}
_BOUNDS = {"low": "low", "lower": "low", "min": "low", "minimum": "low"}
_BOUNDS |= {"high": "high", "upper": "high", "max": "high", "maximum": "high"}
_FIGURES = {
    "shear strength": "shear_strength",
    "shear": "shear_strength",
    "tensile strength": "tensile_strength",
    "tensile": "tensile_strength",
    "uts": "tensile_strength",
    "yield strength": "yield_strength",
    "yield": "yield_strength",
    "density": "density",
    "penetration": "penetration",
    "clearance share": "clearance_share",
    "clearance share per side": "clearance_share",
    "clearance per side": "clearance_share",
    "shear to tensile ratio": "shear_to_tensile_ratio",
}
"""What a heading says, without its unit and bound -> the figure."""

DIMENSIONS = {"shear_strength": "pressure", "tensile_strength": "pressure", "yield_strength": "pressure"}
DIMENSIONS |= {"density": "density", "penetration": "ratio", "clearance_share": "ratio"}
DIMENSIONS |= {"shear_to_tensile_ratio": "ratio"}
_METRIC = {"pressure": "MPa", "density": "g/cm3", "ratio": ""}

_UNIT = re.compile(r"(?P<words>.*?)\s*(?:\[(?P<square>[^\]]*)\]|\((?P<round>[^)]*)\)|,\s*(?P<comma>\S+))\s*")


class OwnTable:
    """A table of materials with its headings understood."""

    def __init__(self, rows: Rows, where: str) -> None:
        """Read the headings; `where` is what a sentence calls the table."""
        self.where = where
        self.rows: dict[str, list[tuple[int, tuple[object, ...]]]] = {}
        self.names: dict[str, str] = {}
        headings = [cell if isinstance(cell, str) else "" for cell in rows[0]] if rows else []
        plain = [" ".join(re.split(r"[\s_]+", heading.strip().casefold())) for heading in headings]
        place = next((i for i, heading in enumerate(plain) if heading in _NAMES), None)
        if place is None:
            raise WrongType(
                f"{where} has no heading name, material or grade in its first row", argument="table", value=where
            )
        others = next((i for i, heading in enumerate(plain) if heading == "other names"), None)
        self.source = next((i for i, heading in enumerate(plain) if heading == "source"), None)
        self.columns: dict[tuple[str, str], tuple[int, str]] = {}
        for i, heading in enumerate(headings):
            for key, unit in _understood(heading):
                self.columns.setdefault(key, (i, unit))
        for number, short in enumerate(rows[1:], start=2):
            row = short + (None,) * (len(headings) - len(short))
            name = _text(row[place])
            further = _text(row[others]).split(";") if others is not None else []
            for one in dict.fromkeys(plain_name(one) for one in (name, *further) if one.strip()):
                self.rows.setdefault(one, []).append((number, row))
                self.names.setdefault(one, name)

    def __contains__(self, name: str) -> bool:
        return plain_name(name) in self.rows

    def figure(self, name: str, figure: str, bound: str) -> float:
        """Return a figure in core units; a sentence where the table does not give it."""
        row, column, unit, heading = self._cell(name, figure, bound)
        value = row[column]
        dimension = DIMENSIONS[figure]
        if isinstance(value, str):
            return self._read_text(value, unit, dimension, heading, name)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise WrongType(f"{self.where}, {name}: {heading} is no number", argument="table", value=value)
        if not value > 0:
            raise WrongType(
                f"{self.where}, {name}: {heading} is {value:g}, more than 0 is wanted",
                argument="table",
                value=value,
            )
        return value * self._factor(unit, dimension, heading)

    def source_of(self, name: str, figure: str) -> str:
        """Return where a figure comes from: the source column of the table, or the table itself."""
        row, *_ = self._cell(name, figure, "high")
        said = _text(row[self.source]).strip() if self.source is not None else ""
        return f"{said} ({self.where})" if said else f"{self.where}, row {self.names[plain_name(name)]}"

    def _cell(self, name: str, figure: str, bound: str) -> tuple[tuple[object, ...], int, str, str]:
        """Return row and column of a figure, its unit and its heading in words; one column serves both bounds."""
        if name not in self:
            nearest = [self.names[plain] for plain in get_close_matches(plain_name(name), self.rows, n=3)]
            cure = f"nearest: {', '.join(dict.fromkeys(nearest))}" if nearest else "add a row for it"
            raise WrongChoice(f'material "{name}": not in {self.where}, {cure}', argument="name", value=name)
        words = figure.replace("_", " ")
        found = self.columns.get((figure, bound)) or self.columns.get((figure, ""))
        if found is None:
            other = "low" if bound == "high" else "high"
            only = f", only the {other} end" if (figure, other) in self.columns else ""
            example = f"{words.capitalize()} [{_METRIC[DIMENSIONS[figure]]}]".removesuffix(" []")
            not_in_table(f'{self.where} has no column "{example}"{only}', argument="figure", value=figure)
        row = self._row(name, found[0], words)
        value = row[found[0]]
        if isinstance(value, CellError):
            raised = NotInTable(f"{self.where}, {name}: {words} is the error {value.code}", argument="table")
            raised.cell = value.code
            raise raised
        if value is None or (isinstance(value, str) and not value.strip()):
            not_in_table(f"{self.where}, {name}: {words} is blank", argument="figure", value=figure)
        return row, found[0], found[1], words

    def _row(self, name: str, column: int, words: str) -> tuple[object, ...]:
        """Return the row of a material that says something in a column; where several do they must agree."""
        rows = self.rows[plain_name(name)]
        given = [(number, row) for number, row in rows if _shown(row[column])] or rows[:1]
        first, row = given[0]
        for number, other in given[1:]:
            if other[column] != row[column]:
                raise Impossible(
                    f"{self.where}, {name}: {words} is {_shown(row[column])} in row {first} and "
                    f"{_shown(other[column])} in row {number}: keep one, or give the materials two names",
                    argument="table",
                    value=other[column],
                )
        return row

    def _read_text(self, text: str, unit: str, dimension: str, heading: str, name: str) -> float:
        parts = units.split_quantity(text)
        if parts is None or parts[0] <= 0:
            raise WrongType(
                f'{self.where}, {name}: {heading} is "{text}", a number above 0 is wanted', argument="table"
            )
        number, own = parts
        return number * self._factor(own or unit, dimension, heading)

    def _factor(self, unit: str, dimension: str, heading: str) -> float:
        if unit:
            return units.factor_for(unit, dimension, f"{self.where}, {heading}", _METRIC[dimension] or "%")
        if dimension == "ratio":
            return 1.0
        cure = f"write it in the heading, {heading.capitalize()} [{_METRIC[dimension]}]"
        raise WrongType(f"{self.where}: {heading} has no unit; {cure}", argument="table")


def table_for(name: str, table: Rows | None) -> OwnTable | None:
    """Return the user's table that answers for a material: the one given, or the file beside; None for ours."""
    if table is not None:
        return own_table(table)
    found = None if holds(name) else table_beside()
    return found if found is not None and name in found else None


@lru_cache(maxsize=32)
def own_table(rows: Rows) -> OwnTable:
    """Return the table that a range of the workbook holds; the same range is read once."""
    return OwnTable(rows, "the given table")


_beside: Optional[Path] = None


@contextmanager
def beside(workbook: Path) -> Iterator[None]:
    """Take materials that our table does not hold from a materials.csv in the folder of a workbook."""
    global _beside
    before, _beside = _beside, workbook.resolve().parent / FILE_NAME
    try:
        yield
    finally:
        _beside = before
        _from_file.cache_clear()


def table_beside() -> OwnTable | None:
    """Return the table of the file beside the workbook that is being computed; None if there is none."""
    if _beside is None or not _beside.is_file():
        return None
    return _from_file(_beside)


@lru_cache(maxsize=4)
def _from_file(path: Path) -> OwnTable:
    return OwnTable(read_csv(path), path.name)


def read_csv(path: Path) -> Rows:
    """Return the cells of a CSV file with commas, semicolons or tabs between them; numbers as numbers."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = "is not UTF-8 text: save it as CSV UTF-8" if isinstance(error, ValueError) else "cannot be read"
        raise WrongType(f"{path.name} {why}", argument="table", value=str(path)) from error
    first = text.partition("\n")[0]
    separator = max(",;\t", key=first.count)
    return tuple(
        tuple(map(_number, row)) for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    )


def _number(text: str) -> object:
    parts = units.split_quantity(text)
    return parts[0] if parts is not None and not parts[1] else text.strip() or None


def _understood(heading: str) -> Iterator[tuple[tuple[str, str], str]]:
    """Yield ((figure, bound), unit) of a heading, for each way to read it; bound "" serves both ends."""
    for words, unit in _with_unit(heading):
        plain = re.split(r"[\s_,]+", words.strip().casefold())
        bounds = {_BOUNDS[word] for word in plain if word in _BOUNDS}
        figure = _FIGURES.get(" ".join(word for word in plain if word and word not in _BOUNDS))
        if figure is not None and len(bounds) < 2:
            yield (figure, "".join(bounds)), unit


def _with_unit(heading: str) -> Iterator[tuple[str, str]]:
    """Yield (words, unit): `[MPa]`, `(MPa)`, `, MPa` or `MPa` at the end, `_g_per_cm3` as we do, or no unit."""
    heading = heading.replace("\N{SUPERSCRIPT TWO}", "2").replace("\N{SUPERSCRIPT THREE}", "3")
    match = _UNIT.fullmatch(heading)
    if match is not None:
        unit = next(part for part in (match["square"], match["round"], match["comma"]) if part is not None)
        if match["comma"] is None or units.dimensions_of(unit):
            yield match["words"], unit.strip()
            return
    parts = re.split(r"[\s_]+", heading.strip())
    for count in (3, 1):
        unit = "_".join(parts[-count:]).replace("_per_", "/")
        if len(parts) > count and units.dimensions_of(unit):
            yield " ".join(parts[:-count]), unit
            return
    yield heading, ""


def _text(value: Any) -> str:
    """Return a cell as a name: a number such as the steel 1.4301 without needless digits."""
    if value is None or isinstance(value, CellError):
        return ""
    return format(value, ".15g") if isinstance(value, (int, float)) else str(value)


def _shown(value: object) -> str:
    return value.code if isinstance(value, CellError) else _text(value).strip()
