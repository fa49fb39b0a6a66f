"""`pressfuncs draw`: the dies of a register as drawings, as files or on sheets of a workbook."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pressfuncs.cli.style import REFUSED, Command, Refused

if TYPE_CHECKING:
    from pressfuncs.drawing.die import Die
    from pressfuncs.drawing.run import Result
    from pressfuncs.drawing.sheets import Style

EXAMPLE = """\
pressfuncs draw register.xlsx --die D-503 -o D-503.pdf
pressfuncs draw register.xlsx --all -o drawings/ --format dxf --format pdf
pressfuncs draw register.xlsx --die D-503 --into register.xlsx -o register_with_drawing.xlsx
pressfuncs draw --demo --all -o drawings/"""

_FORMATS = ("dxf", "svg", "pdf", "png")


@click.command(cls=Command, name="draw", example=EXAMPLE)
@click.argument("register", metavar="[REGISTER]", required=False, type=click.Path(path_type=Path))
@click.option("--die", "names", metavar="ID", multiple=True, help="Draw this die; may be given several times.")
@click.option("--all", "everything", is_flag=True, help="Draw all dies of the register.")
@click.option("--demo", is_flag=True, help="Draw from the register of invented dies that comes with pressfuncs.")
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help="A file for one die, a folder for several.",
)
@click.option(
    "--into", "book", type=click.Path(path_type=Path), help="Put the drawings on sheets of a copy of BOOK."
)
@click.option(
    "--format",
    "formats",
    type=click.Choice(_FORMATS),
    multiple=True,
    help="Formats in a folder; dxf if none is named.",
)
@click.option(
    "--presses", type=click.Path(path_type=Path), help="A register of presses, for blank figures of presses."
)
@click.option(
    "--sheet", metavar="NAME", help="Sheet or table of the register; else the one that looks most like it."
)
@click.option(
    "--fields",
    "fields_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A TOML file with the shop's own headings, as assign takes it; [drawing] holds those of drawings only.",
)
@click.option(
    "--profile",
    "profile_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A TOML file: what blanks mean in this shop's registers, and checks that need not be made.",
)
@click.option("--units", type=click.Choice(["metric", "inch"]), default="metric", show_default=True)
@click.option("--projection", type=click.Choice(["first", "third"]), default="first", show_default=True)
@click.option("--paper", type=click.Choice(["auto", "A3", "A4"]), default="auto", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def command(
    register: Path | None,
    names: tuple[str, ...],
    everything: bool,
    demo: bool,
    output: Path,
    book: Path | None,
    formats: tuple[str, ...],
    presses: Path | None,
    sheet: str | None,
    fields_file: Path | None,
    profile_file: Path | None,
    units: str,
    projection: Any,
    paper: Any,
    as_json: bool,
) -> None:
    """Draw dies of a register to scale: plans, views, section, and the closed die in its press.

    REGISTER is .xlsx, .xlsm, .ods or .csv with a row a die. A dimension that it does not hold is "not given" in
    the drawing and in the report; figures that contradict each other are refused. Bare numbers of the register
    and of the drawing are in the same units. Whether the die suits its press is judged as by assign.

    Exit status: 0 done; 1 a die or a row was refused; 2 wrong usage.
    """
    if (register is None) != demo:
        raise click.UsageError("give a REGISTER, or --demo")
    if bool(names) == everything:
        raise click.UsageError("give --die ID or --all")
    try:
        from pressfuncs.drawing import run
    except ImportError as error:
        raise Refused(f"drawing needs {error.name}: pip install 'pressfuncs[drawing]'") from error
    from pressfuncs.batch.assignment.fields import read_own_headings
    from pressfuncs.batch.assignment.profile import read_profile
    from pressfuncs.batch.refusals import Refused as FileRefused
    from pressfuncs.drawing.die import read_dies
    from pressfuncs.drawing.sheets import Style

    path = register if register is not None else run.DEMO
    style = Style(units, projection, paper)
    try:
        own = read_own_headings(fields_file) if fields_file else None
        declared = read_profile(profile_file, units) if profile_file else None
        dies = read_dies(path, sheet, units, presses or (run.DEMO_PRESSES if demo else None), own, declared)
        chosen = dies.dies if everything else [dies.die(name) for name in names]
        results = _draw(
            chosen, path.parent, style, output, formats, book, single=not everything and len(names) == 1
        )
    except FileRefused as refused:
        raise Refused(str(refused)) from refused
    wanted = {name.casefold() for die in chosen for name in (die.id, die.text("press"))}
    troubles = [t for t in dies.troubles if everything or not t.name or t.name.casefold() in wanted]
    if as_json:
        click.echo(json.dumps(run.as_dict(results, troubles, units), indent=2, ensure_ascii=False))
    else:
        for line in run.report(results, troubles, units):
            click.echo(line)
    failed = any(result.refusal for result in results) or any(trouble.name for trouble in troubles)
    click.get_current_context().exit(REFUSED if failed else 0)


def _draw(
    dies: list[Die],
    folder: Path,
    style: Style,
    output: Path,
    formats: tuple[str, ...],
    book: Path | None,
    single: bool,
) -> list[Result]:
    """Draw the dies one after the other; one that is refused never stops the rest."""
    from pressfuncs.drawing import run

    if book is not None:
        if formats:
            raise click.UsageError("--format is for a folder; a workbook takes pictures")
        job = run.Job(folder, style, output.parent, (), keep=True)
    elif single and not output.is_dir():
        if formats or output.suffix.lower()[1:] not in _FORMATS:
            raise click.UsageError(
                f"name the format by the end of the file: {', '.join('.' + f for f in _FORMATS)}"
            )
        job = run.Job(folder, style, output.parent, (output.suffix.lower(),), stem=output.stem)
    else:
        output.mkdir(parents=True, exist_ok=True)
        job = run.Job(folder, style, output, tuple(f".{f}" for f in formats or ("dxf",)))
    hidden = len(dies) == 1 or not sys.stderr.isatty()
    with click.progressbar(dies, file=sys.stderr, item_show_func=lambda d: d and d.id, hidden=hidden) as shown:
        results = [job.draw(die) for die in shown]
    if book is not None:
        run.into(book, output, results)
    return results
