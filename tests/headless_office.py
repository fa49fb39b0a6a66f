"""LibreOffice as a judge of ordinary formulas: a workbook opened without windows and saved as another one."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

_SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">
<value>{mode}</value></prop></item></oor:items>
"""
_ALWAYS, _NEVER = 0, 1


def convert(book: Path, folder: Path, *, recalculate: bool, kind: str = "xlsx") -> Path:
    """Open a workbook in LibreOffice, with or without recalculating all of it, and save what it shows."""
    (saved,) = convert_all([book], folder, recalculate=recalculate, kind=kind)
    return saved


def convert_all(books: Sequence[Path], folder: Path, *, recalculate: bool, kind: str = "xlsx") -> list[Path]:
    """Open workbooks of different names in LibreOffice, and save what it shows.

    Arguments:
        books: the workbooks
        folder: where the profile of the office and the saved workbook go
        recalculate: whether every formula is computed anew when the file is loaded
        kind: the suffix of the format to save in

    Returns:
        the saved workbooks
    """
    profile = folder / f"profile_{recalculate}"
    settings = profile / "user" / "registrymodifications.xcu"
    settings.parent.mkdir(parents=True, exist_ok=True)
    settings.write_text(_SETTINGS.format(mode=_ALWAYS if recalculate else _NEVER), encoding="utf-8")
    soffice = shutil.which("soffice") or shutil.which("libreoffice")
    assert soffice, "LibreOffice is not installed"
    out = folder / f"saved_{recalculate}"
    subprocess.run(
        [
            soffice,
            f"-env:UserInstallation={profile.as_uri()}",
            "--headless",
            "--norestore",
            "--convert-to",
            kind,
            "--outdir",
            str(out),
            *map(str, books),
        ],
        check=True,
        capture_output=True,
        timeout=300,
    )
    return [out / f"{book.stem}.{kind}" for book in books]
