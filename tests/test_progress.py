"""`pressfuncs recalc` of many books on a terminal: the line that shows how far it is, and Ctrl-C."""

from __future__ import annotations

import os
import pty
import select
import signal
import sys
import zipfile
from pathlib import Path

import pytest
from books import F, make

from pressfuncs.cli import progress
from pressfuncs.cli.progress import in_words

PROGRAM = [sys.executable, "-c", "from pressfuncs.cli import main; main()"]
COLUMNS = 80


def on_terminal(*words: object, interrupted_at: bytes = b"", presses: int = 0) -> tuple[int, bytes]:
    """Run the program on a terminal of its own, press Ctrl-C once it shows something; return status, output."""
    child, terminal = pty.fork()
    if child == 0:
        os.environ |= {"COLUMNS": str(COLUMNS), "TERM": "xterm"}
        os.execv(sys.executable, [*PROGRAM, *map(str, words)])
    shown = b""
    try:
        while select.select([terminal], [], [], 60)[0]:
            shown += os.read(terminal, 1 << 16)
            if presses and interrupted_at in shown:
                os.write(terminal, b"\x03" * presses)
                presses = 0
    except OSError:  # the terminal is gone with the last process on it
        pass
    finally:
        os.close(terminal)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), shown


def screen(shown: bytes) -> list[str]:
    """Return what stands on the terminal in the end, where a carriage return lets later text cover earlier one."""
    lines = []
    for line in shown.decode().replace("\r\n", "\n").split("\n"):
        *covered, seen = line.split("\r")
        for text in reversed(covered):
            assert len(text) < COLUMNS, "the line would break, and stay"
            seen += text[len(seen) :]
        lines.append(seen.rstrip())
    return lines


def registers(tmp_path: Path, count: int, rows: int = 1) -> Path:
    folder = tmp_path / "registers"
    folder.mkdir()
    cells = {f"B{row}": F(f"PF_SHEARING_FORCE({row},1,1000)") for row in range(1, rows + 1)}
    for number in range(count):
        make(folder / f"r{number:03}.xlsx", {"Dies": cells})
    return folder


def test_the_line_moves_on_and_leaves_nothing_behind(tmp_path: Path) -> None:
    folder = registers(tmp_path, 4)
    status, shown = on_terminal("recalc", folder, "--check")
    assert status == 3
    for done in range(5):
        assert f"] {done} of 4 books".encode() in shown
    lines = screen(shown)
    assert [line.split(":")[0] for line in lines if ".xlsx: " in line] == [
        str(path) for path in sorted(folder.iterdir())
    ]
    assert not [line for line in lines if "of 4 books" in line or "#" in line]


def test_a_single_book_shows_no_line(tmp_path: Path) -> None:
    status, shown = on_terminal("recalc", registers(tmp_path, 1), "--check")
    assert status == 3
    assert b"of 1 books" not in shown


@pytest.mark.parametrize("presses", [1, 3])
def test_ctrl_c_ends_with_a_sentence_and_leaves_whole_books_and_no_litter(tmp_path: Path, presses: int) -> None:
    folder = registers(tmp_path, 24, rows=100)
    names = sorted(path.name for path in folder.iterdir())
    status, shown = on_terminal("recalc", folder, "--in-place", interrupted_at=b"] 1 of 24 books", presses=presses)
    assert status in (130, -signal.SIGINT)  # a second Ctrl-C may meet Python when it is as good as gone
    assert b"Traceback" not in shown
    assert (
        "then broken off: every book is whole, either as it was or refreshed; run again for the rest"
        in " ".join(screen(shown))
    )
    assert sorted(path.name for path in folder.iterdir()) == names
    assert all(zipfile.ZipFile(path).testzip() is None for path in folder.iterdir())
    status, shown = on_terminal("recalc", folder, "--in-place")
    assert status == 0
    assert on_terminal("recalc", folder, "--check")[0] == 0


@pytest.mark.parametrize(
    ("text", "width", "cut"),
    [("abc", 5, ("abc", 3)), ("abcdef", 5, ("abcde", 5)), ("\u5200\u5177ab", 3, ("\u5200", 2))],
)
def test_the_line_never_breaks(text: str, width: int, cut: tuple[str, int]) -> None:
    assert progress._cut(text, width) == cut


def test_a_name_cannot_play_tricks_with_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    line = progress._Line(2)
    line.done = 1
    line.show("a\x1b[31m\nb.xlsx")
    assert capsys.readouterr().err.endswith("left: a?[31m?b.xlsx")


@pytest.mark.parametrize(
    ("seconds", "words"), [(0.0, "1 s"), (99.9, "100 s"), (100.0, "2 min"), (5999.0, "100 min"), (6000.0, "1.7 h")]
)
def test_times_are_about(seconds: float, words: str) -> None:
    assert in_words(seconds) == words
