"""`pressfuncs doctor`: what is installed, whether it computes, and what to do next; one line a finding."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from pressfuncs.cli.style import REFUSED, Command

if TYPE_CHECKING:
    from pressfuncs.hosts.calc_install import Office

OK, NOTE, BROKEN = "ok", "note", "broken"
NEEDED = ("click", "formualizer", "numpy", "openpyxl", "pint")
OLDEST_PYTHON = (3, 11)
SAMPLE = ("shearing_force", (471.239, 3.2, 310.0), 467.469088)
"""A function, its arguments in metric units and its result, checked by hand: 471.239 x 3.2 x 310 N."""

SETTINGS = (Path(".xlwings", "xlwings.conf"), Path(".myaddin", "myaddin.conf"))
"""Where xlwings looks for its settings in the user's folder: for its own add-in, and for one's own."""


class Finding(NamedTuple):
    """One thing looked at: "ok", "note" (may be wanted, or not) or "broken", what was found, and what to do."""

    status: str
    subject: str
    found: str
    next: str = ""

    def line(self) -> str:
        """Return the finding in one line."""
        cure = f": {self.next}" if self.next else ""
        return f"{self.status:<7} {self.subject:<12} {self.found}{cure}"


@click.command(cls=Command, name="doctor", example="pressfuncs doctor\npressfuncs doctor --json")
@click.option("--json", "as_json", is_flag=True, help="Print JSON, for programs.")
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """Look at what is installed and say what to do next, one line a finding.

    Evaluates a sample formula directly, in a workbook without an application, and in LibreOffice where the
    functions are installed there. Changes nothing.

    Exit status: 0 what is needed works, 1 something needed is broken.
    """
    findings = []
    for finding in examine():
        findings.append(finding)
        if not as_json:
            click.echo(finding.line())
    if as_json:
        click.echo(json.dumps([finding._asdict() for finding in findings], indent=2, ensure_ascii=False))
    ctx.exit(REFUSED if any(finding.status == BROKEN for finding in findings) else 0)


def examine() -> Iterator[Finding]:
    """Give the findings in order, each as soon as it is known."""
    yield _pressfuncs()
    yield _python()
    yield _packages()
    yield _sample_formula()
    yield _sample_workbook()
    yield from _libreoffice()
    yield from _excel(Path.home())


def _pressfuncs() -> Finding:
    import pressfuncs
    from pressfuncs.registry import FUNCTIONS

    place = Path(pressfuncs.__file__).parent
    return Finding(OK, "pressfuncs", f"{pressfuncs.__version__}, {len(FUNCTIONS)} functions, in {place}")


def _python() -> Finding:
    import platform

    found = f"{platform.python_version()} on {platform.system()}, {sys.executable}"
    if sys.version_info < OLDEST_PYTHON:
        return Finding(BROKEN, "Python", found, f"install Python {'.'.join(map(str, OLDEST_PYTHON))} or newer")
    return Finding(OK, "Python", found)


def _packages() -> Finding:
    from importlib.metadata import version

    missing = [name for name in NEEDED if find_spec(name) is None]
    if missing:
        cure = f'"{sys.executable}" -m pip install --upgrade pressfuncs'
        return Finding(BROKEN, "packages", f"missing: {', '.join(missing)}", cure)
    return Finding(OK, "packages", ", ".join(f"{name} {version(name)}" for name in NEEDED))


def _sample_formula() -> Finding:
    from pressfuncs.edge import evaluate
    from pressfuncs.registry import find

    name, arguments, wanted = SAMPLE
    found = evaluate(find(name), arguments)
    return _judged("formula", f"{_formula()} gives {found} kN", found, wanted)


def _sample_workbook() -> Finding:
    """Write a workbook with the sample formula and have its result refreshed, as `pressfuncs recalc` does."""
    from tempfile import TemporaryDirectory

    from openpyxl import Workbook, load_workbook

    from pressfuncs.batch.recalc import recalculate

    with TemporaryDirectory() as folder:
        path = Path(folder, "sample.xlsx")
        book = Workbook()
        book.active["A1"] = _formula()
        book.save(path)
        try:
            recalculate(path, path)
            found = load_workbook(path, data_only=True).active["A1"].value
        except Exception as error:  # whatever goes wrong here is the finding
            cause = " ".join(str(error).split()) or type(error).__name__
            return Finding(BROKEN, "workbook", f"was not recalculated ({cause})", "see 'pressfuncs recalc --help'")
    return _judged(
        "workbook", f"{_formula()} in a workbook, without an application, gives {found}", found, SAMPLE[2]
    )


def _formula() -> str:
    name, arguments, _ = SAMPLE
    return f"=PF_{name.upper()}({','.join(f'{value:g}' for value in arguments)})"


def _judged(subject: str, found: str, value: object, wanted: float) -> Finding:
    if isinstance(value, (int, float)) and abs(value - wanted) <= 1e-9 * wanted:
        return Finding(OK, subject, found)
    return Finding(
        BROKEN, subject, found, f"{wanted} is right; install pressfuncs anew and do not use the results"
    )


def _libreoffice() -> Iterator[Finding]:
    from pressfuncs._version import __version__
    from pressfuncs.hosts.calc_install import OfficeRefused, find_office

    try:
        office = find_office()
    except OfficeRefused:
        yield Finding(
            NOTE, "LibreOffice", "not found", "install it if you work in Calc, then pressfuncs connect calc"
        )
        return
    yield Finding(OK, "LibreOffice", f"{_office_version(office)}, in {office.unopkg.parent}")
    version, refusal = None, ""
    for all_users in (False, True):
        try:
            version = version or office.installed(all_users)
        except OfficeRefused as refused:
            refusal = str(refused)
    if version is None:
        found = f"cannot be asked for ({refusal})" if refusal and "root" not in refusal else "not installed"
        yield Finding(NOTE, "extension", found, "if you work in Calc: pressfuncs connect calc")
        return
    if version != __version__:
        yield Finding(NOTE, "extension", f"{version} is installed", "bring it up to date: pressfuncs connect calc")
    else:
        yield Finding(OK, "extension", f"{version} is installed")
    try:
        found_value = office.sample()
    except OfficeRefused as refused:
        yield Finding(
            NOTE, "Calc", f"did not compute the sample formula ({refused})", "close LibreOffice and try again"
        )
        return
    yield _judged("Calc", f"{_formula()} in Calc gives {found_value}", found_value, SAMPLE[2])


def _office_version(office: Office) -> str:
    import subprocess

    program = next(iter(sorted(office.unopkg.parent.glob("soffice*"))), None)
    if program is None:
        return "version unknown"
    try:
        done = subprocess.run(
            [str(program), "--version"], capture_output=True, text=True, stdin=subprocess.DEVNULL, timeout=60
        )
    except (OSError, subprocess.TimeoutExpired):
        return "version unknown"
    return done.stdout.strip() or "version unknown"


def _excel(home: Path) -> Iterator[Finding]:
    from importlib.metadata import version

    windows = sys.platform == "win32"
    if find_spec("xlwings") is None:
        cure = f'for Excel on Windows: "{sys.executable}" -m pip install "pressfuncs[excel]"'
        yield Finding(NOTE, "xlwings", "not installed", cure)
    elif windows:
        yield Finding(OK, "xlwings", version("xlwings"))
    else:
        found = f"{version('xlwings')}, but it calls Python from Excel on Windows only"
        yield Finding(
            NOTE, "xlwings", found, "here take LibreOffice, pressfuncs recalc or pressfuncs connect workbook"
        )
    for settings in SETTINGS:
        if (home / settings).is_file():
            yield _excel_settings(home / settings)


def _excel_settings(path: Path) -> Finding:
    """Look at settings of xlwings: the Python that they name must be there."""
    import csv

    with path.open(encoding="utf-8", errors="replace", newline="") as file:
        entries = {row[0].upper(): row[1] for row in csv.reader(file) if len(row) == 2}
    program = entries.get("INTERPRETER_WIN", "")
    if not program:
        return Finding(
            NOTE, "Excel", f"{path} names no Python", "write it anew: pressfuncs connect excel --to FOLDER"
        )
    if not Path(program).is_file():
        cure = "write it anew: pressfuncs connect excel --to FOLDER"
        return Finding(BROKEN, "Excel", f"{path} names {program}, which is not there", cure)
    return Finding(OK, "Excel", f"{path} names {program}")
