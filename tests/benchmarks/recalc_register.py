"""Recalculate a register of 10 000 rows and 8 PF columns, beside headless LibreOffice with ordinary formulas.

LibreOffice gets the same workbook with the arithmetic of our functions written out, without their checks of
the input, and computes all of it on load. Prints one table; nothing passes or fails.

    python tests/benchmarks/recalc_register.py [ROWS]
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import openpyxl

sys.path.insert(0, str(Path(__file__).parent.parent))

from headless_office import convert
from processes import measured

HEADINGS = ["die", "L", "t", "tau", *(f"PF {i}" for i in range(1, 9)), "area", "verdict", "sum"]
OURS = [
    "PF_SHEARING_FORCE(B{r},C{r},D{r})",
    "PF_STRIPPING_FORCE(E{r},0.1)",
    "PF_REQUIRED_CAPACITY(E{r}+F{r},0.8)",
    "PF_SHEARING_FORCE(B{r}*2,C{r},D{r})",
    "PF_SHEARING_FORCE(B{r},C{r}*1.1,D{r})",
    "PF_UTILISATION(E{r},G{r})",
    "PF_CUTTING_ENERGY(E{r},C{r},0.4)",
    "PF_STROKE_RATE_THROUGHPUT(D{r}/10,2,0.85,0)",
]
WRITTEN_OUT = [
    "B{r}*C{r}*D{r}/1000",
    "E{r}*0.1",
    "(E{r}+F{r})/0.8",
    "B{r}*2*C{r}*D{r}/1000",
    "B{r}*C{r}*1.1*D{r}/1000",
    "E{r}/G{r}",
    "E{r}*C{r}*0.4",
    "D{r}/10*60*2*0.85",
]
ORDINARY = ["B{r}*C{r}", 'IF(J{r}>0.5,"ok","low")', "ROUND(E{r}+F{r},1)"]


def write(path: Path, rows: int, columns: list[str]) -> Path:
    """Write the register with eight computed columns and three more."""
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Dies")
    sheet.append(HEADINGS)
    for r in range(2, rows + 2):
        inputs = [f"D{r}", 100.0 + r % 977, 2.0 + r % 7 / 10, 310 + r % 50]
        sheet.append([*inputs, *("=" + text.format(r=r) for text in [*columns, *ORDINARY])])
    book.save(path)
    return path


def main() -> None:
    """Measure and print."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        ours = write(there / "ours.xlsx", rows, OURS)
        plain = write(there / "plain.xlsx", rows, WRITTEN_OUT)
        out = there / "out.xlsx"
        convert(write(there / "warm.xlsx", 2, WRITTEN_OUT), there, recalculate=True)  # makes the user profile

        def recalc(book: Path, *more: str) -> None:
            command = [sys.executable, "-c", "from pressfuncs.cli import main; main()", "recalc", str(book), *more]
            done = subprocess.run(command, stdout=subprocess.DEVNULL)
            if done.returncode not in (0, 3):
                raise RuntimeError(f"recalc ended with {done.returncode}")

        table = [
            ("pressfuncs recalc, nothing stored yet", *measured(lambda: recalc(ours, "-o", str(out)))),
            ("pressfuncs recalc, all stored and fresh", *measured(lambda: recalc(out, "--check"))),
            (
                "LibreOffice headless, ordinary formulas",
                *measured(lambda: convert(plain, there, recalculate=True)),
            ),
        ]
    print(f"{rows} rows, 8 computed columns and 3 ordinary ones; whole processes, start included")
    print(f"{'':42}{'seconds':>9}{'processor':>11}{'MB':>7}")
    for name, seconds, processor, memory in table:
        print(f"{name:42}{seconds:9.2f}{processor:11.2f}{memory:7.0f}")


if __name__ == "__main__":
    main()
