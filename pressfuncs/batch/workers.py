"""Work done in processes of their own, all cores used: a job that crashes, hangs or eats memory ends alone.

Where the system can fork, a worker starts in milliseconds with everything imported; elsewhere it starts anew,
once a run. A job never stops another one, and results come in the order of the jobs.
"""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import os
import re
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from multiprocessing.connection import Connection, wait
from typing import Any, Generic, NamedTuple, TypeVar

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

try:
    import resource
except ImportError:  # Windows, where memory is not limited
    resource = None  # type: ignore[assignment]

Job = TypeVar("Job")
Result = TypeVar("Result")

CAN_FORK = sys.platform.startswith("linux")
"""Elsewhere forking is missing, or unsafe with the system's own libraries."""

_AHEAD = 64  # jobs a worker that are done before their turn comes; bounds what waits for one slow job
_GRACE = 30.0  # seconds after which a worker whose parent is gone ends itself
_NO_MEMORY = 112  # exit status of a worker that has no memory left even for saying so

_WANTS_MEMORY = re.compile(
    rb"memory allocation of \d+ bytes failed|bad_alloc|MemoryError|[Cc]annot allocate|[Oo]ut of memory"
    rb"|[Mm]emory allocation .*failed"
)
"""What Rust, C++, Python, the system and OpenBLAS write before they give up for want of memory."""


class Bounds(NamedTuple):
    """What one job may use."""

    memory: int = 4096 << 20
    """bytes a worker may write to, on top of what it starts with; not limited on Windows"""
    seconds: float = 600.0
    """time on the wall clock"""


class Loss(NamedTuple):
    """How the work on a job ended without a result.

    `kind` is "time" or "memory" (it reached that bound), "fault" (an error in the program, named in `detail`),
    "crash" (the worker is gone, `detail` is the signal or the exit status) or "stopped" (the run was broken off).
    """

    kind: str
    detail: str = ""


def processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def run_jobs(
    jobs: Sequence[Job],
    task: Callable[[Job], Result],
    lost: Callable[[Job, Loss], Result],
    bounds: Bounds,
    processes: int | None = None,
) -> Iterator[Result]:
    """Yield the result of each job, in order.

    Arguments:
        jobs: what is to be done; each is sent to a worker, so it must be plain data
        task: does one job; a function of a module, or an object of one
        lost: makes the result of a job whose worker was lost
        bounds: what one job may use
        processes: how many workers; by default one for each processor
    """
    count = max(1, min(processes or processors(), len(jobs)))
    if count == 1 and len(jobs) == 1 and not CAN_FORK:
        yield task(jobs[0])
        return
    pool = _Pool(jobs, task, lost, bounds, count)
    try:
        yield from pool.results()
    finally:
        pool.close()


class _Worker(Generic[Job]):
    """One process, and our end of the pipe to it."""

    def __init__(self, task: Callable[[Job], Any], bounds: Bounds) -> None:
        context: Any = multiprocessing.get_context("fork" if CAN_FORK else "spawn")
        self.connection, theirs = context.Pipe()
        inherited = self.connection if CAN_FORK else None
        self.last_words: int | None = None
        words: int | None = None
        if CAN_FORK:
            self.last_words, words = _pipe_of_words()
        self.process = context.Process(target=_work, args=(theirs, inherited, words, task, bounds), daemon=True)
        self.process.start()
        theirs.close()
        if words is not None:
            os.close(words)
        self.job: int | None = None
        self.deadline = 0.0

    def heard(self) -> bytes:
        """Return what the worker, or a library in it, has written to its standard error since the last time."""
        found = b""
        if self.last_words is not None:
            with contextlib.suppress(OSError):  # nothing there
                while piece := os.read(self.last_words, 1 << 16):
                    found = (found + piece)[-(1 << 16) :]
        return found

    def loss(self) -> Loss:
        """End a worker that is lost, and return what is known of how that came about."""
        ended = self.stop(1.0)
        if ended == _NO_MEMORY or _WANTS_MEMORY.search(self.heard()):
            return Loss("memory")
        return Loss("crash", _ending(ended))

    def close(self) -> None:
        """Let go of what a process that has ended leaves."""
        self.connection.close()
        self.process.close()
        if self.last_words is not None:
            os.close(self.last_words)

    def stop(self, patience: float) -> int | None:
        """End the process, after some seconds for doing so itself; return how it ended."""
        self.process.join(patience)
        if self.process.exitcode is None:
            self.process.kill()
            self.process.join()
        ended: int | None = self.process.exitcode
        return ended


class _Pool(Generic[Job, Result]):
    """Hands out the jobs, and replaces every worker that is lost."""

    def __init__(
        self,
        jobs: Sequence[Job],
        task: Callable[[Job], Result],
        lost: Callable[[Job, Loss], Result],
        bounds: Bounds,
        count: int,
    ) -> None:
        self.jobs, self.task, self.lost, self.bounds = jobs, task, lost, bounds
        self.waiting = deque(range(len(jobs)))
        self.done: dict[int, Result] = {}
        self.next = 0
        self.ahead = _AHEAD * count
        self.workers = [_Worker(task, bounds) for _ in range(count)]

    def results(self) -> Iterator[Result]:
        """Yield results in order until all jobs are done."""
        while self.next < len(self.jobs):
            for worker in self.workers:
                self.hand_out(worker)
            self.collect()
            while self.next in self.done:
                yield self.done.pop(self.next)
                self.next += 1

    def hand_out(self, worker: _Worker[Job]) -> None:
        if worker.job is None and self.waiting and self.waiting[0] < self.next + self.ahead:
            worker.job = self.waiting.popleft()
            worker.deadline = time.monotonic() + self.bounds.seconds
            with contextlib.suppress(OSError):  # it is gone already; its pipe says so at once
                worker.connection.send(self.jobs[worker.job])

    def collect(self) -> None:
        """Wait for a result, for the loss of a worker, or for the next deadline."""
        busy = {worker.connection: worker for worker in self.workers if worker.job is not None}
        patience = min(worker.deadline for worker in busy.values()) - time.monotonic()
        for connection in wait(list(busy), max(0.0, patience)):
            worker = busy.pop(connection)
            assert worker.job is not None
            try:
                answer = worker.connection.recv()
            except (EOFError, OSError):
                self.replace(worker, None)
                continue
            if isinstance(answer, Loss):  # well enough to say so; but its memory is in pieces, or who knows what
                self.replace(worker, answer)
                continue
            self.done[worker.job] = answer
            worker.job = None
            worker.heard()  # so that what is found there belongs to the job that is lost
        for worker in busy.values():
            if time.monotonic() >= worker.deadline:
                self.replace(worker, Loss("time"))

    def replace(self, worker: _Worker[Job], loss: Loss | None) -> None:
        """Note how a worker was lost and start another one, if there is work for it."""
        assert worker.job is not None
        if loss is None:
            loss = worker.loss()
        else:
            worker.stop(0.0)
        worker.close()
        self.done[worker.job] = self.lost(self.jobs[worker.job], loss)
        self.workers.remove(worker)
        if self.waiting:
            self.workers.append(_Worker(self.task, self.bounds))

    def close(self) -> None:
        """End all workers; the job of one that is still at work (the run was broken off) is lost."""
        with _uninterrupted():
            for worker in self.workers:
                worker.stop(0.0)
                worker.close()
                if worker.job is not None:
                    self.lost(self.jobs[worker.job], Loss("stopped"))


@contextlib.contextmanager
def _uninterrupted() -> Iterator[None]:
    """Let whoever presses Ctrl-C twice wait until what the first one began is cleared away."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)


def _pipe_of_words() -> tuple[int, int]:
    """Return the ends of a pipe that holds what fits and lets nobody wait: whoever writes more loses it.

    There is room for a library that talks: one that finds its words refused may take that for a fault.
    """
    ours, theirs = os.pipe()
    if fcntl is not None and hasattr(fcntl, "F_SETPIPE_SZ"):
        with contextlib.suppress(OSError):
            fcntl.fcntl(theirs, fcntl.F_SETPIPE_SZ, 1 << 20)
    for end in (ours, theirs):
        os.set_blocking(end, False)
    return ours, theirs


def _ending(code: int | None) -> str:
    if code is not None and code < 0:
        with contextlib.suppress(ValueError):
            return signal.Signals(-code).name
    return "" if code is None else f"exit status {code}"


def _work(
    connection: Connection,
    inherited: Connection | None,
    words: int | None,
    task: Callable[[Any], Any],
    bounds: Bounds,
) -> None:
    """Do jobs until the pipe is closed; runs in the worker."""
    if inherited is not None:  # the parent's end: while a copy of it is open, the pipe never ends
        inherited.close()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent is interrupted, and ends us
    with contextlib.suppress(OSError):  # what a dying engine prints helps nobody; the parent says it in a sentence
        os.dup2(os.open(os.devnull, os.O_WRONLY) if words is None else words, 2)
    _limit_memory(bounds)
    gc.freeze()
    gc.disable()  # millions of cells, hardly a circle among them: cleaned up after each job
    try:
        while _do_one(connection, task, bounds):
            gc.collect()
    except MemoryError:
        os._exit(_NO_MEMORY)


def _do_one(connection: Connection, task: Callable[[Any], Any], bounds: Bounds) -> bool:
    """Do one job and send its result; False when there are no more."""
    try:
        job = connection.recv()
    except (EOFError, OSError):
        return False
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, bounds.seconds + _GRACE)
    try:
        answer = task(job)
    except MemoryError:
        answer = Loss("memory")
    except Exception as error:
        answer = Loss("fault", f"{type(error).__name__}: {error}".splitlines()[0])
    try:
        connection.send(answer)
    except MemoryError:
        connection.send(Loss("memory"))
    except OSError:
        return False
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, 0)
    return True


def _limit_memory(bounds: Bounds) -> None:
    """Limit what may be written to; address space that is only reserved, as engines do, does no harm."""
    if resource is None:
        return
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    limited = resource.RLIMIT_DATA if CAN_FORK else resource.RLIMIT_AS
    _, most = resource.getrlimit(limited)
    wanted = bounds.memory + _written()
    if most != resource.RLIM_INFINITY:
        wanted = min(wanted, most)
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(limited, (wanted, most))


def _written() -> int:
    """Return the bytes of memory this process has for writing, where the system tells."""
    try:
        with open("/proc/self/status", encoding="ascii") as status:
            found = next(line for line in status if line.startswith("VmData:"))
        return int(found.split()[1]) << 10
    except (OSError, StopIteration, ValueError):
        return 0
