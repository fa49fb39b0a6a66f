"""What is said after a recalculation: as text for people, as JSON for programs, as CSV rows for a file."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pressfuncs._version import __version__
from pressfuncs.batch.recalc import Outcome
from pressfuncs.errors import CellError

CAUTION = (
    "Planning figures only: verify on the machine's plate and the maker's capacity curve; guarding, stopping"
    " distance and lifting follow the local code and a competent, licensed person; never try a die to find out."
)
CSV_COLUMNS = ("file", "sheet", "cell", "what", "function", "before", "after", "sentence")
_LISTED = 12  # lines of one kind in the text report; the JSON and CSV reports hold all


@dataclass(frozen=True)
class FileResult:
    """One file of a run: its outcome, or the sentence that says why it was refused."""

    path: Path
    outcome: Outcome | None = None
    refusal: str = ""


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
        "functions that refuse their input",
        [f"{f.sheet}!{f.cell}  {f.error}  {f.function}: {f.sentence}" for f in outcome.failing],
    )
    yield from _section(
        "formulas that cannot be computed here, kept as stored",
        [f"{f.sheet}!{f.cell}  {f.reason}" for f in outcome.frozen],
    )
    yield from _section(
        "not refreshed, since they depend on those", [f"{sheet}!{cell}" for sheet, cell in outcome.not_refreshed]
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
    if outcome.renamed:
        yield f"  {outcome.renamed} calls given their plain names"
    if outcome.nothing_stored:
        yield "  nothing was stored before, so nothing could be compared"
    for count, words in (
        (outcome.volatile, "volatile formulas (TODAY, RAND ...) kept as stored"),
        (outcome.left_alone, "formulas that cannot be computed here and have nothing to do with PF functions"),
    ):
        if count:
            yield f"  {count} {words}"


def headline(outcome: Outcome, check: bool) -> str:
    """Say in half a line what happened to a file."""
    changed = len(outcome.changes)
    if not outcome.calls and not changed and outcome.complete:
        return "holds no PF functions to refresh"
    cells = "1 stored result" if changed == 1 else f"{changed} stored results"
    if check:
        return f"{cells} out of date" if changed else "up to date"
    return f"{cells} refreshed" if changed else "already up to date"


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


def closing_table(results: list[FileResult], check: bool) -> Iterator[str]:
    """Yield a table with one line a file, for runs over several."""
    headings = ("file", "out of date" if check else "refreshed", "errors", "kept", "differ", "")
    rows: list[tuple[str, ...]] = [headings]
    for result in results:
        if result.outcome is None:
            rows.append((str(result.path), "-", "-", "-", "-", "refused"))
            continue
        outcome = result.outcome
        kept = len(outcome.frozen) + len(outcome.not_refreshed)
        counts = (len(outcome.changes), len(outcome.failing), kept, len(outcome.disagreements))
        note = "" if outcome.complete else "not complete"
        rows.append((str(result.path), *(str(count) for count in counts), note))
    widths = [max(len(row[i]) for row in rows) for i in range(len(headings))]
    for row in rows:
        cells = [row[0].ljust(widths[0]), *(row[i].rjust(widths[i]) for i in range(1, 5)), row[5]]
        yield "  ".join(cells).rstrip()


def json_report(results: list[FileResult], check: bool) -> str:
    """Return everything about a run as JSON."""
    return json.dumps(
        {
            "version": __version__,
            "check": check,
            "caution": CAUTION,
            "files": [_json_file(result) for result in results],
        },
        indent=2,
        ensure_ascii=False,
    )


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
        "renamed": outcome.renamed,
        "changes": [
            {"sheet": c.sheet, "cell": c.cell, "before": plain(c.before), "after": plain(c.after)}
            for c in outcome.changes
        ],
        "failing": [
            {"sheet": f.sheet, "cell": f.cell, "function": f.function, "error": f.error, "sentence": f.sentence}
            for f in outcome.failing
        ],
        "frozen": [{"sheet": f.sheet, "cell": f.cell, "reason": f.reason} for f in outcome.frozen],
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
        "disagreements_by_function": dict(
            Counter(name for d in outcome.disagreements for name in d.functions).most_common()
        ),
    }


def csv_report(results: list[FileResult]) -> str:
    """Return one CSV row for everything that changed, failed or was kept."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(CSV_COLUMNS)
    for result in results:
        name, outcome = str(result.path), result.outcome
        if outcome is None:
            writer.writerow((name, "", "", "refused", "", "", "", result.refusal))
            continue
        for c in outcome.changes:
            writer.writerow((name, c.sheet, c.cell, "changed", "", plain(c.before), plain(c.after), ""))
        for f in outcome.failing:
            writer.writerow((name, f.sheet, f.cell, "failing", f.function, "", f.error, f.sentence))
        for z in outcome.frozen:
            writer.writerow((name, z.sheet, z.cell, "cannot be computed", "", "", "", z.reason))
        for sheet, cell in outcome.not_refreshed:
            writer.writerow((name, sheet, cell, "not refreshed", "", "", "", "it depends on one of those"))
        for d in outcome.disagreements:
            functions = " ".join(d.functions)
            row = (name, d.sheet, d.cell, "differs", functions, plain(d.stored), plain(d.computed))
            writer.writerow((*row, "left as stored"))
    return out.getvalue()
