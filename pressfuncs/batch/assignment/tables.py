"""All pairs of an assignment as a flat table: CSV or Parquet, for what is too long for a sheet."""

from __future__ import annotations

import csv
import io
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from pressfuncs.batch.assignment.checks import Pairs, names_of
from pressfuncs.batch.assignment.ranking import STATUSES, Assignment, Progress
from pressfuncs.batch.csv_texts import guarded
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.saving import replace_file
from pressfuncs.functions._checks import CHECKS
from pressfuncs.quantities import FORCE, PART_RATE

SUFFIXES = (".csv", ".parquet")
_TEXT_COLUMNS = ("die", "press", "status", "first_failing", "not_checked")


def column_names(system: str) -> list[str]:
    """Return the columns of the table, with units in their names."""
    margins = [
        f"{check.name}_margin_{check.kind.unit(system)}".rstrip("_") for check in CHECKS if check.name != "kind"
    ]
    force = FORCE.unit(system)
    return [*_TEXT_COLUMNS, f"capacity_{force}", "utilisation", "parts_per_hour", "cost", *margins]


def write_pairs(result: Assignment, path: Path, system: str, progress: Progress | None = None) -> None:
    """Write every pair. The file is replaced only by a complete one.

    Raises:
        Refused: the ending is not .csv or .parquet, pyarrow is missing, or the file cannot be written.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise Refused("is neither .csv nor .parquet; choose one of these endings", path)
    names = column_names(system)
    pieces = (_columns(result, rows, pairs, system) for rows, pairs in result.pieces(progress))
    if path.suffix.lower() == ".csv":
        replace_file(Path(os.path.realpath(path)), _csv_pieces(names, pieces))
    else:
        _write_parquet(path, names, pieces)


def _columns(result: Assignment, rows: slice, pairs: Pairs, system: str) -> list[np.ndarray[Any, Any]]:
    """Return the columns of one piece, a value a pair."""
    status = result.status[rows]
    dies, presses = status.shape
    labels = np.array([check.label for check in CHECKS] + [""], dtype=object)
    fails = pairs.applies & (pairs.margins < 0)
    first = np.where(fails.any(axis=0), fails.argmax(axis=0), len(CHECKS))
    bits = {int(b): _labels(int(b)) for b in np.unique(pairs.unchecked)}
    missing = np.array([bits[int(b)] for b in pairs.unchecked.ravel()], dtype=object)
    margins = np.where(pairs.applies, pairs.margins, np.nan)
    with np.errstate(all="ignore"):
        utilisation = result.demand["stroke_force"][rows][:, np.newaxis] / pairs.capacity
    return [
        np.repeat(np.array(result.dies.ids[rows], dtype=object), presses),
        np.tile(np.array(result.presses.ids, dtype=object), dies),
        np.array(STATUSES, dtype=object)[status].ravel(),
        labels[first].ravel(),
        missing,
        (pairs.capacity / FORCE.factor(system)).ravel(),
        utilisation.ravel(),
        (pairs.part_rate / PART_RATE.factor(system)).ravel(),
        pairs.cost.ravel(),
        *(
            (margin / check.kind.factor(system)).ravel()
            for check, margin in zip(CHECKS, margins)
            if check.name != "kind"
        ),
    ]


def _labels(bits: int) -> str:
    return ", ".join(check.label for check in names_of(bits))


def _csv_pieces(names: list[str], pieces: Iterator[list[np.ndarray[Any, Any]]]) -> Iterator[bytes]:
    """Yield the bytes of the CSV file, piece by piece."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(names)
    yield text.getvalue().encode("utf-8-sig")
    for columns in pieces:
        text.seek(0)
        text.truncate()
        writer.writerows(zip(*(_csv_column(column) for column in columns)))
        yield text.getvalue().encode("utf-8")


def _csv_column(column: np.ndarray[Any, Any]) -> list[Any]:
    """Return a column for the CSV writer: a figure that is not known is left blank, no text runs as a formula."""
    if column.dtype == object:
        changed = {text: safe for text in set(column) if (safe := guarded(text)) != text}
        return [changed.get(text, text) for text in column] if changed else list(column)
    return ["" if value != value else value for value in column.tolist()]


def _write_parquet(path: Path, names: list[str], pieces: Iterator[list[np.ndarray[Any, Any]]]) -> None:
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        raise Refused("needs pyarrow: pip install 'pressfuncs[parquet]', or choose .csv", path) from None
    schema = pa.schema(
        [(name, pa.string() if i < len(_TEXT_COLUMNS) else pa.float64()) for i, name in enumerate(names)]
    )
    with tempfile.TemporaryFile() as file:
        with pq.ParquetWriter(file, schema) as writer:
            for columns in pieces:
                arrays = [pa.array(c, from_pandas=True, type=t) for c, t in zip(columns, schema.types)]
                writer.write_table(pa.Table.from_arrays(arrays, schema=schema))
        file.seek(0)
        replace_file(Path(os.path.realpath(path)), iter(lambda: file.read(1 << 20), b""))
