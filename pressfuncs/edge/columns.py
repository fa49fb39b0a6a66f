"""The edge for whole columns: one numpy call in place of one call an element, with equal results.

Bad elements are found before the call, or by the mask on the error that the function raises; they are set
aside, evaluated one by one for their own sentence, and spoil nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from pressfuncs.edge.ranges import Problem, evaluate_one
from pressfuncs.edge.reading import PassedOn, read_default, read_one, read_system
from pressfuncs.errors import PressError
from pressfuncs.quantities import TEXT
from pressfuncs.registry import Argument, FunctionSpec

_NUMBERS = {float, int}


def evaluate_columns(
    spec: FunctionSpec,
    arguments: Sequence[Any],
    each: Sequence[bool],
    count: int,
    problems: list[Problem],
) -> list[Any]:
    """Evaluate `count` calls; where `each` is set the argument is a list of `count` cell values."""
    results = np.empty(count, dtype=object)
    columns = [_column(value) if is_list else value for value, is_list in zip(arguments, each)]
    for system, texts, members in _groups(spec, arguments, each, count):
        _evaluate_group(spec, arguments, each, columns, system, texts, members, results, problems)
    problems.sort(key=lambda problem: problem.index)
    return results.tolist()


def _column(values: list[Any]) -> Any:
    """Return a float array if all values are plain numbers, else the list as it is."""
    if set(map(type, values)) <= _NUMBERS:
        try:
            return np.array(values, dtype=float)
        except OverflowError:  # a whole number of hundreds of digits; it is refused when it is read
            return values
    return values


def _groups(
    spec: FunctionSpec, arguments: Sequence[Any], each: Sequence[bool], count: int
) -> list[tuple[str, dict[int, Any], np.ndarray[Any, Any]]]:
    """Split the calls by the texts among their arguments (choices, units): within a group these are equal."""
    text_places = [i for i in range(len(arguments)) if i >= len(spec.arguments) or spec.arguments[i].kind is TEXT]
    varying = [i for i in text_places if each[i]]
    members: dict[tuple[Any, ...], list[int]] = {}
    if varying:
        for index, values in enumerate(zip(*(arguments[i] for i in varying))):
            key = tuple((value.__class__, value) for value in values)  # by class, since 1 equals TRUE
            members.setdefault(key, []).append(index)
    groups = []
    everything = np.arange(count)
    for key, indices in members.items() if varying else [((), None)]:
        texts = {i: arguments[i] for i in text_places} | {i: value for i, (_, value) in zip(varying, key)}
        place = len(spec.arguments)
        system = texts.pop(place, None)
        groups.append((system, texts, everything if indices is None else np.array(indices)))
    return groups


def _evaluate_group(
    spec: FunctionSpec,
    arguments: Sequence[Any],
    each: Sequence[bool],
    columns: Sequence[Any],
    system: Any,
    texts: dict[int, Any],
    members: np.ndarray[Any, Any],
    results: np.ndarray[Any, Any],
    problems: list[Problem],
) -> None:
    good = np.ones(len(members), dtype=bool)
    try:
        name = read_system(system)
        values: list[Any] = []
        for i, argument in enumerate(spec.arguments):
            if i >= len(arguments):
                values.append(read_default(argument))
            elif i in texts or not each[i]:
                values.append(read_one(argument, texts.get(i, arguments[i]), argument.kind.factor(name)))
            else:
                values.append(_read_column(argument, columns[i], members, name, good))
        _call_good(spec, values, name, members, good, results)
    except (PressError, PassedOn):
        good[:] = False  # an argument shared by the whole group is refused: each call says so itself
    for place in np.flatnonzero(~good):
        index = int(members[place])
        one = [a[index] if e else a for a, e in zip(arguments, each)]
        results[index] = evaluate_one(spec, one, index, problems)


def _read_column(
    argument: Argument,
    column: Any,
    members: np.ndarray[Any, Any],
    system: str,
    good: np.ndarray[Any, Any],
) -> np.ndarray[Any, Any]:
    """Return the core values of one argument for the group, and clear `good` where one is refused."""
    factor = argument.kind.factor(system)
    if isinstance(column, np.ndarray):
        numbers: np.ndarray[Any, Any] = column[members] * factor
        good &= np.isfinite(numbers)
        return numbers
    numbers = np.empty(len(members))
    for i, index in enumerate(members):
        value = column[index]
        if value.__class__ is float:
            numbers[i] = value * factor
            continue
        try:
            numbers[i] = read_one(argument, value, factor)
        except (PressError, PassedOn):
            numbers[i] = np.nan
    good &= np.isfinite(numbers)
    return numbers


def _call_good(
    spec: FunctionSpec,
    values: list[Any],
    system: str,
    members: np.ndarray[Any, Any],
    good: np.ndarray[Any, Any],
    results: np.ndarray[Any, Any],
) -> None:
    """Call the function on the good elements; each refusal sets its elements aside and the rest go on."""
    while good.any():
        chosen = [v[good] if isinstance(v, np.ndarray) else v for v in values]
        try:
            with np.errstate(all="ignore"):
                computed = spec.call(*chosen)
        except PressError as error:
            bad = getattr(error, "bad", None)
            places = np.flatnonzero(good)
            if isinstance(bad, np.ndarray) and bad.shape == places.shape and bad.any():
                good[places[bad]] = False
            else:
                good[:] = False
            continue
        except (ArithmeticError, ValueError):
            good[:] = False
            continue
        shown = np.broadcast_to(np.asarray(computed, dtype=float) / spec.result.factor(system), good.sum())
        finite = np.isfinite(shown)
        places = np.flatnonzero(good)
        results[members[places[finite]]] = shown[finite].tolist()
        good[places[~finite]] = False
        return
