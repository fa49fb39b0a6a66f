"""`pressfuncs connect excel`: write what Excel for Windows needs, and say what to do with it."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from pressfuncs.cli.style import Command

MODULE_FILE = "pressfuncs.bas"
SETTINGS_FILES = ("xlwings.conf", "myaddin.conf")
"""Where xlwings looks: beside a macro workbook under its own name, for an add-in of one's own under "myaddin"."""

STEPS = """\
Next, in Windows (docs/excel.md has every step, and what to do when it does not work):
  an add-in for all workbooks:
    xlwings quickstart pf_addin --addin
    copy myaddin.conf to the folder .myaddin in your user folder
    open pf_addin.xlam, press Alt+F11, File > Import File: pressfuncs.bas
    run the macro PressfuncsRegister, save, then: xlwings addin install -f pf_addin.xlam
  one macro workbook:
    xlwings quickstart pf_book --standalone
    copy xlwings.conf beside pf_book.xlsm
    open it, press Alt+F11, File > Import File: pressfuncs.bas, run PressfuncsRegister, save
Excel on a Mac or in the browser: pressfuncs connect workbook. LibreOffice: pressfuncs connect calc."""


@click.command(cls=Command, name="excel", example="pressfuncs connect excel --to pressfuncs-excel")
@click.option(
    "--to",
    "folder",
    required=True,
    metavar="FOLDER",
    type=click.Path(path_type=Path, file_okay=False),
    help="Write the files here; the folder is made if it is not there.",
)
@click.option(
    "--python",
    metavar="PROGRAM",
    help="The Python that Excel shall run, with pressfuncs and xlwings in it.  [default: this one]",
)
def command(folder: Path, python: str | None) -> None:
    """Write what Excel for Windows needs: the functions as a VBA module, and settings for xlwings.

    Only writes files and installs nothing. Excel calls Python through xlwings, on Windows only.
    """
    from pressfuncs.build import excel_vba

    folder.mkdir(parents=True, exist_ok=True)
    module = folder / MODULE_FILE
    module.write_bytes(excel_vba.render().encode("ascii"))
    click.echo(f"written: {module}")
    for name in SETTINGS_FILES:
        (folder / name).write_bytes(settings(python or sys.executable).encode("utf-8"))
        click.echo(f"written: {folder / name}")
    click.echo(STEPS)


def settings(python: str) -> str:
    """Return the settings of xlwings: which Python, and never a module from beside a workbook."""
    lines = {"INTERPRETER_WIN": python, "ADD_WORKBOOK_TO_PYTHONPATH": "False"}
    return "".join(f'"{key}","{value}"\r\n' for key, value in lines.items())
