"""`pressfuncs functions`: the list of functions by chapter, or the page of one."""

from __future__ import annotations

import json

import click

from pressfuncs.cli.style import Command


@click.command(
    cls=Command, name="functions", example="pressfuncs functions\npressfuncs functions PF_SHEARING_FORCE"
)
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
@click.pass_context
def command(ctx: click.Context, name: str | None, as_json: bool) -> None:
    """List the functions, or show the page of one.

    NAME is taken with or without PF_, in any letter case, with dashes or underscores.
    """
    from pressfuncs.cli import handbook

    if name is None:
        if as_json:
            click.echo(_json([handbook.entry(spec) for specs in handbook.by_chapter().values() for spec in specs]))
        else:
            click.echo(handbook.listing())
        return
    spec = handbook.find_function(name, ctx)
    if as_json:
        click.echo(_json(handbook.as_data(spec)))
    else:
        click.echo(handbook.page(spec, ctx.make_formatter()))


def _json(data: object) -> str:
    return json.dumps(data, indent=2, ensure_ascii=False)
