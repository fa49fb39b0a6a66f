"""`pressfuncs new`: a copy of a workbook template."""

from __future__ import annotations

from pathlib import Path

import click

from pressfuncs.cli.style import Command, Refused, nearest
from pressfuncs.quantities import SYSTEMS

_SUFFIX = ".xlsx"


@click.command(
    cls=Command,
    name="new",
    example="pressfuncs new --list\n"
    "pressfuncs new press_capacity\n"
    "pressfuncs new quote --units inch -o bracket_quote.xlsx",
)
@click.argument("template", required=False)
@click.option(
    "-o",
    "--output",
    metavar="PATH",
    type=click.Path(path_type=Path),
    help="Write this workbook, or into this folder; else into the current one.",
)
@click.option(
    "--units", type=click.Choice(SYSTEMS), default=SYSTEMS[0], show_default=True, help="Variant to copy."
)
@click.option("--force", is_flag=True, help="Replace a workbook that is there already.")
@click.option("--list", "listing", is_flag=True, help="Show the templates.")
@click.pass_context
def command(
    ctx: click.Context, template: str | None, output: Path | None, units: str, force: bool, listing: bool
) -> None:
    """Copy a workbook template, with an invented example in it.

    A template holds inputs, formulas with the press functions, charts and a help sheet. Its results are stored in
    it, so that any spreadsheet program shows them; to compute them anew after a change: pressfuncs recalc.

    Exit status: 0 done, 1 the workbook is there already, 2 wrong usage.
    """
    from pressfuncs.batch.report import CAUTION
    from pressfuncs.build.templates import described, file_name
    from pressfuncs.templates import template_path

    known = described()
    if listing:
        width = max(map(len, known))
        click.echo("\n".join(f"{name:<{width}}  {what}" for name, what in known.items()))
        return
    if template is None:
        ctx.fail("which template? 'pressfuncs new --list' shows them")
    name = template.removesuffix(_SUFFIX)
    if name not in known:
        ctx.fail(f'there is no template "{template}"{nearest(name, list(known))}')
    source = template_path(file_name(name, units))
    target = _target(output, source.name)
    try:
        with target.open("wb" if force else "xb") as file:
            file.write(source.read_bytes())
    except FileExistsError as error:
        raise Refused(f"{target} is there already; --force replaces it") from error
    click.echo(f"written: {target}\n{CAUTION}")


def _target(output: Path | None, name: str) -> Path:
    """Return where the copy goes; refused if a spreadsheet program would not open it under that name."""
    if output is None:
        return Path(name)
    if output.is_dir():
        return output / name
    if output.suffix.lower() != _SUFFIX:
        raise Refused(f"{output}: the name of the workbook must end with {_SUFFIX}")
    return output
