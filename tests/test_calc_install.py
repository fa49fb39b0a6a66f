"""How the extension comes into an office and out again: for one user, for all, beside another extension."""

from __future__ import annotations

import io
import shutil
import stat
import zipfile
from pathlib import Path

import pytest
from calc_office import Office
from click.testing import CliRunner

from pressfuncs._version import __version__
from pressfuncs.build import calc_extension
from pressfuncs.build.calc_extension import CARRIED_PACKAGE, ENTRY, FILE_NAME, build, files
from pressfuncs.build.type_library import Method, interface_library
from pressfuncs.cli import main
from pressfuncs.hosts.calc.signatures import IDENTIFIER
from pressfuncs.hosts.calc_install import SAMPLE, find_office


def version_of(data: bytes, version: str) -> bytes:
    """Return the extension as an older or newer release would be."""
    changed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(changed, "w") as target:
        for name in source.namelist():
            content = source.read(name)
            if name in ("description.xml", f"{CARRIED_PACKAGE}/_version.py"):
                content = content.replace(__version__.encode(), version.encode())
            target.writestr(name, content)
    return changed.getvalue()


def computed(office: Office, *formulas: str) -> list[object]:
    number = office.do("new_book")
    cells = {f"A{place}": formula for place, formula in enumerate(formulas, 1)}
    office.do("fill", number, cells)
    found: list[object] = office.do("cells", number, list(cells))
    office.do("close_book", number)
    return found


FORCE = "=PF_SHEARING_FORCE(471.239;3.2;310)"
FORCE_RESULT = pytest.approx(467.469088)
UNKNOWN = "!525"


def test_one_user_installs_upgrades_and_removes_it(tmp_path: Path):
    old, new = tmp_path / "old" / FILE_NAME, tmp_path / "new" / FILE_NAME
    for file, content in ((old, version_of(build(), "0.0.1")), (new, build())):
        file.parent.mkdir()
        file.write_bytes(content)
    with Office(tmp_path) as office:
        assert computed(office, FORCE) == [UNKNOWN]
        office.do("install", str(old))
    with Office(tmp_path) as office:
        assert computed(office, FORCE, "=PF_VERSION()") == [FORCE_RESULT, "0.0.1"]
        office.do("install", str(new))
        assert office.do("extensions") == [["user", IDENTIFIER, __version__]]
    with Office(tmp_path) as office:
        assert computed(office, FORCE, "=PF_VERSION()") == [FORCE_RESULT, __version__]
        office.do("remove", IDENTIFIER, FILE_NAME)
        assert office.do("extensions") == []
    with Office(tmp_path) as office:
        assert computed(office, FORCE) == [UNKNOWN]
        assert not [name for name in office.do("function_texts", None) if name.startswith("PF_")]
    left = [path for path in (tmp_path / "profile/user/uno_packages").rglob("*") if CARRIED_PACKAGE in path.name]
    assert left == []


OTHER = """
import sys
import unohelper
import uno
import pressfuncs

class Other(unohelper.Base, uno.getClass("other.test.XOther")):
    def __init__(self, context, *arguments): pass
    def getImplementationName(self): return "other.test.Other"
    def supportsService(self, name): return name == "other.test.Other"
    def getSupportedServiceNames(self): return ("other.test.Other",)
    def OTHER_TELL(self): return ((pressfuncs.TOLD + "\\n" + "\\n".join(sys.path),),)

g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(Other, "other.test.Other", ("other.test.Other",))
"""


def other_extension() -> bytes:
    """Return an add-in of somebody else, which carries a package that is called pressfuncs too."""
    configuration = calc_extension.configuration()
    head, tail = configuration[: configuration.index("<node")], "</oor:component-data>"
    body = "".join(
        [
            '<node oor:name="AddInInfo"><node oor:name="other.test.Other" oor:op="replace">',
            '<node oor:name="AddInFunctions"><node oor:name="OTHER_TELL" oor:op="replace">',
            '<prop oor:name="DisplayName"><value xml:lang="en-US">OTHER_TELL</value></prop>',
            "</node></node></node></node>",
        ]
    )
    parts = {
        "META-INF/manifest.xml": files()["META-INF/manifest.xml"].replace(ENTRY.encode(), b"other.py"),
        "description.xml": files()["description.xml"].replace(IDENTIFIER.encode(), b"other.test"),
        "description.txt": b"Another add-in.",
        "CalcAddIns.xcu": (head + body + tail).encode(),
        "functions.rdb": interface_library("other.test.XOther", [Method("OTHER_TELL", "[][]any", [])]),
        "other.py": OTHER.encode(),
        "pythonpath/pressfuncs.py": b"TOLD = 'I am the other one'\n",
    }
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as zipped:
        for name, content in parts.items():
            zipped.writestr(name, content)
    return archive.getvalue()


def test_another_extension_in_the_same_office_is_not_disturbed(tmp_path: Path):
    (tmp_path / FILE_NAME).write_bytes(build())
    (tmp_path / "other.oxt").write_bytes(other_extension())
    for name in (FILE_NAME, "other.oxt"):  # an office that has just registered one may stumble over the next
        with Office(tmp_path) as office:
            office.do("install", str(tmp_path / name))
    for formulas in ((FORCE, "=OTHER_TELL()"), ("=OTHER_TELL()", FORCE)):
        with Office(tmp_path) as office:
            found = dict(zip(formulas, computed(office, *formulas), strict=True))
        assert found[FORCE] == FORCE_RESULT
        told, *path = str(found["=OTHER_TELL()"]).split("\n")
        assert told == "I am the other one"
        assert [entry for entry in path if "other.oxt" in entry]
        assert not [entry for entry in path if FILE_NAME in entry or CARRIED_PACKAGE in entry]


@pytest.fixture
def unopkg(tmp_path: Path) -> Path:
    """Give the unopkg of an office whose profile and extensions of all users lie in the folder of the test."""
    found = shutil.which("unopkg")
    assert found
    (tmp_path / "shared").mkdir()
    options = Office(tmp_path, all_users=tmp_path / "shared").environment
    program = tmp_path / "bin" / "unopkg"
    program.parent.mkdir()
    for name in ("unopkg", "soffice"):
        script = program.with_name(name)
        script.write_text(f'#!/bin/sh\nexec "{Path(found).with_name(name)}" "$@" {" ".join(options)}\n')
        script.chmod(script.stat().st_mode | stat.S_IXUSR)
    return program


def run(*words: str) -> tuple[int, str, str]:
    done = CliRunner().invoke(main, ["connect", "calc", *words])
    return done.exit_code, done.stdout, done.stderr


def test_all_users_get_it_from_the_command_line_and_lose_it_again(tmp_path: Path, unopkg: Path):
    choice = ("--all-users", "--unopkg", str(unopkg))
    assert run("--remove", *choice)[0] == 1
    status, said, _ = run(*choice)
    assert (status, said.splitlines()[0]) == (0, f"installed for all users: pressfuncs {__version__}")
    assert run(*choice)[0] == 0
    with Office(tmp_path / "a colleague", all_users=tmp_path / "shared") as office:
        assert office.do("extensions") == [["shared", IDENTIFIER, __version__]]
        assert computed(office, FORCE) == [FORCE_RESULT]
    assert find_office(unopkg).sample() == pytest.approx(SAMPLE[1])
    assert run("--remove", *choice)[:2] == (0, "removed for all users; start LibreOffice again\n")
    with Office(tmp_path / "a colleague", all_users=tmp_path / "shared") as office:
        assert office.do("extensions") == []
        assert computed(office, FORCE) == [UNKNOWN]
    assert find_office(unopkg).installed(all_users=True) is None
    assert find_office(unopkg).sample() is None


def test_the_file_is_only_written_where_that_is_asked(tmp_path: Path):
    status, said, _ = run("--to", str(tmp_path / "here.oxt"))
    assert (status, said) == (0, f"written: {tmp_path / 'here.oxt'}; open it in LibreOffice to install it\n")
    assert (tmp_path / "here.oxt").read_bytes() == build()
    assert run("--to", str(tmp_path / "x.oxt"), "--remove")[0] == 2


def test_an_office_that_is_not_there_is_said_in_a_sentence(tmp_path: Path):
    status, _, said = run("--unopkg", str(tmp_path / "unopkg"))
    assert status == 1
    where = tmp_path / "unopkg"
    assert said == f"pressfuncs: {where} is not there: give the program unopkg in LibreOffice's program folder\n"


def test_what_unopkg_says_becomes_one_sentence(tmp_path: Path):
    broken = tmp_path / "unopkg"
    broken.write_text(
        "#!/bin/sh\necho 'ERROR: the cupboard is bare' >&2\necho 'ERROR: unopkg failed.' >&2\nexit 1\n"
    )
    broken.chmod(0o755)
    assert run("--unopkg", str(broken))[2] == (
        "pressfuncs: LibreOffice would not add the extension: the cupboard is bare\n"
    )
    broken.write_text("#!/bin/sh\necho 'ERROR: Cannot run unopkg as root without --shared option.' >&2\nexit 1\n")
    assert "add --all-users" in run("--unopkg", str(broken))[2]
