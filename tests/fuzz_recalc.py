"""Random damage to everything that reads what others wrote: workbooks, formulas, units, headings of registers.

    python tests/fuzz_recalc.py [SECONDS] [SEED]

Seeds are in tests/corpus (formulas, quantities, headings, one a line) and workbooks made here. Whatever is read
must end in a result or in a refusal of our own, within seconds; the first other end stops the run, shows the input
and keeps it in the folder for temporary files. The fast ways must end as the careful ones do: rows read as blocks,
cell by cell and by an XML parser; columns computed at once, and call by call; the whole book written with the same
bytes. The tests run a few hundred rounds of it with a fixed seed.
"""

from __future__ import annotations

import io
import random
import re
import sys
import tempfile
import time
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.parsers import expat

sys.path.insert(0, str(Path(__file__).parent))

from books import F, Made, Styled, make
from parts import MAIN

from pressfuncs import edge, units
from pressfuncs.batch.archive import Limits
from pressfuncs.batch.assignment.fields import read_heading
from pressfuncs.batch.book import Sheet
from pressfuncs.batch.formulas import NotUnderstood, parse
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.sheet_reading import SheetReader
from pressfuncs.errors import CellError, PressError
from pressfuncs.registry import FUNCTIONS

CORPUS = Path(__file__).parent / "corpus"
SLOW = 20.0
LIMITS = Limits(total=64 << 20, part=64 << 20)
READ_ERRORS = (KeyError, IndexError, ValueError, OverflowError)
"""What `read_book` makes a refusal of."""
_PIECES = ["(", ")", '"', "'", "!", ":", "$", ",", ";", "&", "<", ">", "#REF!", "[1]", "{1,2}", "A1", "1e308", "-",
           "\0", "\N{DEGREE SIGN}", "\U0001f600", " ", "%", "@", "[", "]", "#", "^", "PF_", "_xlfn.", "9" * 30,
           "A1048577", "XFE1", "\u2009", "\u00b7", "/", "*", "tons", "kN", "per", "=", "\n", "\t"]  # fmt: skip
_XML = [b"<", b">", b"&", b'"', b"</c>", b"<f>", b"</f>", b"<v/>", b"<c>", b' r="A1"', b' t="s"', b' t="shared"',
        b' si="0"', b' ref="A1:XFD1048576"', b"1e999", b"-1", b"99999999999", b"A1", b"\xff", b"\0", b' t="array"',
        b"<!--", b"-->", b"<row>", b"</row>", b"<is><t>", b"NaN", b' s="999999"', b' cm="1"', b"TRUE"]  # fmt: skip


_UNSTEADY = re.compile(rb"RAND|NOW\(|<v>[^<]*(?:INF|NaN|nan|inf|e999)", re.IGNORECASE)
"""What gives another value each time, and numbers that are none."""
_ADDRESS = re.compile(rb'\br="[A-Z]+[0-9]+"')
_CELL_CHANGES: list[Callable[[bytes], bytes]] = [
    lambda cell: cell.replace(b"<v>", b"<v> "),
    lambda cell: cell.replace(b"<c r=", b"<c  r="),
    lambda cell: re.sub(rb' r="([A-Z]+[0-9]+)"', rb" r='\1'", cell),
    lambda cell: re.sub(rb' r="([A-Z]+[0-9]+)"', rb"", cell),
    lambda cell: re.sub(rb' r="[A-Z]+', rb' r="AA', cell),
    lambda cell: re.sub(rb"<v>[^<]*</v>", b"<v/>", cell),
    lambda cell: re.sub(rb"<v>[^<]*</v>", b"", cell),
    lambda cell: re.sub(rb"<v>[^<]*</v>", b"<v>1e5</v>", cell),
    lambda cell: re.sub(rb"<v>[^<]*</v>", b"<v>1_0</v>", cell),
    lambda cell: re.sub(rb"<v>[^<]*</v>", b"<v>INF</v>", cell),
    lambda cell: re.sub(rb"<v>[^<]*</v>", b"<v>-0</v>", cell),
    lambda cell: cell.replace(b">", b' t="b">', 1),
    lambda cell: cell.replace(b">", b' s="1">', 1),
    lambda cell: cell.replace(b">", b' t="e">', 1),
    lambda cell: cell.replace(b">", b' t="str">', 1),
    lambda cell: cell.replace(b">", b' t="n" cm="1">', 1),
    lambda cell: cell.replace(b"<f>", b"<f>+"),
    lambda cell: cell.replace(b"<f>", b"<f> "),
    lambda cell: cell.replace(b"<f>", b'<f ca="1">'),
    lambda cell: cell.replace(b"<f>", b'<f t="shared" si="7" ref="A1:Z99">'),
    lambda cell: cell.replace(b"<f>", b'<f>"5"&amp;'),
    lambda cell: cell.replace(b"</f>", b"&amp;&quot;A5&quot;</f>"),
    lambda cell: cell.replace(b"</f>", b"*1E5</f>"),
    lambda cell: cell.replace(b"</f>", b"*A1048576</f>"),
    lambda cell: cell.replace(b"</f>", b"^2%</f>"),
    lambda cell: re.sub(rb"([A-I])([0-9])", rb"$\1$\2", cell[3:]).join([cell[:3], b""]),
    lambda cell: cell + cell,
    lambda cell: b"</row><row>" + cell,
    lambda cell: b'</row><row r="7" hidden="1">' + cell,
]


def lines(name: str) -> list[str]:
    """Return the seeds of a corpus file."""
    return (CORPUS / f"{name}.txt").read_text(encoding="utf-8").splitlines()


def damaged_text(rng: random.Random, text: str, others: list[str]) -> str:
    """Cut, repeat, swap and insert."""
    for _ in range(rng.randint(1, 4)):
        at, end = sorted(rng.randint(0, len(text)) for _ in range(2))
        text = rng.choice(
            [
                text[:at] + text[end:],
                text[:at] + rng.choice(_PIECES) + text[at:],
                text[:at] + text[at:end] * rng.randint(2, 5) + text[end:],
                text[:at] + rng.choice(others)[: rng.randint(0, 30)] + text[end:],
            ]
        )[:3000]
    return text


def damaged_bytes(rng: random.Random, data: bytes) -> bytes:
    """Flip, cut, repeat and insert bytes."""
    for _ in range(rng.randint(1, 6)):
        at = rng.randint(0, len(data))
        end = min(len(data), at + rng.randint(0, 60))
        data = rng.choice(
            [
                data[:at] + bytes([rng.randint(0, 255)]) + data[at + 1 :],
                data[:at] + data[end:],
                data[:at] + rng.choice(_XML) + data[end:],
                data[:end] + data[at:end] * rng.randint(1, 3) + data[end:],
            ]
        )
    return data


def damaged_sheet(rng: random.Random, part: bytes) -> bytes:
    """Change cells as other programs might write them, or exchange cells and rows; it stays XML."""
    cells = list(re.finditer(rb"<c [^<>]*?(?:/>|>.*?</c>)", part, re.DOTALL))
    for _ in range(rng.randint(1, 4) if cells else 0):
        cell, other = rng.choice(cells)[0], rng.choice(cells)[0]
        changed = rng.choice(_CELL_CHANGES)(cell)
        if rng.random() < 0.2:  # the content of another cell
            changed = b"<c " + b"".join(_ADDRESS.findall(cell)) + _ADDRESS.sub(b"", other)[3:]
        count = rng.choice([1, 1, 1000])
        place = re.sub(rb' r="[A-Z]+[0-9]+"', b"", cell)
        part = part.replace(cell, changed, 1) if count == 1 else part.replace(place[2:], changed[2:], 40)
    return part


def seed_books(folder: Path) -> list[bytes]:
    """Make the workbooks to damage: tables, names, shared and array formulas, dates, errors."""
    shared = F("PF_SHEARING_FORCE(A2,2,300)", 1.0, 't="shared" ref="B2:B5" si="0"')
    cells: dict[str, Any] = {"A1": "L", "B1": "F"} | {f"A{row}": 100.0 + row for row in range(2, 6)}
    cells |= {"B2": shared} | {f"B{row}": F("", 1.0, 't="shared" si="0"') for row in range(3, 6)}
    cells |= {
        "C2": F("SUM(tDies[F])*rate", 1.0),
        "C3": F("A2:A5*2", 204.0, 't="array" ref="C3:C6"'),
        "C4": 206.0,
        "D1": F('IF(B2>1,"x"&TEXT(B2,"0.0"),1/0)', "x"),
        "D2": F("SORT(A2:A5)", 102.0, 't="array" ref="D2:D5"', 'cm="1"'),
        "E1": F('INDIRECT("A"&2)+OFFSET(A1,1,0)', 1.0),
        "E2": F("VLOOKUP(A3,A2:B5,2,FALSE)", 1.0),
    }
    made = Made(names=[("rate", "Dies!$A$2/100")], tables={"tDies": ("Dies", "A1:B5", ["L", "F"])})
    first = make(folder / "one.xlsx", {"Dies": cells, "It's": {"A1": F("Dies!B2+1", 1.0)}}, made)
    second = make(folder / "two.xlsx", {"Dies": {"A1": 5.0, "B1": F("PF_SHEARING_FORCE(A1,1,1000)", 5.0)}})
    third = make(folder / "three.xlsx", {"Dies": register(), "Presses": {"A2": 0.8, "B2": "tonf_us"}})
    return [first.read_bytes(), second.read_bytes(), third.read_bytes()]


def register() -> dict[str, Any]:
    """Return the cells of a register that is filled down, with a few rows of another kind."""
    inputs: list[Any] = [
        3.2,
        0.0,
        "18.5 in",
        "2,5",
        None,
        True,
        1e300,
        "45 ksi",
        CellError("#N/A"),
        Styled(45000.0),
    ]
    cells: dict[str, Any] = {}
    for row in range(2, 32):
        cells |= {f"A{row}": 100.0 + row, f"B{row}": 2.0 if row % 3 else inputs[row // 3 - 1], f"C{row}": 300.0}
        cells[f"D{row}"] = F(f"PF_SHEARING_FORCE(A{row},B{row},C{row})", 1.0)
        cells[f"E{row}"] = F(f"D{row}*1.25+$A$2/Presses!A$2", 1.0 if row % 2 else CellError("#VALUE!"))
        cells[f"F{row}"] = F(f'IF(E{row}>70,ROUND(E{row}/3,1),"small")', "small")
        cells[f"G{row}"] = F(f"PF_REQUIRED_CAPACITY(SUM(D$2:D{row}),Presses!$A$2)")
        cells[f"H{row}"] = F(f"A{row}*2+C{row}", 2 * (100.0 + row) + 300)
        cells[f"I{row}"] = F(f"MAX(A{row}:C{row})-H{row}", 0.0)
    return cells | {
        "D9": F("SUM(C9:A2)", 1.0),
        "E17": 5.0,
        "F20": F('PF_EXPLAIN("SHEARING_FORCE",A20,B20,C20)', "x"),
    }


class Fuzz:
    """One run with one seed."""

    def __init__(self, seed: int, folder: Path) -> None:
        """Read the seeds."""
        self.rng = random.Random(seed)
        self.folder = folder
        self.books = seed_books(folder)
        self.sheets = [sheet_of(book) for book in self.books]
        self.texts = {name: lines(name) for name in ("formulas", "quantities", "headings")}
        self.counts: Counter[str] = Counter()
        self.slowest = 0.0

    def round(self) -> None:
        """Try one input of each kind."""
        self._try_one("formula", self._formula, self._damaged("formulas"))
        self._try_one("quantity", self._quantity, self._damaged("quantities"))
        self._try_one("heading", self._heading, self._damaged("headings"))
        self._try_one("sheet", self._sheet, self._damaged_sheet())
        if self.rng.random() < 0.25:
            self._try_one("workbook", self._workbook, self._damaged_book())

    def _damaged(self, kind: str) -> str:
        return damaged_text(self.rng, self.rng.choice(self.texts[kind]), self.texts[kind])

    def _damaged_sheet(self) -> bytes:
        part = self.rng.choice(self.sheets)
        for _ in range(self.rng.choice([0, 1, 1, 2])):
            part = damaged_sheet(self.rng, part)
        return damaged_bytes(self.rng, part) if self.rng.random() < 0.4 else part

    def _damaged_book(self) -> bytes:
        data = self.rng.choice(self.books)
        if self.rng.random() < 0.2:
            return damaged_bytes(self.rng, data)
        out = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
            chosen = self.rng.choice([name for name in old.namelist() if "sheet" in name or "workbook" in name])
            for name in old.namelist():
                part = old.read(name)
                if name == chosen:
                    part = (damaged_sheet if self.rng.random() < 0.5 else damaged_bytes)(self.rng, part)
                new.writestr(name, part)
        return out.getvalue()

    def _try_one(self, kind: str, work: Callable[[Any], str], given: Any) -> None:
        start = time.perf_counter()
        try:
            end = work(given)
        except BaseException:
            kept = Path(tempfile.gettempdir()) / f"fuzz_{kind}"
            kept.write_bytes(given if isinstance(given, bytes) else given.encode("utf-8", "surrogatepass"))
            print(f"{kind}: {given[:2000]!r}, kept in {kept}", file=sys.stderr)
            raise
        taken = time.perf_counter() - start
        self.slowest = max(self.slowest, taken)
        if taken > SLOW:
            raise AssertionError(f"{kind} took {taken:.1f} s: {given!r}")
        self.counts[f"{kind} {end}"] += 1

    def _formula(self, text: str) -> str:
        try:
            again = parse(text, 5, 3).bind(3)(5)
        except NotUnderstood:
            return "refused"
        assert isinstance(again, str)
        return "read"

    def _quantity(self, text: str) -> str:
        units.split_quantity(text)
        found: list[edge.Problem] = []
        value = edge.evaluate(FUNCTIONS["shearing_force"], [text, 2.0, "300 MPa"], found)
        assert isinstance(value, float) or found or text.startswith("#")
        return "refused" if found else "read"

    def _heading(self, text: str) -> str:
        ends = []
        for register in ("die", "press"):
            try:
                ends.append(read_heading(text, register, "metric", {}) is not None)
            except PressError:
                ends.append(False)
        return "read" if any(ends) else "refused"

    def _workbook(self, data: bytes) -> str:
        path, out = self.folder / "damaged.xlsx", self.folder / "out.xlsx"
        path.write_bytes(data)
        out.unlink(missing_ok=True)
        asking = self.rng.random() < 0.1
        fast = self._recalculated(path, out, Options(second_engine=asking, limits=LIMITS))
        careful = self._recalculated(
            path, out, Options(second_engine=asking, column_by_column=False, limits=LIMITS)
        )
        if steady(data):
            assert fast == careful
        assert path.read_bytes() == data
        return "read" if fast[1] else "refused"

    def _recalculated(self, path: Path, out: Path, options: Options) -> tuple[Any, list[bytes]]:
        """Return what is said of a book, and the parts written; no parts if it is refused."""
        out.unlink(missing_ok=True)
        try:
            found = recalculate(path, out, options)
        except Refused as refused:
            sentence = str(refused)
            found = None
        if found is None:
            assert "\n" not in sentence
            assert not out.exists()
            return sentence, []
        with zipfile.ZipFile(out) as book:
            assert book.testzip() is None
            parts = [book.read(name) for name in book.namelist()]
        # Of a circle, the engine names those that hang on it as well: one way calls frozen what the other way only
        # does not refresh.
        kept = sorted({(frozen.sheet, frozen.cell) for frozen in found.frozen} | {*found.not_refreshed})
        told = (found.calls, found.failing, kept, {*found.marked}, found.disagreements, found.resting)
        return (*map(repr, told), found.compared, found.left_alone, found.volatile, found.settled), parts

    def _sheet(self, part: bytes) -> str:
        """Read the cells of a sheet in three ways: as blocks, one by one, and with an XML parser."""
        ways = [part, part, part.replace(b"<sheetData>", b"<!-- --><sheetData>", 1)]
        ends = [cells_of(way, number == 0) for number, way in enumerate(ways)]
        if isinstance(ends[2], dict) and known_types(part):  # an XML parser refuses more, and minds namespaces
            assert ends[0] == ends[1] == ends[2]
        return "read" if isinstance(ends[0], dict) else "refused"


def sheet_of(book: bytes) -> bytes:
    """Return the first sheet part of a workbook."""
    with zipfile.ZipFile(io.BytesIO(book)) as parts:
        return parts.read("xl/worksheets/sheet1.xml")


def known_types(part: bytes) -> bool:
    """Whether a sheet is one by its namespace, and its cells hold what their types say."""
    types = re.findall(rb'<c [^<>]*?\bt="([^"]*)"', part)
    texts = re.findall(rb"<c ([^<>]*)>(?:<f.*?(?:/>|</f>))?<is>", part, re.DOTALL)
    return (
        f'"{MAIN}"'.encode() in part
        and set(types) <= {b"n", b"s", b"b", b"e", b"d", b"str", b"inlineStr"}
        and all(b't="inlineStr"' in text for text in texts)
    )


def steady(book: bytes) -> bool:
    """Whether all ways must come to the same: it is made of XML, and nothing in it is left to chance."""
    try:
        with zipfile.ZipFile(io.BytesIO(book)) as parts:
            for name in parts.namelist():
                part = parts.read(name)
                expat.ParserCreate().Parse(part, True)
                if _UNSTEADY.search(part):
                    return False
    except (zipfile.BadZipFile, zlib.error, expat.ExpatError, ValueError, EOFError, RuntimeError):
        return False  # RuntimeError: marked as encrypted, or packed by another method
    return True


def cells_of(part: bytes, by_blocks: bool) -> dict[str, Any] | str:
    """Return all that is read of a sheet, or why it is not."""
    sheet = Sheet("Dies", "xl/worksheets/sheet1.xml")
    try:
        SheetReader(sheet, ["steel", ""], frozenset((1,)), False).read(part, by_blocks)
    except Refused as refused:
        return str(refused)
    except READ_ERRORS as error:
        return type(error).__name__
    runs = {
        cell: (run.template, run.area, run.area and run.dynamic, run.frozen)
        for run in sheet.runs
        if run.last - run.first < 100
        for cell in run.cells()
    }
    return {
        "values": {c: repr(sorted(rows.items())) for c, rows in sheet.values.items() if rows},
        "dates": sheet.dates,
        "runs": runs,
    }


def run(seconds: float, rounds: int, seed: int) -> Fuzz:
    """Fuzz until the time or the rounds are over."""
    with tempfile.TemporaryDirectory() as folder:
        fuzz = Fuzz(seed, Path(folder))
        end = time.monotonic() + seconds
        done = 0
        while done < rounds and time.monotonic() < end:
            fuzz.round()
            done += 1
    return fuzz


if __name__ == "__main__":
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    fuzzed = run(float(sys.argv[1]) if len(sys.argv) > 1 else 600.0, 1 << 60, first)
    print(dict(fuzzed.counts), f"slowest {fuzzed.slowest:.2f} s")
