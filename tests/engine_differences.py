"""Where the first engine, behind all that mends or freezes it, still gets other values than the second one.

    python tests/engine_differences.py                    every function and operator, a table
    python tests/engine_differences.py --list FILE        also every difference as CSV
    python tests/engine_differences.py --office           also what LibreOffice says where the two differ
    python tests/engine_differences.py SUM ROUND +        only these

Not a test: it finds what a test should then hold. Arguments are made from a seed, so that a run can be repeated. A
difference is counted as plain where every argument was of the kind that the function wants, else as odd.
"""

from __future__ import annotations

import argparse
import csv
import importlib
import itertools
import multiprocessing
import random
import re
import resource
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from engine_signatures import OPERATORS, SIGNATURES
from openpyxl import Workbook
from openpyxl.utils import FORMULAE, get_column_letter

from pressfuncs.batch import engine_formulon, office
from pressfuncs.batch.book import Book, Run, Sheet
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import compute
from pressfuncs.batch.engine import Engine, Formualizer
from pressfuncs.batch.formulas import NotUnderstood, parse
from pressfuncs.errors import CellError

_NUMBERS: list[Any] = [
    0.0,
    1.0,
    -1.0,
    0.5,
    1.5,
    2.5,
    -2.5,
    -3.5,
    0.1 + 0.2,
    1 / 3,
    12.345,
    100.0,
    -1234.5678,
    1e-9,
]
_BIG: list[Any] = [1e16, 123456789012345.0, 123456789.123456, 0.29999999999999998, 1.005, 2.675, 1e300]
_TEXTS: list[Any] = ["abc", "ABC", "a", "Die 12", " two  words ", "ä-ß", "x*y", "t-2"]
_DATES: list[Any] = [1.0, 59.0, 60.0, 61.0, 36526.0, 45351.0, 45351.75, 45382.0, 45657.0, 43831.25]
_ODD: list[Any] = [
    *("12", " 12 ", "-1.5", "1e3", "1,000", "5%", "$5", "TRUE", "false", "", " ", "abc", "2024-02-29", "12:30"),
    *("1/31/2024", "31 Jan 2024", True, False, None, CellError("#N/A"), CellError("#DIV/0!"), -1.0, 1e16),
]
KINDS: dict[str, list[Any]] = {
    "n": [*_NUMBERS, *_NUMBERS, *_BIG],
    "p": [0.5, 1.0, 1.5, 2.0, 3.0, 7.25, 12.0, 100.0, 0.1 + 0.2],
    "i": [0.0, 1.0, 2.0, 3.0, 5.0, -1.0, 10.0],
    "k": [1.0, 2.0, 3.0, 4.0, 1.9],
    "K": [1.0, 2.0, 3.0, 4.0, 9.0],
    "s": [0.0, 0.05, 0.1, 0.25, 0.5, 0.9, 0.999, 1.0],
    "t": _TEXTS,
    "d": _DATES,
    "b": [True, False, 0.0, 1.0],
    "q": ["12", "-1.5", "1e3", "1,000.5", "5%", "2024-02-29", "12:30:45", "6:15 PM"],
    "c": [
        ">1",
        "<=2.5",
        "5%",
        ">12:00",
        "<>a",
        "a*",
        "?b?",
        "=abc",
        "ABC",
        "<>",
        "",
        "=",
        1.0,
        "1",
        ">=b",
        "~*",
        True,
        0.3,
    ],
    "f": ["0", "0.00", "#,##0", "#,##0.0", "0%", "0.0E+00", "yyyy-mm-dd", "dd/mm/yyyy", "hh:mm", "@", '0.0 "kN"'],
    "u": ["mm", "in", "ft", "m", "lbf", "N", "kg", "lbm", "C", "F", "J", "psi"],
    "z": ["3+4i", "1-i", "i", "2", "-1.5i", "0"],
    "h": ["101", "11", "7", "1F", "-5", "777"],
    "w": [1.0, 2.0, 3.0, 11.0, 17.0],
}
_LISTS: dict[str, list[Any]] = {
    "numbers": [3.0, 1.0, 2.5, -4.0, 2.5, 7.0],
    "others": [0.5, 2.0, 4.0, 8.0, 1.0, 3.0],
    "rising": [1.0, 2.0, 4.0, 4.0, 7.0, 9.0],
    "falling": [9.0, 7.0, 4.0, 3.0, 2.0, 1.0],
    "mixed": [1.0, "2", True, None, "abc", 2.5],
    "words": ["abc", "ABD", "b", "x*y", "", "abc"],
    "dates": [43831.0, 43900.0, 44100.0, 44200.0, 44400.0, 45000.0],
    "flows": [-100.0, 30.0, 40.0, 20.0, 25.0, 15.0],
    "shares": [0.1, 0.2, 0.3, 0.1, 0.2, 0.1],
    "near": [0.3, 0.1 + 0.2, 1 / 3, 0.333333333333333, 2.0, 2.0000000000000004],
    "errors": [1.0, CellError("#N/A"), 2.0, "x", CellError("#DIV/0!"), 3.0],
    "blanks": [None, 5.0, None, None, 2.0, None],
    "truths": [True, False, True, True, False, True],
}
_LENGTH = 6
_LONGEST = 60
# The ranges that an argument may want: r numbers, v a list to look through, o any list, D dates ...
RANGES: dict[str, list[str]] = {
    "R": ["numbers", "others", "rising", "near", "shares"],
    "V": ["numbers", "rising", "words", "mixed", "near"],
    "O": ["numbers", "others"],
    "A": ["rising"],
    "D": ["dates"],
    "X": ["flows"],
    "S": ["shares"],
    "M": ["mixed", "words", "numbers", "blanks", "truths", "errors"],
    "T": ["words"],
}
_PLACES = {
    "B": ["Data!$C$1:$D$6", "Data!$E$1:$F$6", "Data!$H$1:$J$6", "Data!$C$2:$E$3"],
    "G": ["Data!$R$1:$T$6"],
    "F": ['"load"', '"LOAD"', "2", "1", '"die"'],
    "E": ["Data!$V$1:$V$2", "Data!$W$1:$W$3", "Data!$V$1:$W$2"],
}
_DATABASE = {
    18: ["die", "a", "b", "A", "ab", "c"],
    19: ["load", 1.0, 2.0, 3.0, None, "x"],
    20: ["date", 43831.0, 43900.0, 44100.0, 44200.0, 44400.0],
    22: ["die", "a"],
    23: ["load", ">1", 1.0],
}
_ODD_RANGES = ["mixed", "words", "errors", "blanks", "truths", "near"]


@dataclass
class Case:
    """A formula of one function, and whether its arguments are of the kinds that it wants."""

    formula: str
    plain: bool


class Maker:
    """Makes formulas, and the sheet of values that they refer to."""

    def __init__(self) -> None:
        self.cells: dict[tuple[str, Any], str] = {}
        self.data = Sheet("Data", "")
        self.lists: dict[str, str] = {}
        for column, (name, values) in enumerate(_LISTS.items(), 3):
            self.data.values[column] = {row: v for row, v in enumerate(values, 1) if v is not None}
            letter = get_column_letter(column)
            self.lists[name] = f"Data!${letter}$1:${letter}${_LENGTH}"
        for column, values in _DATABASE.items():
            self.data.values[column] = {row: v for row, v in enumerate(values, 1) if v is not None}
        self.blank = "Data!$A$1"
        for value in [*itertools.chain(*KINDS.values()), *_ODD]:
            self.cell(value)

    def cell(self, value: Any) -> str:
        """Return a reference to a cell that holds the value."""
        if value is None:
            return self.blank
        key = (type(value).__name__, value.code if isinstance(value, CellError) else value)
        if key not in self.cells:
            row = len(self.cells) + 2
            self.data.values.setdefault(1, {})[row] = value
            self.cells[key] = f"Data!$A${row}"
        return self.cells[key]

    def given(self, value: Any, chance: random.Random) -> str:
        """Return an argument: the value itself, or a cell that holds it."""
        if value is None or chance.random() < 0.6:
            return self.cell(value)
        if isinstance(value, CellError):
            return value.code
        if isinstance(value, str):
            return '"' + value.replace('"', '""') + '"'
        return str(value).upper() if isinstance(value, bool) else format(value, ".15G").replace("+", "")

    def wanted(self, kind: str, chance: random.Random) -> str:
        """Return an argument of a kind."""
        if kind in RANGES:
            return self.lists[chance.choice(RANGES[kind])]
        if kind in _PLACES:
            return chance.choice(_PLACES[kind])
        if kind == "=":
            return chance.choice(("1=1", "2>3", f"{self.cell(1.5)}>1", f'{self.cell("abc")}="ABC"'))
        return self.given(chance.choice(KINDS[kind]), chance)

    def odd(self, chance: random.Random) -> str:
        """Return an argument that no function asks for."""
        if chance.random() < 0.2:
            return self.lists[chance.choice(_ODD_RANGES)]
        return self.given(chance.choice(_ODD), chance)

    def arguments(self, signature: str, chance: random.Random) -> tuple[list[str], bool]:
        """Return arguments for a signature such as "nn?t", and whether all are of the kinds it names."""
        needed, _, optional = signature.partition("?")
        more = optional.endswith("+")
        optional = optional.rstrip("+")
        kinds = needed + optional[: chance.randint(0, len(optional))]
        if more:
            kinds += (optional or needed)[-1] * chance.randint(0, 3)
        given = [self.wanted(kind, chance) for kind in kinds]
        plain = True
        if given and (dice := chance.random()) > 0.55:
            plain = False
            places = range(len(given)) if dice > 0.92 else [chance.randrange(len(given))]
            for place in places:
                given[place] = self.odd(chance)
            if dice > 0.97:
                given[-1] = ""
        return given, plain

    def cases(self, name: str, count: int, seed: str) -> list[Case]:
        """Return formulas of one function, each once."""
        chance = random.Random(f"{seed}:{name}")
        made: dict[str, Case] = {}
        for _ in range(count * 3):
            if len(made) == count:
                break
            given, plain = self.arguments(OPERATORS.get(name) or SIGNATURES[name], chance)
            formula = self.written(name, given)
            made.setdefault(formula, Case(formula, plain))
        return list(made.values())

    @staticmethod
    def written(name: str, given: list[str]) -> str:
        """Return the formula."""
        if name not in OPERATORS:
            return f"{name}({','.join(given)})"
        if len(given) == 2:
            return f"{given[0] or 0}{name}{given[1] or 0}"
        return f"{given[0] or 0}%" if name == "%" else f"{name[-1]}{given[0] or 0}"


def values_of(cases: list[Case], data: Sheet, new_engine: Callable[[], Engine]) -> list[Any]:
    """Return what an engine gets for each case, None where it is frozen."""
    sheet = Sheet("F", "")
    for row, case in enumerate(cases, 1):
        try:
            sheet.runs.append(Run("F", 30, row, row, parse(case.formula, row, 30)))
        except NotUnderstood:
            continue
    found = compute(Book({"Data": data, "F": sheet}, {}, {}, False), new_engine, everything=True)
    return [found.values.get(("F", row, 30)) for row in range(1, len(cases) + 1)]


Answers = list[tuple[Case, Any, Any]]


def asked(name: str, count: int, seed: str) -> Answers:
    """Return each case of a function with what the two engines get."""
    maker = Maker()
    cases = maker.cases(name, count, seed)
    first = values_of(cases, maker.data, Formualizer)
    second = values_of(cases, maker.data, engine_formulon.Formulon)
    return list(zip(cases, first, second))


def _child(name: str, count: int, seed: str, pipe: Any) -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (120, 120))
    try:
        pipe.send(asked(name, count, seed))
    except Exception as error:  # one function that fails must not end the run
        pipe.send(f"{type(error).__name__}: {error}")


def asked_apart(name: str, count: int, seed: str) -> Answers | str:
    """Ask in a process of its own; a sentence where that fails."""
    context = multiprocessing.get_context("fork")
    here, there = context.Pipe()
    process = context.Process(target=_child, args=(name, count, seed, there))
    process.start()
    there.close()
    try:
        return here.recv() if here.poll(180) else "no answer"
    except EOFError:
        return "the process ended"
    finally:
        process.kill()
        process.join()


def differing(answers: Answers) -> Answers:
    """Return the cases that both engines computed, with different values."""
    return [(case, a, b) for case, a, b in answers if a is not None and b is not None and not equal(a, b)]


def by_office(formulas: list[str]) -> list[Any]:
    """Return what LibreOffice gets for some formulas."""
    book = Workbook()
    sheet = book.active
    sheet.title = "F"
    for row, formula in enumerate(formulas, 1):
        sheet.cell(row, 1).value = "=" + re.sub(r"[A-Z][A-Z0-9.]*(?=\()", _prefixed, formula)
    data = book.create_sheet("Data")
    for column, rows in Maker().data.values.items():
        for row, value in rows.items():
            cell = data.cell(row, column)
            cell.value = value.code if isinstance(value, CellError) else value
            if isinstance(value, str):
                cell.data_type = "s"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "book.xlsx")
        book.save(path)
        done = office.computed(path, Path(folder, "office")).sheets["F"]
    return [done.value(row, 1) for row in range(1, len(formulas) + 1)]


def _prefixed(match: re.Match[str]) -> str:
    return match[0] if match[0] in FORMULAE else "_xlfn." + match[0]


def shown(value: Any) -> str:
    """Return a value as a reader should see it."""
    return value.code if isinstance(value, CellError) else repr(value)[:_LONGEST]


def with_values(formula: str, maker: Maker) -> str:
    """Return a formula with values in braces in place of cells, and names in place of ranges."""
    names = {f"{address}": value for (_, value), address in maker.cells.items()} | {maker.blank: ""}
    lists = {address: name for name, address in maker.lists.items()}
    return re.sub(
        r"Data!\$[A-Z]+\$\d+(:\$[A-Z]+\$\d+)?",
        lambda m: lists.get(m[0], m[0]) if m[1] else f"{{{names[m[0]]}}}",
        formula,
    )


def main(arguments: list[str]) -> None:
    """Compare, and print what differs."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("names", nargs="*", help="functions and operators; all if none is named")
    options.add_argument("--count", type=int, default=200, help="formulas of each (default 200)")
    options.add_argument("--seed", default="1", help="another seed makes other formulas")
    options.add_argument("--list", type=Path, help="write every difference to a CSV file")
    options.add_argument("--office", action="store_true", help="ask LibreOffice where the two differ")
    wanted = options.parse_args(arguments)
    missing = [name for name in engine_names() if name not in SIGNATURES]
    if not wanted.names and missing:
        print("not tried, since they take no plain values:", " ".join(missing))
    names = wanted.names or [*OPERATORS, *(name for name in SIGNATURES if Formualizer().knows(name))]
    engine_formulon.Formulon()  # its start takes seconds: pay them once
    found: list[tuple[str, Case, Any, Any]] = []
    print(f"{'function':16} {'tried':>6} {'first':>6} {'both':>6} {'plain':>6} {'odd':>6}   (computed; differing)")
    for name in names:
        answers = asked_apart(name, wanted.count, wanted.seed)
        if isinstance(answers, str):
            print(f"{name:16} {answers}")
            continue
        different = differing(answers)
        first = sum(a is not None for _, a, _ in answers)
        both = sum(a is not None and b is not None for _, a, b in answers)
        plain = sum(case.plain for case, _, _ in different)
        counts = (len(answers), first, both, plain, len(different) - plain)
        print(f"{name:16}" + "".join(f" {count:6}" for count in counts), flush=True)
        found += [(name, *one) for one in different]
    third = (
        by_office([case.formula for _, case, _, _ in found]) if wanted.office and found else [None] * len(found)
    )
    if wanted.list:
        maker = Maker()
        with wanted.list.open("w", newline="", encoding="utf-8") as file:
            rows = csv.writer(file)
            rows.writerow(("function", "plain", "formula", "with values", "first", "second", "LibreOffice"))
            for (name, case, a, b), c in zip(found, third):
                readable = with_values(case.formula, maker)
                rows.writerow((name, case.plain, case.formula, readable, shown(a), shown(b), shown(c)))
    print(f"{len(found)} differences, {sum(case.plain for _, case, _, _ in found)} of them plain")


def engine_names() -> list[str]:
    """Return the functions that both engines know."""
    book = importlib.import_module("formulon").Workbook
    names = [book.function_name_at(place) for place in range(book.function_count())]
    return [name for name in names if Formualizer().knows(name)]


if __name__ == "__main__":
    main(sys.argv[1:])
