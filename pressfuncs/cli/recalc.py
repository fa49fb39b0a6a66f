"""`pressfuncs recalc`: refresh the stored results of workbooks, with no spreadsheet application."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import click

from pressfuncs.cli.progress import with_progress
from pressfuncs.cli.style import REFUSED, Command, Refused

if TYPE_CHECKING:
    from pressfuncs.batch.report import Digest, Wanted

STALE = 3
"""Exit status of a check that finds stored results out of date."""

_SUFFIXES = (".xlsx", ".xlsm")
_BROKEN_OFF = "every book is whole, either as it was or refreshed; run again for the rest"

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
@click.option(
    "--cross-check",
    is_flag=True,
    help="Compute ordinary formulas with formualizer, formulon and LibreOffice too, and list where they differ.",
)
@click.option("--one-engine", is_flag=True, help="Do not ask formulon where formualizer is at a loss.")
@click.option("--allow-signed", is_flag=True, help="Write digitally signed books too; their signature breaks.")
@click.option("--cell-by-cell", is_flag=True, help="Evaluate every call on its own; slow, with the same results.")
@click.option("--both-ways", is_flag=True, help="Evaluate both ways, and list where the results are not the same.")
@click.option(
    "--max-size",
    type=click.IntRange(1),
    default=2048,
    show_default=True,
    metavar="MB",
    help="Refuse a book that is larger than this when unpacked.",
)
@click.option(
    "--memory",
    type=click.IntRange(64),
    default=4096,
    show_default=True,
    metavar="MB",
    help="Give up on a book that needs more memory than this (not on Windows).",
)
@click.option(
    "--timeout",
    type=click.FloatRange(0, min_open=True),
    default=600,
    show_default=True,
    metavar="S",
    help="Give up on a book that takes longer than this.",
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
    cross_check: bool,
    one_engine: bool,
    allow_signed: bool,
    cell_by_cell: bool,
    both_ways: bool,
    max_size: int,
    memory: int,
    timeout: float,
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
    if cell_by_cell and both_ways:
        raise click.UsageError("--both-ways evaluates cell by cell too; leave --cell-by-cell out")
    files = find_books(books)
    if in_place:  # a link and the book it leads to are one book
        files = list({os.path.realpath(file): (file, below) for file, below in reversed(files)}.values())[::-1]
    destinations = _destinations(files, output, in_place)

    from dataclasses import replace
    from tempfile import TemporaryFile

    from pressfuncs.batch.archive import DEFAULT_LIMITS
    from pressfuncs.batch.many import recalculate_many
    from pressfuncs.batch.recalc import Options
    from pressfuncs.batch.report import Wanted
    from pressfuncs.batch.saving import replace_file, require_writable
    from pressfuncs.batch.workers import Bounds

    if report is not None:
        with _in_one_sentence():  # before an hour's work, not after it
            require_writable(_followed(report))
    limits = replace(DEFAULT_LIMITS, total=max_size << 20, part=max_size << 20)
    options = Options(
        everything, not cell_by_cell, allow_signed, clean_names, not one_engine, cross_check, both_ways, limits
    )
    wanted = Wanted(check, as_json, report is not None)
    jobs = list(zip((file for file, _ in files), destinations))
    with TemporaryFile("w+", encoding="utf-8", newline="") as csv:
        said = _Said(wanted, csv)
        bounds = Bounds(memory << 20, timeout)
        try:
            with closing(recalculate_many(jobs, options, wanted, bounds)) as digests:
                said.all_of(with_progress(digests, len(jobs)))
        except KeyboardInterrupt:
            click.echo(f"{len(said.rows)} of {len(jobs)} books done, then broken off: {_BROKEN_OFF}", err=True)
            raise
        if report is not None:
            with _in_one_sentence():  # through a temporary file: the report is whole, or not there
                replace_file(_followed(report), said.csv_pieces())
    click.get_current_context().exit(_status(said, check, strict))


def find_books(names: tuple[str, ...]) -> list[tuple[Path, Path]]:
    """Return (file, its name below the folder it was found in) for files, folders and patterns."""
    import glob

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
    elif output.exists() and not output.is_dir():
        raise click.UsageError(f"-o must be a folder for several books; {output} is a file")
    else:
        destinations = [output / below for _, below in files]
        if len(set(destinations)) < len(destinations):
            raise click.UsageError("two books would be written to the same file; run them one by one")
    for (file, _), destination in zip(files, destinations):
        if destination.exists() and file.exists() and os.path.samefile(file, destination):
            raise click.UsageError(f"{destination} is the book itself; say --in-place")
        if destination.suffix.lower() != file.suffix.lower():
            raise click.UsageError(f"the copy of {file.name} is an {file.suffix} too; name {destination} so")
        if len(files) > 1:
            destination.parent.mkdir(parents=True, exist_ok=True)
    return list(destinations)


class _Said:
    """Prints what is said about each book as it comes, and keeps of it only what the end of a run needs."""

    def __init__(self, wanted: Wanted, csv: TextIO) -> None:
        """Say nothing yet; rows for the CSV report are kept in a temporary file."""
        self.wanted, self.csv = wanted, csv
        self.rows: list[tuple[str, ...]] = []
        self.complete = True
        self.stale = self.doubtful = False

    def all_of(self, digests: Iterator[Digest]) -> None:
        """Say everything."""
        from pressfuncs.batch.report import CAUTION, closing_table, json_report

        taken = map(self.take, digests)
        if self.wanted.as_json:
            for piece in json_report((digest.json for digest in taken), self.wanted.check):
                click.echo(piece, nl=False)
            click.echo("")
            return
        for digest in taken:
            for line in digest.lines:
                click.echo(line, err=digest.refused)
        if len(self.rows) > 1:
            click.echo("")
            for line in closing_table(self.rows, self.wanted.check):
                click.echo(line)
        if not self.wanted.check:
            click.echo(CAUTION)

    def take(self, digest: Digest) -> Digest:
        self.rows.append(digest.row)
        self.complete &= digest.complete
        self.stale |= digest.stale
        self.doubtful |= digest.doubtful
        self.csv.write(digest.csv)
        return digest

    def csv_pieces(self) -> Iterator[bytes]:
        """Yield the bytes of the CSV report."""
        from pressfuncs.batch.report import csv_report

        self.csv.seek(0)
        pieces = csv_report(iter(lambda: self.csv.read(1 << 20), ""))
        yield next(pieces).encode("utf-8-sig")
        yield from (piece.encode() for piece in pieces)


def _status(said: _Said, check: bool, strict: bool) -> int:
    if not said.complete or (strict and said.doubtful):
        return REFUSED
    return STALE if check and said.stale else 0


def _followed(path: Path) -> Path:
    return Path(os.path.realpath(path))


@contextmanager
def _in_one_sentence() -> Iterator[None]:
    from pressfuncs.batch.refusals import Refused as FileRefused

    try:
        yield
    except FileRefused as refused:
        raise Refused(str(refused)) from None
