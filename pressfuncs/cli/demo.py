"""`pressfuncs demo`: a die register with one thicker sheet, recalculated; dies matched with presses."""

from __future__ import annotations

import json
from pathlib import Path

import click

from pressfuncs.cli.style import Command, Refused


@click.command(cls=Command, name="demo", example="pressfuncs demo\npressfuncs demo /tmp/press-demo --json")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path, file_okay=False))
@click.option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
def command(folder: Path | None, as_json: bool) -> None:
    """Recalculate an invented die register after one change, and match dies with presses.

    Copies the register of forty invented dies to DIR (default: pressfuncs-demo), gives one die a thicker sheet,
    recalculates without a spreadsheet application, and shows what changed and which dies no longer fit their
    press. Then matches the sixty rows of a second, less tidy register with fourteen presses, and shows the best
    press of the first few; the workbook with all of them is in DIR.
    """
    from pressfuncs import demo
    from pressfuncs.batch.refusals import Refused as BookRefused

    try:
        done = demo.run_demo(folder if folder is not None else demo.DEFAULT_FOLDER)
    except BookRefused as refused:
        raise Refused(str(refused)) from refused
    click.echo(json.dumps(demo.as_dict(done), indent=2, ensure_ascii=False) if as_json else demo.render(done))
