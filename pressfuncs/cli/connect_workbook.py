"""`pressfuncs connect workbook`: give a workbook the functions it uses, as names that need no add-in."""

from __future__ import annotations

import os
from pathlib import Path

import click

from pressfuncs.cli.style import Command, Refused

CAUTION = "Planning figures only: verify on the machine's plate and the maker's capacity curve."


@click.command(
    cls=Command, name="workbook", example="pressfuncs connect workbook register.xlsx -o register-365.xlsx"
)
@click.argument("book", metavar="BOOK", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write here; never BOOK itself.",
)
@click.option("--partly", is_flag=True, help="Write also where some functions cannot be put into the workbook.")
def command(book: Path, output: Path, partly: bool) -> None:
    """Give a workbook the functions it uses as workbook names, for Excel 365 with no add-in.

    BOOK is an .xlsx or .xlsm file with PF_ formulas. Each function it uses becomes a name that holds a LAMBDA
    formula, generated from the function itself: same names, same results, also on a Mac and in the browser.
    Only the workbook's list of names changes. Numbers are taken as numbers: text with a unit is refused.
    """
    from pressfuncs._version import __version__
    from pressfuncs.batch.names_added import MARK, Definition, add_names, functions_used, missing_from
    from pressfuncs.batch.package import Package
    from pressfuncs.batch.refusals import Refused as BookRefused
    from pressfuncs.build import lambda_names
    from pressfuncs.registry import find

    if output.exists() and book.exists() and os.path.samefile(book, output):
        raise click.UsageError(f"{output} is the book itself; write to another file")
    try:
        with Package.open(book) as package:
            uses = functions_used(package)
            known = lambda_names.names()
            wanted = sorted(uses.plain & set(known))
            problems = [_why(name) for name in missing_from(uses.plain, known)]
            problems += [
                f"{name} is called through an add-in by its name" for name in sorted(uses.through_an_add_in)
            ]
            if not wanted and not problems:
                raise Refused(f"{book}: no formula calls a PF_ function, so there is nothing to add")
            for problem in problems:
                click.echo(f"left out: {problem}", err=True)
            if problems and not (partly and wanted):
                raise Refused(f"{book}: nothing was written; with --partly the other functions are put in")
            definitions = {
                name: Definition(known[name].in_file, f"{MARK}{__version__}: {find(name).docs.summary}")
                for name in wanted
            }
            added = add_names(package, definitions, output)
    except BookRefused as refused:
        raise Refused(str(refused)) from refused
    for what, found in (("added", added.added), ("renewed", added.replaced), ("kept", added.kept)):
        if found:
            click.echo(f"{what}: {', '.join(found)}")
    click.echo(f"written: {output}")
    click.echo("In Excel 365 press Ctrl+Alt+F9 once, so that every formula is computed by the names.")
    click.echo(CAUTION)


def _why(name: str) -> str:
    from pressfuncs.build import lambda_names

    reason = lambda_names.refused().get(name)
    return f"{name} {reason}" if reason else f"{name} is no function of pressfuncs"
