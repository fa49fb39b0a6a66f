"""Time and memory of matching dies with presses, and how both grow with their number.

Beside the seconds on the clock stand those of the processor, which other work on the machine does not lengthen.
Prints one table: each size in a process of its own. Run: python tests/benchmarks/assign_pairs.py
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

SIZES = ((1_000, 20), (10_000, 50), (100_000, 100), (200_000, 100), (400_000, 100))
DATA = Path(__file__).parents[2] / "pressfuncs" / "demo_registers"


def grown(register: object, count: int, random: np.random.Generator) -> object:
    """Return the register with `count` entries: those it has, again and again, sizes varied by up to 20 %."""
    from pressfuncs.batch.assignment.registers import Register

    assert isinstance(register, Register)
    places = np.arange(count) % len(register)
    factor = random.uniform(0.8, 1.2, count)
    exact = {"efficiency", "penetration", "parts_per_stroke", "cylinders", "press_efficiency", "stripping_share"}
    return Register(
        register.kind,
        register.source,
        [f"{register.ids[p]}-{i}" for i, p in enumerate(places)],
        list(range(count)),
        {n: c[places] if n in exact else c[places] * factor for n, c in register.numbers.items()},
        {n: [c[p] for p in places] for n, c in register.texts.items()},
    )


def measure(dies: int, presses: int) -> None:
    """Match registers of the given sizes and print one line."""
    from pressfuncs.batch.assignment.ranking import assign
    from pressfuncs.batch.assignment.registers import read_register

    random = np.random.default_rng(1)
    many_dies = grown(read_register(DATA / "dies.csv", "die"), dies, random)
    many_presses = grown(read_register(DATA / "presses.csv", "press"), presses, random)
    start, busy = time.perf_counter(), time.process_time()
    assign(many_dies, many_presses)  # type: ignore[arg-type]
    seconds, busy = time.perf_counter() - start, time.process_time() - busy
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    pairs = dies * presses
    sizes = f"{dies:>9,} {presses:>8} {pairs:>12,}"
    print(f"{sizes} {seconds:>9.2f} {busy:>9.2f} {busy / pairs * 1e6:>10.2f} {peak:>9.0f}")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        measure(int(sys.argv[1]), int(sys.argv[2]))
    else:
        names = ("dies", "presses", "pairs", "seconds", "CPU s", "us a pair", "peak MB")
        print(" ".join(name.rjust(width) for name, width in zip(names, (9, 8, 12, 9, 9, 10, 9))), flush=True)
        for size in SIZES:
            subprocess.run([sys.executable, __file__, *map(str, size)], check=True)
