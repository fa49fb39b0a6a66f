"""The files that Excel for Windows needs, as `pressfuncs connect excel` writes them."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

from click.testing import CliRunner

from pressfuncs.build import excel_vba
from pressfuncs.cli import main


def test_the_module_and_the_settings_are_written_and_the_steps_named(tmp_path: Path):
    folder = tmp_path / "made" / "here"
    done = CliRunner().invoke(main, ["connect", "excel", "--to", str(folder)])
    assert done.exit_code == 0
    assert sorted(path.name for path in folder.iterdir()) == ["myaddin.conf", "pressfuncs.bas", "xlwings.conf"]
    assert (folder / "pressfuncs.bas").read_bytes().decode("ascii") == excel_vba.render()
    for word in (
        "xlwings quickstart pf_addin --addin",
        "xlwings addin install -f",
        "--standalone",
        "PressfuncsRegister",
    ):
        assert word in done.output
    assert "Excel on a Mac or in the browser: pressfuncs connect workbook" in done.output


def test_the_settings_name_this_python_and_take_no_module_from_beside_a_workbook(tmp_path: Path):
    CliRunner().invoke(main, ["connect", "excel", "--to", str(tmp_path)])
    for name in ("xlwings.conf", "myaddin.conf"):
        settings = dict(csv.reader((tmp_path / name).read_text(encoding="utf-8").splitlines()))
        assert settings == {"INTERPRETER_WIN": sys.executable, "ADD_WORKBOOK_TO_PYTHONPATH": "False"}


def test_another_python_can_be_named(tmp_path: Path):
    python = r"C:\pressfuncs\Scripts\python.exe"
    CliRunner().invoke(main, ["connect", "excel", "--to", str(tmp_path), "--python", python])
    assert f'"INTERPRETER_WIN","{python}"' in (tmp_path / "xlwings.conf").read_text(encoding="utf-8")


def test_a_folder_that_is_a_file_is_refused(tmp_path: Path):
    (tmp_path / "file").write_text("")
    done = CliRunner().invoke(main, ["connect", "excel", "--to", str(tmp_path / "file")])
    assert done.exit_code == 2
    assert "is a file" in done.output
