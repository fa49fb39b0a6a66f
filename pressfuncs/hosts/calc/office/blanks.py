"""Blank cells, which Calc hands to an add-in as the number 0.

A missing force read as 0 would flatter every margin, so a lone 0 is looked up: the formulas of the document that
call the function are read, and those whose values agree with the call tell whether a blank cell stands behind
the 0. Where that stays open, the call is refused rather than guessed.
"""

from __future__ import annotations

from typing import Any

from pressfuncs.edge import evaluate
from pressfuncs.errors import CellError, WrongType
from pressfuncs.hosts.calc.office.formulas import Places, formulas_of
from pressfuncs.quantities import TEXT
from pressfuncs.registry import FunctionSpec

NOT_CLEAR = (
    "Calc hands over a blank cell and a 0 alike, and the formulas do not tell which one this is: "
    'write the 0 with its unit, such as "0 mm", or leave the argument out'
)


def settled(spec: FunctionSpec, document: Any, values: list[Any]) -> Any:
    """Return the result of a call in which blank cells are blanks.

    Arguments:
        spec: the function
        document: the document that Calc says the call comes from; None outside of any
        values: the arguments, with 0.0 for the number 0 and for a blank cell
    """
    zeros = frozenset(i for i, value in enumerate(values) if value.__class__ is float and value == 0.0)
    texts = frozenset(i for i in zeros if _is_text(spec, i))  # here a 0 says nothing: taken as blank
    doubtful = frozenset(i for i in zeros - texts if not _means_zero(spec, i))
    if not doubtful or document is None:
        return evaluate(spec, _with_blanks(values, texts))
    readings = formulas_of(document).blanks(spec, values, doubtful) or {frozenset(), doubtful}
    results = [evaluate(spec, _with_blanks(values, texts | blank)) for blank in readings]
    if all(result == results[0] for result in results):
        return results[0]
    return f"{spec.sheet_name}: {NOT_CLEAR}" if spec.variadic else CellError(WrongType.cell)


def _with_blanks(values: list[Any], places: Places) -> list[Any]:
    return [None if i in places else value for i, value in enumerate(values)]


def _is_text(spec: FunctionSpec, place: int) -> bool:
    """Whether an argument is a text or the units."""
    return not spec.variadic and (place >= len(spec.arguments) or spec.arguments[place].kind is TEXT)


def _means_zero(spec: FunctionSpec, place: int) -> bool:
    """Whether a blank means 0 anyway."""
    return place < len(spec.arguments) and spec.arguments[place].default == 0
