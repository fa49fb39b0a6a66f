"""`pressfuncs connect`: put the functions into a spreadsheet application."""

from __future__ import annotations

import importlib
from pathlib import Path
from tempfile import TemporaryDirectory

import click

from pressfuncs.cli.style import Command, ExampleGroup, Refused

IN_OTHER_MODULES = ("excel", "workbook")
"""Sub-commands that stand in modules of their own, `connect_<name>`, loaded when they are wanted."""


class Connections(ExampleGroup):
    """The group of sub-commands, one for each way."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of the sub-commands."""
        return [*super().list_commands(ctx), *IN_OTHER_MODULES]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import a sub-command; None if there is none of this name."""
        if cmd_name in IN_OTHER_MODULES:
            found: click.Command = importlib.import_module(f"pressfuncs.cli.connect_{cmd_name}").command
            return found
        return super().get_command(ctx, cmd_name)


@click.group(cls=Connections, name="connect", example="pressfuncs connect calc")
def command() -> None:
    """Put the functions into a spreadsheet application.

    Planning figures only: verify on the machine's plate and the maker's capacity curve.
    """


CALC_EXAMPLE = """\
pressfuncs connect calc
pressfuncs connect calc --to pressfuncs.oxt
pressfuncs connect calc --remove"""


@command.command(cls=Command, name="calc", example=CALC_EXAMPLE)
@click.option(
    "--to",
    "file",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Only write the extension to this file.",
)
@click.option("--remove", is_flag=True, help="Take the functions out of LibreOffice again.")
@click.option("--all-users", is_flag=True, help="For all users of this computer; needs the rights to install.")
@click.option(
    "--unopkg",
    metavar="PROGRAM",
    type=click.Path(path_type=Path),
    help="The program unopkg of the LibreOffice meant, if it is not found by itself.",
)
def calc(file: Path | None, remove: bool, all_users: bool, unopkg: Path | None) -> None:
    """Install the functions in LibreOffice Calc.

    One extension in pure Python with all functions, their help texts and tables; it replaces an older version of
    itself. Close LibreOffice before, and start it again after.
    """
    if file is not None and (remove or all_users or unopkg is not None):
        raise click.UsageError("--to only writes a file: leave the other options out")
    from pressfuncs.build.calc_extension import FILE_NAME, build

    if file is not None:
        file.write_bytes(build())
        click.echo(f"written: {file}; open it in LibreOffice to install it")
        return
    from pressfuncs.hosts.calc_install import OfficeRefused, find_office

    whose = "for all users" if all_users else "for this user"
    try:
        office = find_office(unopkg)
        if remove:
            office.remove(all_users)
            click.echo(f"removed {whose}; start LibreOffice again")
            return
        with TemporaryDirectory() as folder:
            extension = Path(folder, FILE_NAME)
            extension.write_bytes(build())
            office.add(extension, all_users)
        version = office.installed(all_users)
    except OfficeRefused as refused:
        raise Refused(str(refused)) from refused
    click.echo(f"installed {whose}: pressfuncs {version}")
    click.echo("Start LibreOffice again; the functions begin with PF_ and stand in the wizard under Add-In.")
