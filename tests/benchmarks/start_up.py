"""What the start of the program costs, and which imports cost most of it.

    python tests/benchmarks/start_up.py [--runs 15]

Each run is a whole process, with its compiled modules kept in a folder as an installed package has them. Shown are
the least and the middle of the seconds on the clock and of the processor, workers included, and below them the
modules that take longest to import. Nothing passes or fails.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage

from recalc_scale import register

PROGRAM = [sys.executable, "-c", "from pressfuncs.cli import main; main()"]
LISTED = 15


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=15)
    runs = parser.parse_args().runs
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder)
        os.environ["PYTHONPYCACHEPREFIX"] = str(there / "compiled")
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        fresh, stored = register(there / "fresh.xlsx", 40), there / "stored.xlsx"
        run([*PROGRAM, "recalc", str(fresh), "-o", str(stored)])
        print("| what | seconds, least | middle | processor, least | middle |\n|---|---|---|---|---|")
        show("python, nothing else", [sys.executable, "-c", "pass"], runs)
        words = "shearing_force --cut-length 100 --thickness 2 --shear-strength 300"
        for name, arguments in (
            ("--help", ["--help"]),
            ("recalc --help", ["recalc", "--help"]),
            ("compute, one function", ["compute", *words.split()]),
            ("recalc of 40 rows, --check", ["recalc", str(stored), "--check"]),
            ("recalc of 40 rows, written", ["recalc", str(fresh), "-o", str(there / "out.xlsx")]),
        ):
            show(name, [*PROGRAM, *arguments], runs)
        for arguments in (["--help"], ["recalc", str(stored), "--check"]):
            print(f"\nImports of `{arguments[0]}`, milliseconds of their own:")
            for name, own in imports(arguments)[:LISTED]:
                print(f"  {own:6.1f}  {name}")


def run(command: list[str]) -> tuple[float, float]:
    """Run a process; return its seconds on the clock and of the processor."""
    before, start = getrusage(RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
    taken, after = time.perf_counter() - start, getrusage(RUSAGE_CHILDREN)
    return taken, after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def show(name: str, command: list[str], runs: int) -> None:
    """Print a line of the table."""
    run(command)
    clock, processor = zip(*(run(command) for _ in range(runs)))
    columns = [f"{value:.3f}" for taken in (clock, processor) for value in (min(taken), statistics.median(taken))]
    print(f"| {name} | {' | '.join(columns)} |", flush=True)


def imports(arguments: list[str]) -> list[tuple[str, float]]:
    """Return the modules that a run imports, with the milliseconds that each takes without those it imports."""
    command = [sys.executable, "-X", "importtime", *PROGRAM[1:], *arguments]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    found = re.findall(r"import time: +(\d+) \| +\d+ \| +(\S+)", said)
    return sorted(((name, int(own) / 1000) for own, name in found), key=lambda entry: -entry[1])


if __name__ == "__main__":
    main()
