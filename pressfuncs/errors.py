"""The ways pressfuncs refuses: each error knows its function, argument, value, rule and cell error code.

A message is one sentence that says what was wanted and what was found, so that the cure is plain. Numbers
in it are kept as core values and written in the reader's units: `sentence("inch")`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pressfuncs.quantities import Kind

ERROR_CODES = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A", "#GETTING_DATA")
"""Every error value a cell of a workbook may hold."""


class CellError:
    """An error value in a cell, as data: passed on unchanged, never computed with."""

    __slots__ = ("code",)

    def __init__(self, code: str) -> None:
        """Make the error value with a code such as "#N/A"."""
        self.code = code

    def __repr__(self) -> str:
        return self.code

    def __eq__(self, other: object) -> bool:
        return isinstance(other, CellError) and other.code == self.code

    def __hash__(self) -> int:
        return hash(self.code)


class PressError(ValueError):
    """Input that a function refuses.

    `rule` is the sentence with `{name}` in the place of numbers; `numbers` gives each as a core value and
    its kind (None for a plain number).
    """

    cell = "#VALUE!"

    def __init__(
        self,
        rule: str,
        *,
        function: str = "",
        argument: str = "",
        value: object = None,
        numbers: Mapping[str, tuple[float, Kind | None]] | None = None,
    ) -> None:
        """Keep the parts; the sentence is written when it is read."""
        super().__init__(rule)
        self.rule = rule
        self.function = function
        self.argument = argument
        self.value = value
        self.numbers = dict(numbers or {})

    def sentence(self, system: str = "core") -> str:
        """Write the message with its numbers in "core", "metric" or "inch" units."""
        if not self.numbers:
            return self.rule
        shown = {
            name: kind.show(value, system) if kind is not None else format(value, ".10g")
            for name, (value, kind) in self.numbers.items()
        }
        return self.rule.format(**shown)

    def __str__(self) -> str:
        return self.sentence()


class OutOfRange(PressError):
    """A number outside what the formula holds for."""

    cell = "#NUM!"


class Impossible(PressError):
    """Numbers that are each in range, but not together."""

    cell = "#NUM!"


class WrongUnit(PressError):
    """A unit of another kind than the argument's, or one that is not known."""


class WrongType(PressError):
    """A value that is not a number where a quantity is wanted, or not a text where a text is."""


class WrongChoice(PressError):
    """A text that is none of the choices."""


class MissingValue(PressError):
    """A required argument that is blank."""


class NotInTable(PressError):
    """A figure that the table does not hold."""

    cell = "#N/A"
