"""Figures worked out from a register by the functions of the library, NaN where they need what is not known."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any

import numpy as np

from pressfuncs.batch.assignment.registers import Floats, Register
from pressfuncs.errors import PressError
from pressfuncs.quantities import FORCE, Kind

Columns = dict[str, Floats]
"""A column table: every column of the same length, in core units, NaN where a figure is missing."""


def known(function: Callable[..., Any], *arguments: Any) -> Floats:
    """Apply a library function where all its arguments are there and in range; NaN elsewhere."""
    columns = np.broadcast_arrays(*arguments)
    shape = columns[0].shape
    flat = [column.ravel() for column in columns]
    good = np.logical_and.reduce([np.isfinite(column) for column in flat])
    if good.all():
        with contextlib.suppress(PressError):
            return np.asarray(function(*flat)).reshape(shape)
    result = np.full(flat[0].size, np.nan)
    while good.any():
        try:
            result[good] = function(*(column[good] for column in flat))
            break
        except PressError as error:
            bad = getattr(error, "bad", None)
            places = np.flatnonzero(good)
            if not isinstance(bad, np.ndarray) or bad.shape != places.shape or not bad.any():
                break
            good[places[bad]] = False
    return result.reshape(shape)


def first_given(*columns: Floats) -> Floats:
    """Return, for each entry, the first figure that is given."""
    result = columns[0]
    for column in columns[1:]:
        result = np.where(np.isnan(result), column, result)
    return result


def unread(register: Register, name: str) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Return which entries have something under a field that could not be read."""
    return register.unread.get(name, np.zeros(len(register), bool))


def given_else(register: Register, name: str, *worked_out: Floats) -> Floats:
    """Return a field as given, else as worked out; what stands there and could not be read stays unknown."""
    return np.where(unread(register, name), np.nan, first_given(register.number(name), *worked_out))


def note_each(register: Register, rows: Any, rule: str, kind: Kind = FORCE, **figures: Floats) -> None:
    """Note a sentence for each entry where `rows` is true, with its own figures in it."""
    for i in np.flatnonzero(rows):
        shown = {name: kind.show(float(column[i]), register.system) for name, column in figures.items()}
        register.note(f"row {register.rows[i]}", register.ids[i], rule.format(**shown))


def note_refused(register: Register, function: Callable[..., Any], *columns: Floats) -> None:
    """Note each entry whose figures are all there and yet impossible together."""
    there = np.logical_and.reduce([np.isfinite(column) for column in columns])
    for i in np.flatnonzero(there & np.isnan(known(function, *columns))):
        try:
            function(*(float(column[i]) for column in columns))
        except PressError as error:
            register.note(f"row {register.rows[i]}", register.ids[i], error.sentence(register.system))
