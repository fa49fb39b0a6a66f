"""How recalculation grows: one large register, many small ones, and from 10 000 to 1 000 000 formulas.

    python tests/benchmarks/recalc_scale.py [--rows 100000] [--books 1000] [--office ROWS]

The register has 8 columns of inputs, 12 of PF functions and 6 of ordinary formulas; each run is a whole process.
Beside it: the same file only unzipped, its cells found by one pattern, and zipped again, which is the floor; one
of fewer rows evaluated cell by cell; and, with --office ROWS, LibreOffice without windows with our own extension
on a register of so many rows. Processor seconds are shown too, since the clock tells little on a machine that does
other work. Nothing passes or fails.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import zipfile
from pathlib import Path
from xml.sax.saxutils import escape

sys.path.insert(0, str(Path(__file__).parent.parent))

from calc_office import running_office
from parts import workbook_parts, write_zip
from processes import measured

OURS = [
    "PF_SHEARING_FORCE(B{r},C{r},D{r})",
    "PF_STRIPPING_FORCE(I{r},0.1)",
    "PF_REQUIRED_CAPACITY(I{r}+J{r},0.8)",
    "PF_UTILISATION(K{r},E{r})",
    "PF_CUTTING_ENERGY(I{r},C{r},0.4)",
    "PF_CLEARANCE_PER_SIDE(C{r},0.06)",
    "PF_HYDRAULIC_CAPACITY(F{r},G{r})",
    "PF_SHEARING_FORCE(B{r}*1.05,C{r},D{r})",
    "PF_STRIPPING_FORCE(P{r},0.15)",
    "PF_REQUIRED_CAPACITY(P{r}+Q{r},0.8)",
    "PF_UTILISATION(R{r},O{r})",
    "PF_STROKE_RATE_THROUGHPUT(H{r},2,0.85,0)",
]
"""Columns I to T."""
ORDINARY = [
    "B{r}*C{r}",
    'IF(L{r}>0.8,"look again","ok")',
    "ROUND(I{r}+J{r},1)",
    "MAX(L{r},S{r})",
    "T{r}*8/1000",
    "IF(X{r}>0,U{r}/X{r},0)",
]
"""Columns U to Z."""
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def register(path: Path, rows: int, ours: int = 12, ordinary: int = 6) -> Path:
    """Write a register that stores no results yet."""
    cells = []
    for r in range(1, rows + 1):
        numbers = [
            100 + r % 977,
            2 + r % 7 / 10,
            310 + r % 50,
            800 + r % 9 * 100,
            200 + r % 3 * 50,
            160,
            30 + r % 40,
        ]
        row = [f'<c r="A{r}" t="inlineStr"><is><t>D{r}</t></is></c>']
        row += [f'<c r="{LETTERS[i]}{r}"><v>{number}</v></c>' for i, number in enumerate(numbers, 1)]
        formulas = [*enumerate(OURS[:ours], 8), *enumerate(ORDINARY[:ordinary], 20)]
        row += [f'<c r="{LETTERS[i]}{r}"><f>{escape(text.format(r=r))}</f></c>' for i, text in formulas]
        cells.append(f'<row r="{r}">{"".join(row)}</row>')
    return write_zip(path, workbook_parts("".join(cells)))


def rezip(path: Path, out: Path) -> None:
    """Unzip, look at every cell, zip again: what nobody can do without."""
    cell = re.compile(rb'<c r="([A-Z]+[0-9]+)"[^>]*>(?:<f>([^<]*)</f>)?(?:<v>([^<]*)</v>)?')
    with zipfile.ZipFile(path) as book, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as copy:
        for name in book.namelist():
            part = book.read(name)
            if "worksheets/" in name:
                sum(1 for _ in cell.finditer(part))
            copy.writestr(name, part)


def pressfuncs(*words: object) -> None:
    """Run the program as a process of its own."""
    command = [sys.executable, "-c", "from pressfuncs.cli import main; main()", *map(str, words)]
    # An installed program has its modules compiled; so has this one after its first run.
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(command, stdout=subprocess.DEVNULL, env=environment)
    if done.returncode not in (0, 3):
        raise RuntimeError(f"{words} ended with {done.returncode}")


def show(name: str, seconds: float, processor: float, memory: float, more: str = "") -> None:
    """Print a line of the table."""
    print(f"| {name} | {seconds:.2f} | {processor:.2f} | {memory:.0f} | {more} |", flush=True)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--books", type=int, default=1_000)
    parser.add_argument("--office", type=int, default=0, metavar="ROWS")
    given = parser.parse_args()
    print("| what, whole processes | seconds | processor seconds | peak MB | |\n|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        start_up(there)
        many(there, given.books)
        large(there, given.rows)
        growth(there)
        if given.office:
            office(there, given.office)


def start_up(there: Path) -> None:
    """Measure the start alone."""
    book = register(there / "forty.xlsx", 40)
    pressfuncs("recalc", book, "--check")
    for words in (["--help"], ["recalc", book, "--check"]):
        runs = [measured(lambda words=words: pressfuncs(*words)) for _ in range(5)]
        show(f"`{words[0]}`" + (" of 40 rows" if len(words) > 1 else ""), *sorted(runs)[2], "median of 5")


def many(there: Path, count: int) -> None:
    """Measure many small workbooks."""
    folder = there / "many"
    folder.mkdir()
    first = register(folder / "r0.xlsx", 40)
    for number in range(1, count):
        shutil.copy(first, folder / f"r{number}.xlsx")
    for name, words in (("written in place", "--in-place"), ("checked", "--check")):
        seconds, processor, memory = measured(lambda words=words: pressfuncs("recalc", folder, words))
        show(
            f"{count} workbooks of 40 rows, {name}", seconds, processor, memory, f"{count / seconds:.0f} a second"
        )


def large(there: Path, rows: int) -> None:
    """Measure one large register: new, unchanged, and with other inputs."""
    book, out, copy = register(there / "large.xlsx", rows), there / "out.xlsx", there / "copy.xlsx"
    compared(f"{rows} rows, nothing stored yet", book, copy, "-o", out)
    compared("the same with its results stored, --check", out, copy, "--check")
    changed = with_other_inputs(out, there / "changed.xlsx")
    compared("the same with other inputs, all results refreshed", changed, copy, "-o", there / "new.xlsx", "--all")
    few = register(there / "few.xlsx", rows // 20)
    for how in ([], ["--cell-by-cell"]):
        seconds, processor, memory = measured(
            lambda how=how: pressfuncs("recalc", few, "-o", there / "few_out.xlsx", *how)
        )
        show(" ".join([f"{rows // 20} rows", *how]), seconds, processor, memory)


def compared(name: str, book: Path, copy: Path, *words: object) -> None:
    """Measure a run over a book beside its floor."""
    floor, processor, memory = measured(lambda: rezip(book, copy))
    show(f"{name}: only unzip, find cells, zip", floor, processor, memory)
    seconds, least, memory = measured(lambda: pressfuncs("recalc", book, *words))
    show(name, seconds, least, memory, f"{seconds / floor:.1f} times the floor, {least / processor:.1f} processor")


def with_other_inputs(path: Path, out: Path) -> Path:
    """Copy a book with other lengths in its column B, as a program would write them."""
    cell = re.compile(rb'(<c r="B[0-9]+"><v>)([0-9.]+)')
    with zipfile.ZipFile(path) as book, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as copy:
        for name in book.namelist():
            part = book.read(name)
            copy.writestr(name, cell.sub(lambda found: b"%s%.1f" % (found[1], float(found[2]) * 1.1), part))
    return out


def office(there: Path, rows: int) -> None:
    """Measure LibreOffice with our extension: open, which computes, and save; its own start is not counted."""
    book = register(there / "office.xlsx", rows)
    seconds, processor, memory = measured(lambda: pressfuncs("recalc", book, "-o", there / "ours.xlsx"))
    show(f"{rows} rows, 12 PF and 6 ordinary columns: recalc", seconds, processor, memory)
    with running_office(there) as running:
        start = time.perf_counter()
        number = running.do("open_book", str(book))
        running.do("save_book", number, str(there / "theirs.xlsx"), "Calc MS Excel 2007 XML")
        taken = time.perf_counter() - start
    nan = float("nan")
    show("the same in LibreOffice with our extension", taken, nan, nan, f"{taken / seconds:.1f} times as long")


def growth(there: Path) -> None:
    """Measure from 10 000 to 1 000 000 formulas."""
    for rows in (1_000, 10_000, 100_000):
        book = register(there / f"grow{rows}.xlsx", rows, ours=5, ordinary=5)
        seconds, processor, memory = measured(
            lambda book=book: pressfuncs("recalc", book, "-o", there / "grown.xlsx")
        )
        show(f"{rows * 10} formulas", seconds, processor, memory, f"{seconds / rows * 1e5:.1f} us a formula")


if __name__ == "__main__":
    main()
