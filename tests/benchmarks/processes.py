"""Running a piece of work in a process of its own, for the benchmarks, to see what it takes."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable


def measured(work: Callable[[], object]) -> tuple[float, float, float]:
    """Run something in a process of its own; return seconds, processor seconds, peak MB of the largest process."""
    start = time.perf_counter()
    child = os.fork()
    if child == 0:
        try:
            work()
        except BaseException as error:
            print(error, file=sys.stderr)
            os._exit(1)
        os._exit(0)
    _, status, usage = os.wait4(child, 0)
    if status:
        raise SystemExit("a run failed")
    return time.perf_counter() - start, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024
