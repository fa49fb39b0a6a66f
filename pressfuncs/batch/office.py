"""LibreOffice as an engine of ordinary formulas: a workbook computed anew, its values read back."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
from pathlib import Path

from pressfuncs.batch.book import Book
from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused

_SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">
<value>0</value></prop></item></oor:items>
"""
_SECONDS = 300


def program() -> str | None:
    """Return the path of LibreOffice, None if it is not installed."""
    return shutil.which("soffice") or shutil.which("libreoffice")


def computed(path: Path, folder: Path) -> Book:
    """Return a workbook with all formulas computed by LibreOffice.

    Arguments:
        path: the workbook, whose formulas are ordinary ones
        folder: an empty folder for the office's profile and the workbook it saves

    Raises:
        Refused: LibreOffice did not do it.
    """
    office = program()
    if office is None:
        raise Refused("LibreOffice is not installed")
    profile, out = folder / "profile", folder / "saved"
    settings = profile / "user" / "registrymodifications.xcu"
    settings.parent.mkdir(parents=True)
    settings.write_text(_SETTINGS, encoding="utf-8")
    start = [office, f"-env:UserInstallation={profile.as_uri()}", "--headless", "--norestore"]
    try:
        _run([*start, "--convert-to", "xlsx", "--outdir", str(out), str(path)])
        with Package.open(out / f"{path.stem}.xlsx") as package:
            return read_book(package)
    except (OSError, subprocess.SubprocessError, Refused) as error:
        cause = str(error).splitlines()[0]
        raise Refused(f"LibreOffice could not compute it ({cause})") from None


def _run(command: list[str]) -> None:
    """Run LibreOffice; it starts a process of its own, which must end with it when the time is over."""
    with subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
    ) as started:
        try:
            status = started.wait(_SECONDS)
        except subprocess.TimeoutExpired:
            raise Refused(f"it was not done within {_SECONDS} s") from None
        finally:
            if started.poll() is None:
                if hasattr(os, "killpg"):
                    os.killpg(started.pid, signal.SIGKILL)
                started.kill()
    if status:
        raise Refused(f"it ended with status {status}")
