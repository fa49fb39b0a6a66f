"""`pressfuncs assign`: match a die register against a press register."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click

from pressfuncs.cli.style import Command, Refused

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
    help="Share of the capacity that may be used, of presses that state none; else 0.8 for straight-side and"
    " column frames, 0.6 for all others.",
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
    "--decimal",
    type=click.Choice(("comma", "point")),
    help="How numbers that are written as text have their decimals, where 1.200 may be 1.2 or 1200.",
)
@click.option(
    "--fields",
    "fields_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A TOML file with the shop's own headings.",
)
@click.option(
    "--profile",
    "profile_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A TOML file: what blanks mean in this shop's registers, and checks that need not be made.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the ranking as JSON.")
def command(
    dies: Path,
    presses: Path,
    output: Path | None,
    pairs_file: Path | None,
    top: int,
    load_limit: float | None,
    units: str,
    die_sheet: str | None,
    press_sheet: str | None,
    decimal: str | None,
    fields_file: Path | None,
    profile_file: Path | None,
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
    if load_limit is not None and not 0 < load_limit <= 1:  # the range lets "nan" through
        raise click.UsageError("--load-limit is not a number above 0 and at most 1")
    for path in (output, pairs_file):
        if path is not None and path.exists() and (path.samefile(dies) or path.samefile(presses)):
            raise Refused(f"{path.name}: is one of the registers, which are never written over; name another file")
    from pressfuncs.batch.assignment import book, fields, profile, ranking, registers, report, tables
    from pressfuncs.batch.refusals import Refused as FileRefused
    from pressfuncs.batch.report import CAUTION

    try:
        own = fields.read_own_headings(fields_file) if fields_file else {}
        die_register = registers.read_register(dies, "die", die_sheet, units, own.get("die"), decimal)
        press_register = registers.read_register(presses, "press", press_sheet, units, own.get("press"), decimal)
        declared = profile.read_profile(profile_file, units) if profile_file else None
        with _progress("matching", len(die_register), as_json) as step:
            result = ranking.assign(die_register, press_register, load_limit, top, step, declared)
        if output is not None:
            options = [
                (
                    "Load limit",
                    "by the press or its frame"
                    if load_limit is None
                    else f"{load_limit:g}, if a press states none",
                ),
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
        click.echo(json.dumps(report.as_dict(result, units), indent=2, ensure_ascii=False))
        return
    for line in [*report.summary(result), *report.notices((die_register, press_register))]:
        click.echo(line)
    click.echo(CAUTION)
    for path in (output, pairs_file):
        if path is not None:
            click.echo(f"written: {path}")


@contextlib.contextmanager
def _progress(label: str, length: int, quiet: bool) -> Iterator[Callable[[int], None]]:
    hidden = quiet or not sys.stderr.isatty()
    with click.progressbar(length=length, label=label, file=sys.stderr, hidden=hidden) as bar:
        yield bar.update
