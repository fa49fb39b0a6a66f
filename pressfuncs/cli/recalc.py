"""`pressfuncs recalc`: refresh the stored results of workbooks, with no spreadsheet application."""

from __future__ import annotations

import glob
import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pressfuncs.cli.style import REFUSED, Command, Refused

if TYPE_CHECKING:
    from pressfuncs.batch.recalc import Options
    from pressfuncs.batch.report import FileResult

STALE = 3
"""Exit status of a check that finds stored results out of date."""

_SUFFIXES = (".xlsx", ".xlsm")

EXAMPLE = """\
pressfuncs recalc register.xlsx --check
pressfuncs recalc register.xlsx -o refreshed.xlsx
pressfuncs recalc registers/ --in-place --report report.csv"""


@click.command(cls=Command, name="recalc", example=EXAMPLE)
@click.argument("books", metavar="BOOK...", nargs=-1, required=True)
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="Write here: a file, or a folder for several books."
)
@click.option("--in-place", is_flag=True, help="Replace each book by its refreshed self.")
@click.option("--check", is_flag=True, help="Write nothing; exit 3 if stored results are out of date.")
@click.option(
    "--all",
    "everything",
    is_flag=True,
    help="Refresh every formula, not only PF functions and what hangs on them.",
)
@click.option(
    "--strict", is_flag=True, help="Exit 1 also where a formula differs from its stored value or is left alone."
)
@click.option(
    "--clean-names",
    is_flag=True,
    help="Give PF functions their plain names where LibreOffice 7.4 or Excel wrote longer ones.",
)
@click.option("--allow-signed", is_flag=True, help="Write digitally signed books too; their signature breaks.")
@click.option("--cell-by-cell", is_flag=True, help="Evaluate every call on its own; slow, with the same results.")
@click.option(
    "--max-size",
    type=click.IntRange(1),
    default=2048,
    show_default=True,
    metavar="MB",
    help="Refuse a book that is larger than this when unpacked.",
)
@click.option(
    "--report",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write every change and finding to this CSV file.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def command(
    books: tuple[str, ...],
    output: Path | None,
    in_place: bool,
    check: bool,
    everything: bool,
    strict: bool,
    clean_names: bool,
    allow_signed: bool,
    cell_by_cell: bool,
    max_size: int,
    report: Path | None,
    as_json: bool,
) -> None:
    """Refresh the stored results of PF functions in workbooks, with no spreadsheet application.

    BOOK is an .xlsx or .xlsm file, a folder or a pattern. Only stored results change, and only those of PF
    functions and of formulas that depend on them: formulas stay formulas, everything else stays byte for byte.

    Exit status: 0 done; 1 a book was refused, or a result that ought to be refreshed could not be; 2 wrong
    usage; 3 (with --check) stored results are out of date.
    """
    if (output is not None) + in_place + check != 1:
        raise click.UsageError("give one of -o OUT, --in-place or --check")
    files = find_books(books)
    destinations = _destinations(files, output, in_place)

    from pressfuncs.batch import report as reports
    from pressfuncs.batch.archive import DEFAULT_LIMITS
    from pressfuncs.batch.recalc import Options

    limits = replace(DEFAULT_LIMITS, total=max_size << 20, part=max_size << 20)
    options = Options(everything, not cell_by_cell, allow_signed, clean_names, limits)
    results = _run(files, destinations, options)
    if as_json:
        click.echo(reports.json_report(results, check))
    else:
        for result in results:
            for line in reports.text_report(result, check):
                click.echo(line, err=result.outcome is None)
        if len(results) > 1:
            click.echo("")
            for line in reports.closing_table(results, check):
                click.echo(line)
        if not check:
            click.echo(reports.CAUTION)
    if report is not None:
        write_text(report, reports.csv_report(results))
    click.get_current_context().exit(_status(results, check, strict))


def find_books(names: tuple[str, ...]) -> list[tuple[Path, Path]]:
    """Return (file, its name below the folder it was found in) for files, folders and patterns."""
    found: dict[Path, Path] = {}
    for name in names:
        path = Path(name)
        if path.is_dir():
            inside = [
                file
                for file in sorted(path.rglob("*"))
                if file.suffix.lower() in _SUFFIXES and not file.name.startswith((".", "~$")) and file.is_file()
            ]
            if not inside:
                raise Refused(f"{name}: the folder holds no .xlsx or .xlsm files")
            found.update((file, file.relative_to(path)) for file in inside)
        elif path.exists() or not glob.has_magic(name):
            found[path] = Path(path.name)
        else:
            matches = sorted(Path(match) for match in glob.glob(name, recursive=True) if os.path.isfile(match))
            if not matches:
                raise Refused(f"{name}: no file is named like this")
            found.update((match, Path(match.name)) for match in matches)
    return list(found.items())


def _destinations(files: list[tuple[Path, Path]], output: Path | None, in_place: bool) -> list[Path | None]:
    if in_place:
        return [file for file, _ in files]
    if output is None:
        return [None] * len(files)
    if len(files) == 1 and not output.is_dir():
        destinations = [output]
    else:
        destinations = [output / below for _, below in files]
        if len(set(destinations)) < len(destinations):
            raise click.UsageError("two books would be written to the same file; run them one by one")
    for (file, _), destination in zip(files, destinations):
        if destination.exists() and file.exists() and os.path.samefile(file, destination):
            raise click.UsageError(f"{destination} is the book itself; say --in-place")
        if len(files) > 1:
            destination.parent.mkdir(parents=True, exist_ok=True)
    return list(destinations)


def _run(files: list[tuple[Path, Path]], destinations: list[Path | None], options: Options) -> list[FileResult]:
    """Recalculate the books one after the other; a bad one never stops the rest."""
    jobs = list(zip((file for file, _ in files), destinations))
    if len(jobs) == 1:
        return [_one(*jobs[0], options)]
    hidden = not sys.stderr.isatty()
    with click.progressbar(jobs, file=sys.stderr, item_show_func=_shown, hidden=hidden) as shown:
        return [_one(file, destination, options) for file, destination in shown]


def _shown(job: tuple[Path, Path | None] | None) -> str | None:
    return None if job is None else job[0].name


def _one(file: Path, destination: Path | None, options: Options) -> FileResult:
    from pressfuncs.batch.recalc import recalculate
    from pressfuncs.batch.refusals import Refused as BookRefused
    from pressfuncs.batch.report import FileResult

    try:
        return FileResult(file, recalculate(file, destination, options))
    except BookRefused as refused:
        return FileResult(file, refusal=refused.sentence)
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException as error:  # the engine's own panic is no Exception; the next book must not suffer
        cause = f"{type(error).__name__}: {error}".splitlines()[0]
        return FileResult(
            file, refusal=f"a fault of pressfuncs itself ({cause}): please report it; the book is untouched"
        )


def _status(results: list[FileResult], check: bool, strict: bool) -> int:
    outcomes = [result.outcome for result in results]
    if any(outcome is None or not outcome.complete for outcome in outcomes):
        return REFUSED
    done = [outcome for outcome in outcomes if outcome is not None]
    if strict and any(outcome.disagreements or outcome.left_alone or outcome.failing for outcome in done):
        return REFUSED
    return STALE if check and any(outcome.changes for outcome in done) else 0


def write_text(path: Path, text: str) -> None:
    """Write a report through a temporary file, so that it is whole or not there."""
    from pressfuncs.batch.refusals import Refused as FileRefused
    from pressfuncs.batch.saving import replace_file

    try:
        replace_file(Path(os.path.realpath(path)), (text.encode("utf-8-sig"),))
    except FileRefused as refused:
        raise Refused(str(refused)) from None
