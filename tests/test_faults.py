"""Power cuts, full disks and rude neighbours while books are refreshed in place: the book stays whole.

PRESSFUNCS_KILLS=200 in the environment kills more often than the tests do by themselves.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from books import F, make, values
from click.testing import CliRunner, Result
from parts import fingerprint
from privileges import ordinary_user
from test_saving import bounded_files, small_disk

from pressfuncs.batch import saving
from pressfuncs.batch.recalc import recalculate
from pressfuncs.batch.refusals import Refused
from pressfuncs.cli.app import main

KILLS = int(os.environ.get("PRESSFUNCS_KILLS", "25"))
ROWS = 4_000
_PROGRAM = "from pressfuncs.cli import main; main()"
CELLS: dict[str, Any] = {"A1": 100.0, "B1": F("PF_SHEARING_FORCE(A1,1,1000)", 1.0)}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["recalc", *map(str, arguments)])


def large(path: Path) -> Path:
    noise = random.Random(5)
    cells: dict[str, Any] = {}
    for row in range(1, ROWS + 1):
        cells |= {
            f"A{row}": 100.0 + row,
            f"B{row}": F(f"PF_SHEARING_FORCE(A{row},2,300)", 1.0),
            f"C{row}": F(f"B{row}*2", 2.0),
            f"D{row}": noise.randbytes(60).hex(),
        }
    return make(path, {"Dies": cells})


def start(book: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-c", _PROGRAM, "recalc", str(book), "--in-place"]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)


def test_a_run_killed_at_any_moment_leaves_the_old_book_or_the_new_one(tmp_path: Path) -> None:
    """The parent and its workers are killed at once; the next run removes what the killed one left."""
    book = large(tmp_path / "book.xlsx")
    old = book.read_bytes()
    begin = time.perf_counter()
    assert start(book).wait() == 0
    lasts = time.perf_counter() - begin
    whole = {fingerprint(book)}
    book.write_bytes(old)
    whole.add(fingerprint(book))
    assert len(whole) == 2
    moments = random.Random(11)
    seen: set[str] = set()
    killed = 0
    for _ in range(KILLS):
        process = start(book)
        time.sleep(lasts * moments.uniform(0.1, 1.1))
        os.killpg(process.pid, signal.SIGKILL)
        killed += process.wait() == -signal.SIGKILL
        seen.add(fingerprint(book))
        assert seen <= whole
        litter = {entry.name for entry in tmp_path.iterdir()} - {"book.xlsx"}
        assert len(litter) <= 1
        assert all(name.startswith(".book.xlsx.pressfuncs-") for name in litter)
        book.write_bytes(old)
    assert killed > 0
    assert start(book).wait() == 0
    assert {entry.name for entry in tmp_path.iterdir()} == {"book.xlsx"}
    assert fingerprint(book) in whole


def test_a_worker_ends_with_its_book_where_its_parent_is_killed(tmp_path: Path) -> None:
    book = large(tmp_path / "book.xlsx")
    process = start(book)
    workers = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    while not workers.read_text():
        time.sleep(0.002)
    process.kill()
    assert process.wait() == -signal.SIGKILL
    deadline = time.monotonic() + 60
    while _group_lives(process.pid) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not _group_lives(process.pid)
    assert values(book)["Dies!B1"] in (1.0, 60.6)
    assert {entry.name for entry in tmp_path.iterdir()} == {"book.xlsx"}


def _group_lives(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.parametrize("number", [errno.EXDEV, errno.EIO, errno.ESTALE, errno.ENOSPC, errno.EACCES])
def test_a_rename_that_fails_as_on_a_network_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    book = make(tmp_path / "book.xlsx", {"Dies": CELLS})
    before = fingerprint(book)

    def failing(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr(saving.os, "replace", failing)
        result = run(book, "--in-place")
    assert result.exit_code == 1
    assert "; the file is as it was" in result.stderr
    assert len(result.stderr.splitlines()) == 1
    assert fingerprint(book) == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["book.xlsx"]
    assert run(book, "--in-place").exit_code == 0
    assert values(book)["Dies!B1"] == 100


def test_a_full_disk_costs_one_sentence(tmp_path: Path) -> None:
    noise = random.Random(1)
    disk = tmp_path / "disk"
    disk.mkdir()
    with small_disk(disk) as words:
        more = {f"D{row}": noise.randbytes(16_000).hex() for row in range(1, 41)}
        book = make(disk / "book.xlsx", {"Dies": CELLS | more})
        assert book.stat().st_size > 600_000
        before = fingerprint(book)
        with bounded_files(300_000) if "larger" in words else contextlib.nullcontext():
            result = run(book, "--in-place")
        assert result.exit_code == 1
        assert words in result.stderr
        assert len(result.stderr.splitlines()) == 1
        assert fingerprint(book) == before
        assert [entry.name for entry in disk.iterdir()] == ["book.xlsx"]


def test_a_read_only_folder_costs_one_sentence(tmp_path: Path) -> None:
    # Without a worker: the user may not be allowed to read the Python that runs this, so all is imported before.
    recalculate(make(tmp_path / "before.xlsx", {"Dies": CELLS}), None)
    with ordinary_user() as there:
        book = make(there / "book.xlsx", {"Dies": CELLS})
        before = fingerprint(book)
        there.chmod(0o500)
        with pytest.raises(Refused, match="no permission to write in the folder"):
            recalculate(book, book)
        there.chmod(0o700)
        assert fingerprint(book) == before


def test_a_book_that_is_locked_or_replaced_meanwhile_is_not_overwritten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = make(tmp_path / "book.xlsx", {"Dies": CELLS})
    other = make(tmp_path / "other.xlsx", {"Dies": CELLS | {"A1": 7.0}})
    theirs = other.read_bytes()
    with book.open("r+b") as held:
        fcntl.lockf(held, fcntl.LOCK_EX)
        result = run(book, "--in-place")  # the worker is another process, so that the lock is a stranger's
    assert result.exit_code == 1
    assert "is open for writing in another program" in result.stderr
    write = saving._write

    def replaced(*arguments: Any) -> None:
        book.unlink()
        book.write_bytes(theirs)
        write(*arguments)

    monkeypatch.setattr(saving, "_write", replaced)
    result = run(book, "--in-place")
    assert result.exit_code == 1
    assert "was changed by somebody else since it was read; run again" in result.stderr
    assert book.read_bytes() == theirs
    assert {entry.name for entry in tmp_path.iterdir()} == {"book.xlsx", "other.xlsx"}


def test_a_link_is_followed_and_a_second_name_refused(tmp_path: Path) -> None:
    book = make(tmp_path / "book.xlsx", {"Dies": CELLS})
    (tmp_path / "link.xlsx").symlink_to(book)
    assert run(tmp_path / "link.xlsx", "--in-place").exit_code == 0
    assert (tmp_path / "link.xlsx").is_symlink()
    assert values(book)["Dies!B1"] == 100
    second = make(tmp_path / "second.xlsx", {"Dies": CELLS})
    os.link(second, tmp_path / "name.xlsx")
    result = run(second, "--in-place")
    assert result.exit_code == 1
    assert "has 2 names (hard links)" in result.stderr
