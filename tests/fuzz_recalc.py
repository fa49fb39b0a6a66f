"""Random damage to everything that reads what others wrote: workbooks, formulas, units, headings of registers.

    python tests/fuzz_recalc.py [SECONDS] [SEED]

Seeds are in tests/corpus (formulas, quantities, headings, one a line) and workbooks made here. Whatever is read
must end in a result or in a refusal of our own, within seconds; the first other end stops the run and shows the
input. The tests run a few hundred rounds of it with a fixed seed.
"""

from __future__ import annotations

import io
import random
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from books import F, Made, make

from pressfuncs import edge, units
from pressfuncs.batch.archive import Limits
from pressfuncs.batch.assignment.fields import read_heading
from pressfuncs.batch.formulas import NotUnderstood, parse
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.refusals import Refused
from pressfuncs.errors import PressError
from pressfuncs.registry import FUNCTIONS

CORPUS = Path(__file__).parent / "corpus"
SLOW = 10.0
_PIECES = ["(", ")", '"', "'", "!", ":", "$", ",", ";", "&", "<", ">", "#REF!", "[1]", "{1,2}", "A1", "1e308", "-",
           "\0", "\N{DEGREE SIGN}", "\U0001f600", " ", "%", "@", "[", "]", "#", "^", "PF_", "_xlfn.", "9" * 30,
           "A1048577", "XFE1", "\u2009", "\u00b7", "/", "*", "tons", "kN", "per", "=", "\n", "\t"]  # fmt: skip
_XML = [b"<", b">", b"&", b'"', b"</c>", b"<f>", b"</f>", b"<v/>", b"<c>", b' r="A1"', b' t="s"', b' t="shared"',
        b' si="0"', b' ref="A1:XFD1048576"', b"1e999", b"-1", b"99999999999", b"A1", b"\xff", b"\0", b' t="array"',
        b"<!--", b"-->", b"<row>", b"</row>", b"<is><t>", b"NaN", b' s="999999"', b' cm="1"', b"TRUE"]  # fmt: skip


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
    return [first.read_bytes(), second.read_bytes()]


class Fuzz:
    """One run with one seed."""

    def __init__(self, seed: int, folder: Path) -> None:
        """Read the seeds."""
        self.rng = random.Random(seed)
        self.folder = folder
        self.books = seed_books(folder)
        self.texts = {name: lines(name) for name in ("formulas", "quantities", "headings")}
        self.counts: Counter[str] = Counter()
        self.slowest = 0.0

    def round(self) -> None:
        """Try one input of each kind."""
        self._try_one("formula", self._formula, self._damaged("formulas"))
        self._try_one("quantity", self._quantity, self._damaged("quantities"))
        self._try_one("heading", self._heading, self._damaged("headings"))
        if self.rng.random() < 0.25:
            self._try_one("workbook", self._workbook, self._damaged_book())

    def _damaged(self, kind: str) -> str:
        return damaged_text(self.rng, self.rng.choice(self.texts[kind]), self.texts[kind])

    def _damaged_book(self) -> bytes:
        data = self.rng.choice(self.books)
        if self.rng.random() < 0.2:
            return damaged_bytes(self.rng, data)
        out = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
            chosen = self.rng.choice([name for name in old.namelist() if "sheet" in name or "workbook" in name])
            for name in old.namelist():
                part = old.read(name)
                new.writestr(name, damaged_bytes(self.rng, part) if name == chosen else part)
        return out.getvalue()

    def _try_one(self, kind: str, work: Callable[[Any], str], given: Any) -> None:
        start = time.perf_counter()
        try:
            end = work(given)
        except BaseException:
            print(f"{kind}: {given!r}", file=sys.stderr)
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
        limits = Limits(total=64 << 20, part=64 << 20)
        try:
            recalculate(path, out, Options(second_engine=False, limits=limits))
        except Refused as refused:
            sentence = str(refused)
        else:
            with zipfile.ZipFile(out) as book:
                assert book.testzip() is None
            return "read"
        assert "\n" not in sentence
        assert path.read_bytes() == data
        assert not out.exists()
        return "refused"


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
