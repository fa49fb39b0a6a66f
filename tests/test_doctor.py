"""The command doctor: what it finds where all is well, and what it says where something is not."""

from __future__ import annotations

import json
import re
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from pressfuncs._version import __version__
from pressfuncs.cli import doctor, main
from pressfuncs.hosts import calc_install
from pressfuncs.hosts.calc_install import OfficeRefused


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["doctor", *words])


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep the settings of whoever runs the tests out of them."""
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    return tmp_path


@dataclass
class OfficeWith:
    """An office with an extension in it, or something else in its place."""

    version: str | None = __version__
    result: float | None = doctor.SAMPLE[2]
    refusal: str = ""
    unopkg: Path = Path("/nowhere/unopkg")

    def installed(self, all_users: bool) -> str | None:
        """Return the version for all users only."""
        if self.refusal:
            raise OfficeRefused(self.refusal)
        return self.version if all_users else None

    def sample(self) -> float | None:
        """Return what the office makes of the sample."""
        return self.result


def with_office(monkeypatch: pytest.MonkeyPatch, office: OfficeWith) -> list[doctor.Finding]:
    monkeypatch.setattr(calc_install, "find_office", lambda: office)
    return list(doctor._libreoffice())


def test_every_finding_is_one_line_and_what_is_needed_works():
    done = run()
    assert done.exit_code == 0
    lines = done.output.splitlines()
    assert all(re.match(r"(ok|note) +\S+ +\S", line) for line in lines), done.output
    subjects = [line.split()[1] for line in lines]
    assert subjects[:6] == ["pressfuncs", "Python", "packages", "formula", "workbook", "LibreOffice"]
    assert f"pressfuncs   {__version__}, " in lines[0]
    assert sys.executable in lines[1]
    assert "=PF_SHEARING_FORCE(471.239,3.2,310) gives 467.469" in lines[3]
    assert "without an application, gives 467.469" in lines[4]
    assert re.search(r"LibreOffice \d+\.\d+", lines[5])


def test_json_holds_the_same_findings():
    findings = json.loads(run("--json").output)
    assert [set(finding) for finding in findings] == [{"status", "subject", "found", "next"}] * len(findings)
    assert [doctor.Finding(**finding).line() for finding in findings] == run().output.splitlines()


def test_a_missing_package_is_broken_and_names_the_cure(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(doctor, "NEEDED", ("click", "no_such_package"))
    done = run()
    assert done.exit_code == 1
    assert re.search(r"^broken +packages +missing: no_such_package: .*-m pip install", done.output, re.MULTILINE)


def test_a_wrong_result_is_broken(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(doctor, "SAMPLE", (*doctor.SAMPLE[:2], 467.5))
    done = run()
    assert done.exit_code == 1
    assert re.findall(r"^broken +(\w+)", done.output, re.MULTILINE) == ["formula", "workbook"]
    assert "467.5 is right; install pressfuncs anew and do not use the results" in done.output


def test_an_old_python_is_broken(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(doctor, "OLDEST_PYTHON", (99, 0))
    assert doctor._python().status == doctor.BROKEN
    assert doctor._python().next == "install Python 99.0 or newer"


def test_no_libreoffice_is_only_a_note(monkeypatch: pytest.MonkeyPatch):
    def nowhere() -> None:
        raise OfficeRefused("none")

    monkeypatch.setattr(calc_install, "find_office", nowhere)
    (finding,) = doctor._libreoffice()
    assert (finding.status, finding.found) == (doctor.NOTE, "not found")
    assert "pressfuncs connect calc" in finding.next


def test_an_installed_extension_is_asked_to_compute(monkeypatch: pytest.MonkeyPatch):
    findings = with_office(monkeypatch, OfficeWith())
    assert [(f.status, f.subject) for f in findings] == [
        ("ok", "LibreOffice"),
        ("ok", "extension"),
        ("ok", "Calc"),
    ]


@pytest.mark.parametrize(
    ("office", "status", "subject", "words"),
    [
        (OfficeWith(version="0.0.1"), "note", "extension", "0.0.1 is installed: bring it up to date"),
        (OfficeWith(version=None), "note", "extension", "not installed: if you work in Calc"),
        (OfficeWith(result=467.0), "broken", "Calc", "do not use the results"),
        (OfficeWith(result=None), "broken", "Calc", "gives None"),
        (OfficeWith(refusal="it hangs"), "note", "extension", "cannot be asked for (it hangs)"),
        (OfficeWith(refusal="root installs for all users only"), "note", "extension", "not installed"),
    ],
)
def test_what_is_wrong_with_an_office_is_said(
    monkeypatch: pytest.MonkeyPatch, office: OfficeWith, status: str, subject: str, words: str
):
    found = next(f for f in with_office(monkeypatch, office) if f.subject == subject)
    assert found.status == status
    assert words in found.line()


def test_settings_of_xlwings_must_name_a_python_that_is_there(home: Path):
    settings = home / ".myaddin" / "myaddin.conf"
    settings.parent.mkdir()
    for text, status in (
        (f'"INTERPRETER_WIN","{sys.executable}"\r\n', doctor.OK),
        ('"INTERPRETER_WIN","C:\\gone\\python.exe"\r\n', doctor.BROKEN),
        ('"OTHER","x"\r\n', doctor.NOTE),
    ):
        settings.write_text(text, encoding="utf-8")
        finding = next(f for f in doctor._excel(home) if f.subject == "Excel")
        assert finding.status == status, text
        assert str(settings) in finding.found
    assert run().exit_code == 0


def test_what_connect_excel_writes_is_found_in_order(home: Path):
    CliRunner().invoke(main, ["connect", "excel", "--to", str(home / ".xlwings")])
    assert [f.status for f in doctor._excel(home) if f.subject == "Excel"] == ["ok"]


def test_off_windows_the_other_ways_are_named():
    finding = next(iter(doctor._excel(Path("/nowhere"))))
    assert finding.subject == "xlwings"
    assert "on Windows only" in finding.found
    assert "pressfuncs connect workbook" in finding.next
