"""`pressfuncs assign`: match a die register against a press register."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pressfuncs.cli.style import Command, Refused

if TYPE_CHECKING:
    from pressfuncs.batch.assignment.ranking import Assignment

EXAMPLE = """\
pressfuncs assign register.xlsx register.xlsx -o assigned.xlsx
pressfuncs assign dies.csv presses.xlsx -o assigned.xlsx --top 5 --units inch
pressfuncs assign dies.csv presses.csv --pairs pairs.csv"""


@click.command(cls=Command, name="assign", example=EXAMPLE)
@click.argument("dies", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.argument("presses", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("-o", "--output", type=click.Path(path_type=Path, dir_okay=False), help="Write this workbook.")
@click.option(
    "--pairs",
    "pairs_file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write every pair with its margins to this .csv or .parquet file.",
)
@click.option("--top", type=click.IntRange(1), default=3, show_default=True, help="Presses to rank for each die.")
@click.option(
    "--load-limit",
    type=click.FloatRange(0, 1, min_open=True),
    default=0.8,
    show_default=True,
    help="Share of the capacity that may be used.",
)
@click.option(
    "--units",
    type=click.Choice(("metric", "inch")),
    default="metric",
    show_default=True,
    help="Units of bare numbers under headings without a unit, and of what is written.",
)
@click.option("--die-sheet", help="Sheet or table of the dies; else the one with the most known headings.")
@click.option("--press-sheet", help="Sheet or table of the presses.")
@click.option(
    "--fields",
    "fields_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A TOML file with the shop's own headings.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the ranking as JSON.")
def command(
    dies: Path,
    presses: Path,
    output: Path | None,
    pairs_file: Path | None,
    top: int,
    load_limit: float,
    units: str,
    die_sheet: str | None,
    press_sheet: str | None,
    fields_file: Path | None,
    as_json: bool,
) -> None:
    """Say which press runs which die: every check of every pair, the best presses first.

    DIES and PRESSES are .xlsx, .xlsm, .ods or .csv files, or the same workbook twice. Headings are read as
    people write them, units from the heading or the cell. What passes is ranked: cheapest first, then the
    smallest press. A missing figure makes a check "not checked", never passed.

    Exit status: 0 done, 1 a register was refused, 2 wrong usage.
    """
    if output is None and pairs_file is None and not as_json:
        raise click.UsageError("give -o OUT.xlsx, --pairs FILE or --json")
    from pressfuncs.batch.assignment import book, fields, ranking, registers, tables
    from pressfuncs.batch.refusals import Refused as FileRefused

    try:
        own = fields.read_own_headings(fields_file) if fields_file else {}
        die_register = registers.read_register(dies, "die", die_sheet, units, own.get("die"))
        press_register = registers.read_register(presses, "press", press_sheet, units, own.get("press"))
        with _progress("matching", len(die_register), as_json) as step:
            result = ranking.assign(die_register, press_register, load_limit, top, step)
        if output is not None:
            options = [
                ("Load limit", f"{load_limit:g}"),
                ("Presses ranked for each die", str(top)),
                ("Units", units),
            ]
            with _progress("writing", len(die_register), as_json) as step:
                book.write_book(result, output, units, options, step)
        if pairs_file is not None:
            with _progress("pairs", len(die_register), as_json) as step:
                tables.write_pairs(result, pairs_file, units, step)
    except FileRefused as refused:
        raise Refused(str(refused)) from None
    if as_json:
        click.echo(json.dumps(as_dict(result, units), indent=2, ensure_ascii=False))
        return
    for line in summary(result, units):
        click.echo(line)
    for path in (output, pairs_file):
        if path is not None:
            click.echo(f"written: {path}")


@contextlib.contextmanager
def _progress(label: str, length: int, quiet: bool) -> Iterator[Callable[[int], None]]:
    hidden = quiet or not sys.stderr.isatty()
    with click.progressbar(length=length, label=label, file=sys.stderr, hidden=hidden) as bar:
        yield bar.update


def summary(result: Assignment, system: str) -> Iterator[str]:
    """Yield a short table: the best press of each die, and why the others have none."""
    from pressfuncs.batch.assignment.ranking import NOT_SUITABLE, STATUSES
    from pressfuncs.batch.report import CAUTION

    most = 12
    best = result.status.min(axis=1) if result.status.size else []
    counts = ", ".join(f"{sum(int(s) == n for s in best)} {words}" for n, words in enumerate(STATUSES))
    yield f"{len(result.dies)} dies, {len(result.presses)} presses: {counts}"
    rows: list[tuple[str, ...]] = []
    for pair in result.ranked():
        if pair.rank == 1 and len(rows) < most:
            used = "" if pair.utilisation != pair.utilisation else f"{pair.utilisation:.0%}"
            cost = "" if pair.cost != pair.cost else f"{pair.cost:.4f}"
            rate = "" if pair.part_rate != pair.part_rate else f"{pair.part_rate * 3600:.0f}"
            rows.append((result.dies.ids[pair.die], result.presses.ids[pair.press], pair.status, used, rate, cost))
        if len(rows) == most:
            break
    if rows:
        yield from _aligned([("die", "best press", "status", "used", "parts/h", "cost a part"), *rows])
    without = [die for die, status in zip(result.dies.ids, best) if STATUSES[int(status)] == NOT_SUITABLE]
    if without:
        yield f"no press takes: {', '.join(without[:most])}{' ...' if len(without) > most else ''}"
    troubles = len(result.dies.troubles) + len(result.presses.troubles)
    if troubles:
        yield f"{troubles} rows or columns of the registers have problems, see the sheet Problems or --json"
    yield CAUTION


def _aligned(rows: list[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    for row in rows:
        left = [cell.ljust(width) for cell, width in zip(row[:3], widths)]
        right = [cell.rjust(width) for cell, width in zip(row[3:], widths[3:])]
        yield "  ".join(left + right).rstrip()


def as_dict(result: Assignment, system: str) -> dict[str, Any]:
    """Return the ranking, the dies without a press and the problems as plain data, in shown units."""
    from pressfuncs._version import __version__
    from pressfuncs.batch.assignment.checks import CHECKS
    from pressfuncs.batch.assignment.ranking import shown
    from pressfuncs.batch.report import CAUTION
    from pressfuncs.quantities import FORCE, PART_RATE

    dies, presses = result.dies, result.presses

    def entry(pair: Any) -> dict[str, Any]:
        return {
            "press": presses.ids[pair.press],
            "rank": pair.rank or None,
            "status": pair.status,
            "capacity": shown(pair.capacity, FORCE.factor(system)),
            "utilisation": shown(pair.utilisation, 1.0),
            "parts_per_hour": shown(pair.part_rate, PART_RATE.factor(system)),
            "cost": shown(pair.cost, 1.0),
            "margins": {
                check.name: shown(margin, check.kind.factor(system)) for check, margin in zip(CHECKS, pair.margins)
            },
            "failing": [pair.shortage(check, system) for check in pair.failed],
            "not_checked": [check.label for check in pair.unchecked],
        }

    found: dict[str, dict[str, Any]] = {die: {"die": die, "ranked": [], "failing": []} for die in dies.ids}
    for pair in result.ranked():
        found[dies.ids[pair.die]]["ranked"].append(entry(pair))
    for pair in result.failing():
        found[dies.ids[pair.die]]["failing"].append(entry(pair))
    return {
        "version": __version__,
        "units": {check.name: check.kind.unit(system) for check in CHECKS} | {"capacity": FORCE.unit(system)},
        "load_limit": result.load_limit,
        "caution": CAUTION,
        "dies": list(found.values()),
        "problems": [vars(trouble) for trouble in [*dies.troubles, *presses.troubles]],
    }
