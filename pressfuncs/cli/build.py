"""`pressfuncs build`: bring generated files up to date, or prove that none has drifted; for contributors."""

from __future__ import annotations

import os
from pathlib import Path

import click

from pressfuncs.cli.style import Command, Refused


@click.command(cls=Command, name="build", example="pressfuncs build --check")
@click.option("--check", is_flag=True, help="Write nothing; exit 1 and name the files that have drifted.")
def command(check: bool) -> None:
    """Write generated files anew, for contributors.

    Indexes, tables, reference pages and templates; works in a checkout of the source.
    """
    from pressfuncs.build import generate

    if not (generate.PACKAGE.parent / "pyproject.toml").exists():
        raise Refused("build works in a checkout of the source, not in an installed package")
    if check:
        drifted = generate.drifted()
        for path in drifted:
            click.echo(f"drifted: {_shown(path)}")
        if drifted:
            raise Refused("generated files have drifted: run 'pressfuncs build' and commit what it writes")
        click.echo(f"{generate.count()} generated files are up to date")
        return
    for path in generate.write():
        click.echo(f"written: {_shown(path)}")


def _shown(path: Path) -> str:
    return os.path.relpath(path)
