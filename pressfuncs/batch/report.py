"""What is said after a recalculation: as text for people, as JSON for programs, as CSV rows for a file."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pressfuncs._version import __version__
from pressfuncs.batch.both_ways import Ways
from pressfuncs.batch.crosscheck import Crossed
from pressfuncs.batch.csv_texts import guarded
from pressfuncs.batch.outcome import Outcome
from pressfuncs.errors import CellError

CAUTION = (
    "Planning figures only: verify on the machine's plate and the maker's capacity curve; guarding, stopping"
    " distance and lifting follow the local code and a competent, licensed person; never try a die to find out."
)
CSV_COLUMNS = ("file", "sheet", "cell", "what", "function", "before", "after", "sentence")
RESTING = "it depends on an ordinary formula that differs from its stored value: one of the two is wrong"
MARKED = "it cannot be refreshed and rests on a result that is an error now"
_LISTED = 12  # lines of one kind in the text report; the JSON and CSV reports hold all
_NAMED = 5  # functions named as those in which engine and file disagree most
_NO_FUNCTION = "formulas without a function"


@dataclass(frozen=True)
class Wanted:
    """Which reports are to be made."""

    check: bool = False
    """whether the run only checks"""
    as_json: bool = False
    as_csv: bool = False


@dataclass(frozen=True)
class Digest:
    """What is said about one file, ready to be printed: small enough for runs over thousands."""

    path: Path
    refused: bool
    complete: bool
    stale: bool
    """whether a stored result was, or is, out of date"""
    doubtful: bool
    """whether --strict objects to it"""
    lines: list[str]
    row: tuple[str, ...]
    json: str = ""
    csv: str = ""


@dataclass(frozen=True)
class FileResult:
    """One file of a run: its outcome, or the sentence that says why it was refused."""

    path: Path
    outcome: Outcome | None = None
    refusal: str = ""


def digest(result: FileResult, wanted: Wanted) -> Digest:
    """Make the reports on one file."""
    outcome = result.outcome or Outcome(result.path)
    return Digest(
        path=result.path,
        refused=result.outcome is None,
        complete=result.outcome is not None
        and outcome.complete
        and not (outcome.ways and outcome.ways.differences),
        stale=bool(outcome.changes),
        doubtful=bool(outcome.disagreements or outcome.left_alone or outcome.failing)
        or bool(outcome.crossed and outcome.crossed.differences),
        lines=[] if wanted.as_json else list(text_report(result, wanted.check)),
        row=closing_row(result),
        json=_json_object(_json_file(result)) if wanted.as_json else "",
        csv=_csv_file(result) if wanted.as_csv else "",
    )


def plain(value: Any) -> Any:
    """Return a cell value as JSON and CSV have it: error values as their code, a blank as None."""
    return value.code if isinstance(value, CellError) else value


def text_report(result: FileResult, check: bool) -> Iterator[str]:
    """Yield the lines of the report on one file."""
    if result.outcome is None:
        yield f"{result.path}: {result.refusal}"
        return
    outcome = result.outcome
    yield f"{result.path}: {headline(outcome, check)}"
    yield from _section(
        "LOOK HERE FIRST: results of PF functions that rest on an ordinary formula which differs from its stored"
        " value; they may be wrong",
        [f"{sheet}!{cell}" for sheet, cell in outcome.resting],
    )
    yield from _section(
        "functions that refuse their input",
        [f"{f.sheet}!{f.cell}  {f.error}  {f.function}: {f.sentence}" for f in outcome.failing],
    )
    marked, reasons = set(outcome.marked), {(f.sheet, f.cell): f.reason for f in outcome.frozen}
    yield from _section(
        "CANNOT BE REFRESHED and rest on a result that is an error now: marked #N/A",
        [f"{sheet}!{cell}  {reasons.get((sheet, cell), '')}".rstrip() for sheet, cell in outcome.marked],
    )
    yield from _section(
        "formulas that cannot be computed here, kept as stored",
        [f"{f.sheet}!{f.cell}  {f.reason}" for f in outcome.frozen if (f.sheet, f.cell) not in marked],
    )
    yield from _section(
        "not refreshed, since they depend on those",
        [f"{sheet}!{cell}" for sheet, cell in outcome.not_refreshed if (sheet, cell) not in marked],
    )
    yield from _section(
        "ordinary formulas that differ from their stored value, left as stored"
        " (if a program changed inputs, --all refreshes them)",
        [
            f"{d.sheet}!{d.cell}  stored {_shown(d.stored)}, computed {_shown(d.computed)}"
            + (f"  ({', '.join(d.functions)})" if d.functions else "")
            for d in outcome.disagreements
        ],
    )
    if len(outcome.disagreements) > 1:
        yield f"  engine and file disagree most in: {_distrusted(outcome)}"
    if outcome.crossed is not None:
        yield from _crossed(outcome.crossed)
    if outcome.ways is not None:
        yield from _ways(outcome.ways)
    if outcome.settled:
        yield f"  {_counted(outcome.settled, 'formula')} settled by the second engine, formulon"
    if outcome.unasked:
        yield f"  {outcome.unasked}"
    if outcome.renamed:
        yield f"  {outcome.renamed} calls given their plain names"
    if outcome.nothing_stored:
        yield "  nothing was stored before, so nothing could be compared"
    if outcome.volatile:
        yield f"  {_counted(outcome.volatile, 'volatile formula')} (TODAY, RAND ...) kept as stored"
    if outcome.left_alone:
        left, have = _counted(outcome.left_alone, "formula"), "has" if outcome.left_alone == 1 else "have"
        yield f"  {left} that cannot be computed here and {have} nothing to do with PF functions"


def _crossed(crossed: Crossed) -> Iterator[str]:
    engines = ", ".join(crossed.engines)
    compared = _counted(crossed.compared, "ordinary formula")
    yield f"  engines compared: {engines}; {compared}, {crossed.agreed} the same in all"
    yield from (f"  {sentence}" for sentence in crossed.remarks)
    yield from _section(
        "ordinary formulas on which the engines differ",
        [
            f"{d.sheet}!{d.cell}  "
            + ", ".join(f"{name} {_shown(value)}" for name, value in d.values.items())
            + (f"  ({', '.join(d.functions)})" if d.functions else "")
            for d in crossed.differences
        ],
    )
    yield from _section(
        "by function: formulas that differ, of those compared",
        [f"{name}  {differing} of {compared}" for name, (differing, compared) in crossed.functions.items()],
    )


def _ways(ways: Ways) -> Iterator[str]:
    if not ways.differences:
        yield f"  column by column and cell by cell: {_counted(ways.results, 'result')}, all the same"
    yield from _section(
        "RESULTS THAT DIFFER column by column and cell by cell, a fault of pressfuncs: use --cell-by-cell instead",
        [
            f"{d.sheet}!{d.cell}  by columns {_shown(d.by_columns)}, by cells {_shown(d.by_cells)}"
            for d in ways.differences
        ],
    )


def headline(outcome: Outcome, check: bool) -> str:
    """Say in half a line what happened to a file."""
    changed = len(outcome.changes)
    if not outcome.calls and not changed and outcome.complete:
        return "holds no PF functions to refresh"
    cells = _counted(changed, "stored result")
    if check:
        words = f"{cells} out of date" if changed else "up to date"
    else:
        words = f"{cells} refreshed" if changed else "already up to date"
    kept = len(outcome.frozen) + len(outcome.not_refreshed)
    if kept:
        words += f"; {_counted(kept, 'formula')} NOT REFRESHED"
        words += f", {_counted(len(outcome.marked), 'cell')} MARKED #N/A" if outcome.marked else ""
    return f"{words}; {len(outcome.resting)} REST ON DOUBTFUL VALUES" if outcome.resting else words


def _counted(count: int, what: str) -> str:
    return f"1 {what}" if count == 1 else f"{count} {what}s"


def _section(title: str, lines: list[str]) -> Iterator[str]:
    if not lines:
        return
    yield f"  {title} ({len(lines)}):"
    yield from (f"    {line}" for line in lines[:_LISTED])
    if len(lines) > _LISTED:
        yield f"    and {len(lines) - _LISTED} more (--json or --report FILE lists all)"


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, float):
        return format(value, ".10g")
    return f'"{value}"' if isinstance(value, str) else str(plain(value))


def closing_row(result: FileResult) -> tuple[str, ...]:
    """Return the line on one file for the table at the end of a run over several."""
    if result.outcome is None:
        return (str(result.path), "-", "-", "-", "-", "refused")
    outcome = result.outcome
    kept = len(outcome.frozen) + len(outcome.not_refreshed)
    counts = (len(outcome.changes), len(outcome.failing), kept, len(outcome.disagreements))
    note = "" if outcome.complete else "not complete"
    return (str(result.path), *(str(count) for count in counts), note)


def closing_table(found: Iterable[tuple[str, ...]], check: bool) -> Iterator[str]:
    """Yield a table with one line a file, from their `closing_row`."""
    headings = ("file", "out of date" if check else "refreshed", "errors", "kept", "differ", "")
    rows = [headings, *found]
    widths = [max(len(row[i]) for row in rows) for i in range(len(headings))]
    for row in rows:
        cells = [row[0].ljust(widths[0]), *(row[i].rjust(widths[i]) for i in range(1, 5)), row[5]]
        yield "  ".join(cells).rstrip()


def json_report(files: Iterable[str], check: bool) -> Iterator[str]:
    """Yield a run as JSON, piece by piece, from the JSON of each file."""
    head = json.dumps(
        {"version": __version__, "check": check, "caution": CAUTION, "files": []}, indent=2, ensure_ascii=False
    )
    yield head.removesuffix("]\n}")
    before = "\n"
    for file in files:
        yield before + "    " + file.replace("\n", "\n    ")
        before = ",\n"
    yield "]\n}" if before == "\n" else "\n  ]\n}"


def _json_object(fields: dict[str, Any]) -> str:
    """Return an object as JSON text; of a list each element is a line, since there may be a million of them."""
    pieces = []
    for name, value in fields.items():
        if isinstance(value, Iterable) and not isinstance(value, (str, dict)):
            lines = ",\n".join("    " + json.dumps(element, ensure_ascii=False) for element in value)
            text = f"[\n{lines}\n  ]" if lines else "[]"
        else:
            text = json.dumps(value, indent=2, ensure_ascii=False).replace("\n", "\n  ")
        pieces.append(f'  "{name}": {text}')
    return "{\n" + ",\n".join(pieces) + "\n}"


def _json_file(result: FileResult) -> dict[str, Any]:
    outcome = result.outcome
    if outcome is None:
        return {"file": str(result.path), "refused": result.refusal}
    return {
        "file": str(result.path),
        "written": str(outcome.written) if outcome.written else None,
        "complete": outcome.complete,
        "nothing_stored": outcome.nothing_stored,
        "calls": outcome.calls,
        "compared": outcome.compared,
        "volatile": outcome.volatile,
        "left_alone": outcome.left_alone,
        "settled": outcome.settled,
        "unasked": outcome.unasked,
        "renamed": outcome.renamed,
        "cross_check": _json_crossed(outcome.crossed),
        "both_ways": _json_ways(outcome.ways),
        "changes": (
            {"sheet": c.sheet, "cell": c.cell, "before": plain(c.before), "after": plain(c.after)}
            for c in outcome.changes
        ),
        "failing": [
            {"sheet": f.sheet, "cell": f.cell, "function": f.function, "error": f.error, "sentence": f.sentence}
            for f in outcome.failing
        ],
        "frozen": [{"sheet": f.sheet, "cell": f.cell, "reason": f.reason} for f in outcome.frozen],
        "resting": [{"sheet": sheet, "cell": cell} for sheet, cell in outcome.resting],
        "marked": [{"sheet": sheet, "cell": cell} for sheet, cell in outcome.marked],
        "not_refreshed": [{"sheet": sheet, "cell": cell} for sheet, cell in outcome.not_refreshed],
        "disagreements": [
            {
                "sheet": d.sheet,
                "cell": d.cell,
                "stored": plain(d.stored),
                "computed": plain(d.computed),
                "functions": list(d.functions),
            }
            for d in outcome.disagreements
        ],
        "disagreements_by_function": dict(_by_function(outcome)),
    }


def _by_function(outcome: Outcome) -> list[tuple[str, int]]:
    """Return in how many of the cells that differ each function stands, the most frequent one first."""
    found = Counter(name for d in outcome.disagreements for name in dict.fromkeys(d.functions))
    return sorted(found.items(), key=lambda item: (-item[1], item[0]))


def _distrusted(outcome: Outcome) -> str:
    """Say which functions the reader should distrust: "SUBTOTAL 12 of 40 cells, TEXT 3"."""
    found = _by_function(outcome)
    alone = sum(not d.functions for d in outcome.disagreements)
    if alone:
        found = sorted([*found, (_NO_FUNCTION, alone)], key=lambda item: -item[1])
    (first, count), *others = found[:_NAMED]
    words = [f"{first} {count} of {len(outcome.disagreements)} cells", *(f"{name} {n}" for name, n in others)]
    return ", ".join(words) + (f", and {len(found) - _NAMED} more" if len(found) > _NAMED else "")


def _json_crossed(crossed: Crossed | None) -> dict[str, Any] | None:
    if crossed is None:
        return None
    return {
        "engines": list(crossed.engines),
        "compared": crossed.compared,
        "agreed": crossed.agreed,
        "remarks": crossed.remarks,
        "differences": [
            {
                "sheet": d.sheet,
                "cell": d.cell,
                "values": {name: plain(value) for name, value in d.values.items()},
                "functions": list(d.functions),
            }
            for d in crossed.differences
        ],
        "by_function": {
            name: {"differing": differing, "compared": compared}
            for name, (differing, compared) in crossed.functions.items()
        },
    }


def _json_ways(ways: Ways | None) -> dict[str, Any] | None:
    if ways is None:
        return None
    differences = [
        {"sheet": d.sheet, "cell": d.cell, "by_columns": plain(d.by_columns), "by_cells": plain(d.by_cells)}
        for d in ways.differences
    ]
    return {"results": ways.results, "differences": differences}


def csv_report(files: Iterable[str]) -> Iterator[str]:
    """Yield the CSV of a run, piece by piece, from the rows of each file."""
    yield _csv([CSV_COLUMNS])
    yield from files


def _csv(rows: Iterable[Sequence[Any]]) -> str:
    out = io.StringIO()
    csv.writer(out).writerows([guarded(v) if isinstance(v, str) else v for v in row] for row in rows)
    return out.getvalue()


def _csv_file(result: FileResult) -> str:
    """Return one CSV row for everything that changed, failed or was kept in a file."""
    return _csv((str(result.path), *row) for row in _csv_rows(result))


def _csv_rows(result: FileResult) -> Iterator[tuple[Any, ...]]:
    outcome = result.outcome
    if outcome is None:
        yield "", "", "refused", "", "", "", result.refusal
        return
    for c in outcome.changes:
        yield c.sheet, c.cell, "changed", "", plain(c.before), plain(c.after), ""
    for f in outcome.failing:
        yield f.sheet, f.cell, "failing", f.function, "", f.error, f.sentence
    for z in outcome.frozen:
        yield z.sheet, z.cell, "cannot be computed", "", "", "", z.reason
    for sheet, cell in outcome.not_refreshed:
        yield sheet, cell, "not refreshed", "", "", "", "it depends on one of those"
    for sheet, cell in outcome.marked:
        yield sheet, cell, "marked", "", "", "#N/A", MARKED
    for d in outcome.disagreements:
        yield (
            d.sheet,
            d.cell,
            "differs",
            " ".join(d.functions),
            plain(d.stored),
            plain(d.computed),
            "left as stored",
        )
    for e in outcome.crossed.differences if outcome.crossed else ():
        said = ", ".join(f"{name} {_shown(value)}" for name, value in e.values.items())
        yield e.sheet, e.cell, "engines differ", " ".join(e.functions), "", "", said
    for sheet, cell in outcome.resting:
        yield sheet, cell, "rests on a difference", "", "", "", RESTING
