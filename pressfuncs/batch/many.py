"""Recalculating some or thousands of files: each in a worker, each ending with a report or a sentence."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from pathlib import Path

from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.report import Digest, FileResult, Wanted, digest
from pressfuncs.batch.saving import remove_leftovers
from pressfuncs.batch.workers import Bounds, Loss, processors, run_jobs

_SMALL = 1 << 20
"""Bytes of a book that takes less memory than Python itself, and not much longer than the disk."""

Job = tuple[Path, "Path | None"]
"""A file, and where it is written; None only checks it."""


@dataclass(frozen=True)
class Task:
    """What is done with each file; sent to the workers."""

    options: Options
    wanted: Wanted

    def __call__(self, job: Job) -> Digest:
        """Recalculate one file and make its report."""
        return digest(one(*job, self.options), self.wanted)


def one(file: Path, destination: Path | None, options: Options) -> FileResult:
    """Recalculate one file; whatever is wrong with it becomes a sentence.

    Raises:
        MemoryError: it wants more memory than there is; the process is not to be used any more.
    """
    try:
        return FileResult(file, recalculate(file, destination, options))
    except Refused as refused:
        return FileResult(file, refusal=refused.sentence)
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except RecursionError:
        return FileResult(
            file, refusal="holds something nested deeper than any spreadsheet app writes; the book is untouched"
        )
    except BaseException as error:  # the engine's own panic is no Exception; the next book must not suffer
        cause = f"{type(error).__name__}: {error}".splitlines()[0]
        return FileResult(
            file, refusal=f"a fault of pressfuncs itself ({cause}): please report it; the book is untouched"
        )


def recalculate_many(
    jobs: Sequence[Job],
    options: Options,
    wanted: Wanted,
    bounds: Bounds,
    processes: int | None = None,
) -> Generator[Digest, None, None]:
    """Recalculate files, all cores used; yield their reports in order, so that memory stays flat.

    Arguments:
        jobs: files and destinations
        options: see `Options`
        wanted: which reports are made
        bounds: what one file may use
        processes: how many workers; by default one for each processor, and half as many more where small books
            are written
    """

    def lost(job: Job, loss: Loss) -> Digest:
        file, destination = job
        if destination is not None:
            with contextlib.suppress(OSError):
                remove_leftovers(Path(os.path.realpath(destination)))
        return digest(FileResult(file, refusal=_sentence(loss, bounds)), wanted)

    yield from run_jobs(jobs, Task(options, wanted), lost, bounds, processes or _workers(jobs))


def _workers(jobs: Sequence[Job]) -> int:
    """Return how many workers keep all processors busy: one that writes small books often waits for the disk.

    Of larger books no more are in memory at a time than there are processors.
    """
    count = processors()
    return count + (count + 1) // 2 if all(out is not None and _is_small(file) for file, out in jobs) else count


def _is_small(file: Path) -> bool:
    try:
        return file.stat().st_size <= _SMALL
    except OSError:
        return True  # it is refused in no time


def _sentence(loss: Loss, bounds: Bounds) -> str:
    """Say how the work on a file ended, and what to do."""
    whole = "; the book is whole"
    if loss.kind == "time":
        return (
            f"took longer than {bounds.seconds:g} s and was stopped{whole}; if you trust it, raise --timeout, "
            "else look for formulas over whole columns"
        )
    if loss.kind == "memory":
        return (
            f"needs more memory than the limit of {bounds.memory >> 20} MB{whole}; raise --memory if you trust it"
        )
    if loss.kind == "fault":
        return f"a fault of pressfuncs itself ({loss.detail}): please report it{whole}"
    if loss.kind == "stopped":
        return f"was not finished, since the run was broken off{whole}; run again"
    if loss.detail == "SIGKILL":
        return (
            f"was stopped from outside (SIGKILL), as a system does that runs out of memory{whole}; "
            "run it again, alone or with a lower --memory"
        )
    return (
        f"ended the process that worked on it ({loss.detail}), and nothing tells why{whole}; run it again alone, "
        "and if that happens again, ask its sender what it holds"
    )
