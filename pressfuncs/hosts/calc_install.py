"""The LibreOffice on this computer: found, given the extension, asked whether the functions work in it."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pressfuncs.hosts.calc.signatures import IDENTIFIER

PLACES = (
    "/usr/lib/libreoffice/program",
    "/usr/lib64/libreoffice/program",
    "/opt/libreoffice*/program",
    "/Applications/LibreOffice.app/Contents/MacOS",
    "C:/Program Files/LibreOffice/program",
    "C:/Program Files (x86)/LibreOffice/program",
)
"""Where an office is if the search path does not lead to it."""

_SECONDS = 300
SAMPLE = ("=PF_SHEARING_FORCE(471.239,3.2,310)", 467.469088)
"""A formula and its result, in kN, to try an installed extension with."""


class OfficeRefused(Exception):
    """LibreOffice is not there or did not do it; the message is a sentence with the cure."""


@dataclass(frozen=True)
class Office:
    """A LibreOffice: the program that adds extensions to it, and options for every start of its programs."""

    unopkg: Path
    options: Sequence[str] = ()

    def add(self, extension: Path, all_users: bool) -> None:
        """Add an extension, in the place of an older version of it."""
        self._run("add", "--force", *_shared(all_users), str(extension))

    def remove(self, all_users: bool) -> None:
        """Take the extension away."""
        if self.installed(all_users) is None:
            whose = "for all users" if all_users else "for this user"
            raise OfficeRefused(f"the functions are not installed {whose}, nothing was removed")
        self._run("remove", *_shared(all_users), IDENTIFIER)

    def installed(self, all_users: bool) -> str | None:
        """Return the version of the extension that is installed; None if there is none."""
        listed = self._run("list", *_shared(all_users))
        found = re.search(rf"^Identifier: {re.escape(IDENTIFIER)}\s+Version: (\S+)", listed, re.MULTILINE)
        return found[1] if found else None

    def sample(self) -> float | None:
        """Return what the office makes of the sample formula in a workbook; None if that is not a number."""
        from openpyxl import Workbook

        with tempfile.TemporaryDirectory() as folder:
            book = Workbook()
            book.active["A1"] = SAMPLE[0]
            book.save(Path(folder, "sample.xlsx"))
            self._start(
                _beside(self.unopkg, "soffice"),
                *("--headless", "--convert-to", "csv", "--outdir", folder, str(Path(folder, "sample.xlsx"))),
            )
            result = Path(folder, "sample.csv")
            if not result.exists():
                return None
            with result.open(newline="") as file:
                text = next(csv.reader(file), [""])[0]
        try:
            return float(text.replace(",", "."))
        except ValueError:
            return None

    def _run(self, *words: str) -> str:
        done = self._start(self.unopkg, *words)
        if done.returncode:
            raise OfficeRefused(_sentence(done.stdout + done.stderr, words[0]))
        return done.stdout

    def _start(self, program: Path, *words: str) -> subprocess.CompletedProcess[str]:
        try:
            return subprocess.run(
                [str(program), *words, *self.options],
                capture_output=True,
                text=True,
                encoding="utf-8",
                errors="replace",
                stdin=subprocess.DEVNULL,
                timeout=_SECONDS,
            )
        except subprocess.TimeoutExpired as error:
            raise OfficeRefused(
                f"LibreOffice did not answer in {_SECONDS} s: close it on every desktop and run again"
            ) from error


def find_office(unopkg: Path | None = None) -> Office:
    """Return the LibreOffice of this computer, or the one whose unopkg is given.

    Raises:
        OfficeRefused: there is none.
    """
    if unopkg is not None:
        if not unopkg.is_file():
            raise OfficeRefused(f"{unopkg} is not there: give the program unopkg in LibreOffice's program folder")
        return Office(unopkg)
    for start in ("unopkg", "soffice", "libreoffice"):
        found = shutil.which(start)
        if found:
            program = Path(found) if start == "unopkg" else _beside(Path(found).resolve(), "unopkg")
            if program.is_file():
                return Office(program)
    for place in PLACES:
        anchor = Path(place).anchor or "/"
        for folder in sorted(Path(anchor).glob(place[len(anchor) :])) if Path(anchor).exists() else ():
            program = _beside(folder / "soffice", "unopkg")
            if program.is_file():
                return Office(program)
    raise OfficeRefused(
        "LibreOffice was not found: install it, or name its program unopkg with --unopkg; "
        "or write the extension with --to FILE and open that file in LibreOffice"
    )


def _beside(program: Path, name: str) -> Path:
    """Return the program of this name in the same folder."""
    names = (f"{name}.com", f"{name}.exe") if sys.platform == "win32" else (name,)
    return next(
        (program.with_name(n) for n in names if program.with_name(n).is_file()), program.with_name(names[0])
    )


def _shared(all_users: bool) -> list[str]:
    return ["--shared"] if all_users else []


def _sentence(output: str, action: str) -> str:
    """Return why unopkg failed, in one sentence with a cure."""
    if "as root" in output:
        return "root installs for all users only: add --all-users, or run this as the user who works in the office"
    said = re.findall(r"^(?:ERROR: )(.+)$", output, re.MULTILINE)
    why = next((line for line in said if "unopkg failed" not in line), output.strip() or "no reason given")
    if re.search(r"lock|running|permission|denied|access", output, re.IGNORECASE):
        return (
            f"LibreOffice would not {action} the extension ({why}): close it, and run again with the rights for it"
        )
    return f"LibreOffice would not {action} the extension: {why}"
