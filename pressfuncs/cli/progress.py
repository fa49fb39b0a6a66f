"""How far a run over several books is: one line at the foot of a terminal, out of the way of what is printed."""

from __future__ import annotations

import shutil
import sys
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING
from unicodedata import east_asian_width

if TYPE_CHECKING:
    from pressfuncs.batch.report import Digest

_BAR = 30


def with_progress(digests: Iterator[Digest], count: int) -> Iterator[Digest]:
    """Pass digests on; on a terminal show between them how far the run is.

    The line is gone while a digest is with the caller, who may print about it, and when all is done or the run is
    broken off. Nothing is shown of a single book, or where standard error is no terminal.
    """
    if count == 1 or not sys.stderr.isatty():
        yield from digests
        return
    line = _Line(count)
    try:
        line.show("")
        for digest in digests:
            line.clear()
            yield digest
            line.done += 1
            line.show(digest.path.name)
    finally:
        line.clear()


class _Line:
    """The last line of the terminal; written over with blanks, which every terminal understands."""

    def __init__(self, count: int) -> None:
        self.count = count
        self.done = 0
        self.started = time.monotonic()
        self.shown = 0

    def show(self, name: str) -> None:
        """Show how many books are done, about how long the rest takes, and the last one."""
        filled = _BAR * self.done // self.count
        text = f"[{'#' * filled}{'-' * (_BAR - filled)}] {self.done} of {self.count} books"
        if self.done:
            left = (time.monotonic() - self.started) * (self.count - self.done) / self.done
            text += f", about {in_words(left)} left: {''.join(c if c.isprintable() else '?' for c in name)}"
        text, self.shown = _cut(text, shutil.get_terminal_size().columns - 1)
        self._write(text)

    def clear(self) -> None:
        """Take the line away."""
        if self.shown:
            self._write(" " * self.shown + "\r")
            self.shown = 0

    def _write(self, text: str) -> None:
        encoding = sys.stderr.encoding or "ascii"
        sys.stderr.write("\r" + text.encode(encoding, "replace").decode(encoding))
        sys.stderr.flush()


def _cut(text: str, width: int) -> tuple[str, int]:
    """Return what of a text fits in so many columns of a terminal, and how many it takes there."""
    taken = 0
    for place, letter in enumerate(text):
        columns = 2 if east_asian_width(letter) in "WF" else 1
        if taken + columns > width:
            return text[:place], taken
        taken += columns
    return text, taken


def in_words(seconds: float) -> str:
    """Return a time that need not be exact.

    >>> in_words(4.2), in_words(200), in_words(9000)
    ('5 s', '4 min', '2.5 h')
    """
    if seconds < 100:
        return f"{int(seconds) + 1} s"
    if seconds < 6000:
        return f"{int(seconds / 60) + 1} min"
    return f"{seconds / 3600:.1f} h"
