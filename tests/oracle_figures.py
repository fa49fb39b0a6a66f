"""What both sides of the second judge of dies and presses share: how a figure of a row is read."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

UNREAD = "?"
KILO = {
    *(
        "cutting_force",
        "stripping_force",
        "ejection_force",
        "forming_force",
        "pad_force",
        "stroke_force",
        "energy",
    ),
    *("flywheel_energy", "rated_force", "allowed_moment", "snap_through", "group_forces"),
}
"""Fields in kN, J and N.m; all is reckoned in N and mm."""

Row = Mapping[str, Any]
"""Field -> figure in metric units, None for a blank and UNREAD for what could not be read."""


class Figures:
    """The figures of a row: what is not known is None, and unread differs from blank."""

    def __init__(self, row: Row, blanks: Row, defaults: Row) -> None:
        self.row, self.blanks, self.defaults = row, blanks, defaults

    def unread(self, name: str) -> bool:
        """Return whether something stands there that could not be read."""
        return isinstance(self.row.get(name), str) and self.row[name] == UNREAD

    def there(self, name: str) -> bool:
        """Return whether anything stands there, readable or not, or the shop says what a blank means."""
        return self.row.get(name) is not None or self.blanks.get(name) is not None

    def number(self, name: str) -> float | None:
        """Return a figure as it stands, else what a blank means; None if it is not known."""
        if self.unread(name):
            return None
        for source in (self.row, self.blanks, self.defaults):
            if source.get(name) is not None:
                return float(source[name]) * (1000.0 if name in KILO else 1.0)
        return None

    def series(self, name: str) -> list[float]:
        """Return the figures of a cell that takes several."""
        if self.unread(name):
            return [math.nan]
        return [figure * (1000.0 if name in KILO else 1.0) for figure in self.row.get(name) or ()]

    def text(self, name: str) -> str:
        """Return a text in small letters."""
        return str(self.row.get(name) or self.blanks.get(name) or "").casefold()


def added(*figures: float | None) -> float | None:
    """Return the sum, None if one figure is not known."""
    return None if None in figures else sum(figure for figure in figures if figure is not None)
