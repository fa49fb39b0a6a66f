"""Many books in workers: order, limits, crashes; a bad book ends with a sentence and never stops the rest."""

from __future__ import annotations

import contextlib
import faulthandler
import os
import signal
import time
from pathlib import Path
from typing import Any

import pytest
from books import F, make, values
from click.testing import CliRunner, Result
from parts import fingerprint

from pressfuncs.batch import many
from pressfuncs.batch.many import recalculate_many
from pressfuncs.batch.recalc import Options
from pressfuncs.batch.report import Wanted
from pressfuncs.batch.workers import Bounds, Loss, processors, run_jobs
from pressfuncs.cli.app import main

SMALL = Bounds(memory=256 << 20, seconds=20)


def do(job: Any) -> Any:
    """Do what a job says; runs in a worker."""
    if isinstance(job, int):
        time.sleep(job / 1000)
        return job
    if job == "abort":
        faulthandler.disable()
        os.abort()
    if job == "kill":
        os.kill(os.getpid(), signal.SIGKILL)
    if job == "leave":
        os._exit(3)
    if job == "eat":
        return len(bytearray(1 << 30))
    if job == "large":
        return "x" * (8 << 20)
    if job == "last words":
        faulthandler.disable()
        os.write(2, b"memory allocation of 1073741824 bytes failed")
        os.abort()
    if job == "words":
        os.write(2, b"memory allocation of 1073741824 bytes failed")
    if job == "much":
        return os.write(2, b"x" * (1 << 20))
    if job == "talk":
        with contextlib.suppress(BlockingIOError):
            for _ in range(100):
                os.write(2, b"x" * (1 << 16))
        os._exit(1)
    if job == "raise":
        raise ValueError("no such thing\nat all")
    if job == "unsendable":
        return NoMemory()
    while job == "hang":
        pass
    return os.getpid()


class NoMemory:
    """A result that cannot be sent for want of memory; neither can the word of it."""

    def __reduce__(self) -> Any:
        raise MemoryError


def lost(job: Any, loss: Loss) -> Any:
    return (job, loss.kind, loss.detail)


def test_results_come_in_the_order_of_the_jobs_from_more_workers_than_one() -> None:
    jobs = [40, 1, 30, 2, 20, 3]
    assert list(run_jobs(jobs, do, lost, SMALL, 3)) == jobs
    pids = list(run_jobs(["pid"] * 40, do, lost, SMALL, 2))
    assert os.getpid() not in pids
    assert 1 <= len(set(pids)) <= 2


def test_a_worker_that_is_lost_is_replaced_and_the_rest_is_done() -> None:
    jobs = ["abort", 1, "kill", 2, "leave", 3, "eat", 4, "large", 5]
    found = list(run_jobs(jobs, do, lost, SMALL, 2))
    assert found[0] == ("abort", "crash", "SIGABRT")
    assert found[2] == ("kill", "crash", "SIGKILL")
    assert found[4] == ("leave", "crash", "exit status 3")
    assert found[6] == ("eat", "memory", "")
    assert len(found[8]) == 8 << 20
    assert found[1::2] == [1, 2, 3, 4, 5]


def test_what_is_said_of_a_lost_worker_is_what_is_known() -> None:
    """Memory is named where the worker, or a library in it, has said so; a status tells nothing of it."""
    jobs = ["last words", "much", "much", "talk", "raise", "unsendable", "eat", "kill", 1]
    assert list(run_jobs(jobs, do, lost, SMALL, 1)) == [
        ("last words", "memory", ""),
        1 << 20,
        1 << 20,
        ("talk", "crash", "exit status 1"),
        ("raise", "fault", "ValueError: no such thing"),
        ("unsendable", "memory", ""),
        ("eat", "memory", ""),
        ("kill", "crash", "SIGKILL"),
        1,
    ]


def test_words_of_an_earlier_job_tell_nothing_of_a_later_one() -> None:
    assert list(run_jobs(["words", "abort"], do, lost, SMALL, 1))[1] == ("abort", "crash", "SIGABRT")


@pytest.mark.parametrize(
    ("loss", "said", "not_said"),
    [
        (Loss("memory"), "needs more memory than the limit of 256 MB", "exit status"),
        (Loss("crash", "exit status 1"), "(exit status 1), and nothing tells why", "memory"),
        (Loss("crash", "SIGSEGV"), "(SIGSEGV), and nothing tells why", "memory"),
        (Loss("crash", "SIGKILL"), "stopped from outside (SIGKILL)", "the limit"),
        (
            Loss("fault", "KeyError: 'x'"),
            "a fault of pressfuncs itself (KeyError: 'x'): please report it",
            "memory",
        ),
        (Loss("time"), "took longer than 20 s and was stopped", "memory"),
        (Loss("stopped"), "was not finished, since the run was broken off", "memory"),
    ],
)
def test_the_sentence_of_a_loss_guesses_at_nothing(loss: Loss, said: str, not_said: str) -> None:
    sentence = many._sentence(loss, SMALL)
    assert said in sentence
    assert not_said not in sentence
    assert "; the book is whole" in sentence
    assert sentence == " ".join(sentence.split())


def test_a_job_that_hangs_is_stopped_at_its_time() -> None:
    start = time.monotonic()
    assert list(run_jobs([1, "hang", 2], do, lost, Bounds(seconds=1.0), 1)) == [1, ("hang", "time", ""), 2]
    assert 1.0 <= time.monotonic() - start < 15


def test_workers_end_with_the_run_also_where_it_is_broken_off() -> None:
    results = run_jobs([1, "pid", "hang", 1], do, lost, Bounds(seconds=60), 2)
    assert next(results) == 1
    pid = next(results)
    results.close()  # type: ignore[attr-defined]
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_no_job_is_no_result() -> None:
    assert list(run_jobs([], do, lost, SMALL)) == []
    assert processors() >= 1


# Books

GOOD: dict[str, Any] = {"A1": 100.0, "B1": F("PF_SHEARING_FORCE(A1,1,1000)", 1.0)}
DOUBLING: dict[str, Any] = {"A1": "x" * 30_000, "B1": F("PF_SHEARING_FORCE(1,1,1000)", 1.0)} | {
    f"A{row}": F("&".join([f"A{row - 1}"] * 40), "old") for row in range(2, 8)
}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["recalc", *map(str, arguments)])


def folder(tmp_path: Path) -> Path:
    there = tmp_path / "registers"
    there.mkdir()
    for number in range(6):
        make(there / f"good{number}.xlsx", {"Dies": GOOD})
    make(there / "a_hostile.xlsx", {"Dies": {f"A{row}": F("SUM(A1:XFD1048576)") for row in range(1, 2)} | GOOD})
    (there / "bad.xlsx").write_bytes(b"no zip")
    return there


def test_a_bad_book_among_good_ones_ends_with_a_sentence(tmp_path: Path) -> None:
    there = folder(tmp_path)
    result = run(there, "--in-place", "--timeout", 30, "--memory", 512)
    assert result.exit_code == 1
    assert "Traceback" not in result.output
    assert "bad.xlsx: is not an .xlsx or .xlsm workbook" in result.stderr
    assert all(values(there / f"good{number}.xlsx")["Dies!B1"] == 100 for number in range(6))


def test_a_book_that_takes_too_long_or_too_much_memory_is_whole_and_says_what_to_do(tmp_path: Path) -> None:
    cells: dict[str, Any] = {f"A{row}": 100.0 for row in range(1, 30_000)} | {"B1": GOOD["B1"]}
    path = make(tmp_path / "large.xlsx", {"Dies": cells})
    before = fingerprint(path)
    slow = run(path, "--in-place", "--timeout", 0.05)
    assert slow.exit_code == 1
    assert "large.xlsx: took longer than 0.05 s and was stopped; the book is whole" in slow.stderr
    assert "--timeout" in slow.stderr
    wide = make(tmp_path / "wide.xlsx", {"Dies": cells | {f"C{row}": "x" * 30_000 for row in range(1, 3_000)}})
    hungry = run(wide, "--in-place", "--memory", 64)
    assert hungry.exit_code == 1
    assert "--memory" in hungry.stderr
    assert len(hungry.stderr.splitlines()) == 1
    assert fingerprint(path) == before
    assert {entry.name for entry in tmp_path.iterdir()} == {"large.xlsx", "wide.xlsx"}
    assert run(path, "--check").exit_code == 3


def test_small_books_that_are_written_get_more_workers_than_processors(tmp_path: Path) -> None:
    small, large = tmp_path / "small.xlsx", tmp_path / "large.xlsx"
    small.write_bytes(b"x" * (1 << 20))
    large.write_bytes(b"x" * (1 << 20) + b"x")
    count = processors()
    assert many._workers([(small, small), (tmp_path / "gone.xlsx", small)]) == count + (count + 1) // 2 > count
    assert many._workers([(small, small), (large, large)]) == count
    assert many._workers([(small, None)]) == count


def test_text_that_doubles_from_cell_to_cell_is_bounded(tmp_path: Path) -> None:
    path = make(tmp_path / "doubling.xlsx", {"Dies": DOUBLING})
    result = run(path, "--check", "--memory", 512, "--timeout", 60)
    assert "Traceback" not in result.output
    assert result.exit_code in (0, 1, 3)


def test_memory_stays_flat_over_many_books(tmp_path: Path) -> None:
    """The parent keeps a line a book, and a worker nothing."""
    path = make(tmp_path / "a.xlsx", {"Dies": GOOD})
    jobs = [(path, None)] * 600
    used = []
    for number, found in enumerate(recalculate_many(jobs, Options(), Wanted(True), Bounds(), 2)):
        assert found.stale
        if number in (100, 599):
            used.append(sum(_resident(child) for child in _children()))
    assert used[0] > 0
    assert used[1] < used[0] * 1.1 + 4096


def _children() -> list[int]:
    return [int(pid) for pid in Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()]


def _resident(pid: int) -> int:
    """Return the memory of a process in kB."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next((int(line.split()[1]) for line in lines if line.startswith("VmRSS")), 0)
