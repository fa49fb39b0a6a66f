"""Saving workbooks: what is kept, when it is refused, and that nothing is ever half written."""

from __future__ import annotations

import contextlib
import fcntl
import os
import random
import resource
import signal
import stat
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import openpyxl.chart
import pytest
from parts import SHEET, differing_parts, fingerprint, raw_entries, workbook_parts, write_zip
from privileges import ordinary_user
from refused_files import sound

from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.saving import remove_leftovers

NEW = b"<worksheet>new</worksheet>"


def names(folder: Path) -> set[str]:
    return {entry.name for entry in folder.iterdir()}


def refuses_to_save(package: Package, destination: Path, words: str) -> None:
    """Save and demand a refusal in one sentence that leaves destination and folder as they were."""
    before = fingerprint(destination) if destination.is_file() else None
    listed = names(destination.parent) if destination.parent.is_dir() else set()
    with pytest.raises(Refused, match=words) as caught:
        package.save(destination, {SHEET: NEW})
    assert "\n" not in str(caught.value)
    assert (fingerprint(destination) if destination.is_file() else None) == before
    assert (names(destination.parent) if destination.parent.is_dir() else set()) == listed


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return sound(tmp_path)


def test_untouched_entries_are_copied_byte_for_byte(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    with zipfile.ZipFile(path, "w") as made:
        made.comment = b"kept by the die shop"
        for name, content in workbook_parts("<row/>" * 5000).items():
            entry = zipfile.ZipInfo(name, (2024, 5, 17, 10, 20, 30))
            entry.compress_type = zipfile.ZIP_STORED if name.startswith("_") else zipfile.ZIP_DEFLATED
            entry.external_attr = 0o640 << 16
            entry.create_system = 3
            entry.extra = b"\xca\xfe\x04\x00\x01\x02\x03\x04"
            entry.comment = b"part " + name.encode()
            made.writestr(entry, content, compresslevel=1)
    with Package.open(path) as package:
        assert package.save(tmp_path / "new.xlsx", {SHEET: NEW})
    old, new = raw_entries(path), raw_entries(tmp_path / "new.xlsx")
    assert list(old) == list(new)
    assert [name for name in old if old[name] != new[name]] == [SHEET]
    assert differing_parts(path, tmp_path / "new.xlsx") == {SHEET: "changed"}
    with zipfile.ZipFile(path) as one, zipfile.ZipFile(tmp_path / "new.xlsx") as two:
        assert two.testzip() is None
        assert one.comment == two.comment
        for before, after in zip(one.infolist(), two.infolist()):
            for field in ("comment", "extra", "external_attr", "create_system", "date_time"):
                assert getattr(before, field) == getattr(after, field)
        assert two.read(SHEET) == NEW


@pytest.mark.parametrize("limit", [0, 600, 1 << 31])
def test_files_with_64_bit_fields_are_kept_and_read(
    limit: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "book.xlsx"
    noise = random.Random(1).randbytes(3000)
    with monkeypatch.context() as patch:
        patch.setattr(zipfile, "ZIP64_LIMIT", limit)  # the writer then uses 64 bit fields from this size on
        patch.setattr(zipfile, "ZIP_FILECOUNT_LIMIT", 2 if limit == 0 else 1 << 16)
        write_zip(path, {"xl/media/image1.png": noise} | workbook_parts("<row/>" * 500))
    assert (b"PK\6\6" in path.read_bytes()) == (limit < 1 << 31)
    with Package.open(path) as original, Package.open(path) as package:
        assert package.read("xl/media/image1.png") == noise
        package.save(tmp_path / "shorter.xlsx", {"xl/media/image1.png": b""})
        package.save(tmp_path / "longer.xlsx", {SHEET: noise})
        for name, changed in (("shorter", "xl/media/image1.png"), ("longer", SHEET)):
            saved = tmp_path / f"{name}.xlsx"
            assert differing_parts(path, saved) == {changed: "changed"}
            with zipfile.ZipFile(saved) as opened:
                assert opened.testzip() is None
            assert (b"PK\6\6" in saved.read_bytes()) == (b"PK\6\6" in path.read_bytes())
            with Package.open(saved) as again:
                again.save(tmp_path / "back.xlsx", {changed: original.read(changed)})
            assert differing_parts(path, tmp_path / "back.xlsx") == {}


def test_a_saved_workbook_opens_in_other_programs(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    book = openpyxl.Workbook()
    book.active["A1"] = "die"
    book.active.add_chart(openpyxl.chart.BarChart(), "C3")
    book.save(path)
    with Package.open(path) as package:
        part = package.read(SHEET)
        package.save(
            path, {SHEET: part.replace(b"</sheetData>", b'<row r="2"><c r="A2"><v>7</v></c></row></sheetData>')}
        )
    assert openpyxl.load_workbook(path).active["A2"].value == 7
    assert subprocess.run(["unzip", "-tqq", path], check=False).returncode == 0


def test_nothing_changed_writes_nothing_in_place_and_copies_elsewhere(book: Path) -> None:
    before = book.stat()
    with Package.open(book) as package:
        assert not package.save(book, {})
        assert not package.save(book, {SHEET: package.read(SHEET)})
        assert book.stat() == before
        assert package.save(book.with_name("copy.xlsx"), {})
    assert fingerprint(book) == fingerprint(book.with_name("copy.xlsx"))


def test_nothing_changed_needs_no_permission(book: Path) -> None:
    book.with_name(f"~${book.name}").touch()
    book.chmod(0o444)
    with Package.open(book) as package:
        assert not package.save(book, {})


def test_parts_that_do_not_exist_cannot_be_replaced(book: Path) -> None:
    before = fingerprint(book)
    with Package.open(book) as package, pytest.raises(KeyError, match=r"xl/none\.xml"):
        package.save(book, {"xl/none.xml": b""})
    assert fingerprint(book) == before


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_mode_owner_and_attributes_are_kept_in_place(mode: int, book: Path) -> None:
    if os.geteuid() == 0:
        os.chown(book, 12345, 54321)
    with contextlib.suppress(OSError):
        os.setxattr(book, "user.shop", b"invented")
    book.chmod(mode)
    before = book.stat()
    attributes = {name: os.getxattr(book, name) for name in os.listxattr(book)}
    with Package.open(book) as package:
        package.save(book, {SHEET: NEW})
    after = book.stat()
    assert (after.st_mode, after.st_uid, after.st_gid) == (before.st_mode, before.st_uid, before.st_gid)
    assert {name: os.getxattr(book, name) for name in os.listxattr(book)} == attributes
    assert after.st_ino != before.st_ino


def test_another_users_file_may_be_replaced_in_a_folder_of_ones_own() -> None:
    with ordinary_user() as folder:
        path = sound(folder)
        path.chmod(0o606)
        if os.geteuid() == 0 or os.getresuid()[2] == 0:
            os.seteuid(0)
            os.chown(path, 0, 0)
            os.seteuid(os.getresuid()[0])
        with Package.open(path) as package:
            assert package.save(path, {SHEET: NEW})
        assert path.stat().st_uid == os.getuid()
        assert stat.S_IMODE(path.stat().st_mode) == 0o606


def test_a_new_file_gets_the_mode_that_the_umask_leaves(book: Path) -> None:
    book.chmod(0o777)
    old = os.umask(0o027)
    try:
        with Package.open(book) as package:
            package.save(book.with_name("new.xlsx"), {})
    finally:
        os.umask(old)
    assert stat.S_IMODE(book.with_name("new.xlsx").stat().st_mode) == 0o640


def test_links_are_followed_and_kept(book: Path, tmp_path: Path) -> None:
    (tmp_path / "shop").mkdir()
    link = tmp_path / "shop" / "link.xlsx"
    link.symlink_to(Path("..") / book.name)
    with Package.open(link) as package:
        assert package.save(link, {SHEET: NEW})
    assert link.is_symlink()
    with Package.open(book) as package:
        assert package.read(SHEET) == NEW
    assert names(tmp_path / "shop") == {"link.xlsx"}


def test_refuses_a_file_with_a_second_name(book: Path) -> None:
    os.link(book, book.with_name("other.xlsx"))
    with Package.open(book) as package:
        refuses_to_save(package, book, "has 2 names")
        refuses_to_save(package, book.with_name("other.xlsx"), "has 2 names")
        assert package.save(book.with_name("third.xlsx"), {SHEET: NEW})


@pytest.mark.parametrize("how", ["appended", "touched", "replaced", "removed"])
def test_refuses_a_file_that_changed_since_it_was_opened(how: str, book: Path) -> None:
    with Package.open(book) as package:
        content, status = book.read_bytes(), book.stat()
        if how == "appended":
            book.write_bytes(content + b" ")
            os.utime(book, ns=(status.st_atime_ns, status.st_mtime_ns))
        elif how == "touched":
            os.utime(book, ns=(status.st_atime_ns, status.st_mtime_ns + 1000))
        elif how == "replaced":
            book.with_name("x").write_bytes(content)
            os.utime(book.with_name("x"), ns=(status.st_atime_ns, status.st_mtime_ns))
            os.replace(book.with_name("x"), book)
        else:
            book.unlink()
        refuses_to_save(package, book, "changed by somebody else since it was read; run again")


def test_a_package_is_saved_in_place_once(book: Path) -> None:
    with Package.open(book) as package:
        package.save(book, {SHEET: NEW})
        refuses_to_save(package, book, "changed by somebody else")


@pytest.mark.parametrize(
    ("lock", "content", "words"),
    [
        (
            "~$book.xlsx",
            b"\x09Ann Other" + b" " * 45,
            r"in Excel \(by Ann Other\); .* delete the file ~\$book.xlsx",
        ),
        ("~$book.xlsx", b"", r"open in Excel; close it there"),
        (
            ".~lock.book.xlsx#",
            b",ann,pc7,17.05.2024 10:20,file:///home;",
            r"open in LibreOffice \(by ann\); .* delete the file \.~lock\.book\.xlsx# beside it",
        ),
    ],
)
def test_refuses_a_file_that_an_app_has_open(lock: str, content: bytes, words: str, book: Path) -> None:
    book.with_name(lock).write_bytes(content)
    with Package.open(book) as package:
        refuses_to_save(package, book, words)
        with pytest.raises(Refused, match=words):
            package.require_writable(book)
        package.require_writable(book.with_name("new.xlsx"))
        book.with_name(lock).unlink()
        assert package.save(book, {SHEET: NEW})


def test_refuses_a_file_that_a_program_holds_locked(book: Path) -> None:
    holder = (
        "import fcntl,sys; f=open(sys.argv[1],'r+b'); fcntl.lockf(f,fcntl.LOCK_EX); print(flush=True); input()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", holder, book], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        with Package.open(book) as package:
            refuses_to_save(package, book, "open for writing in another program")
            process.communicate("\n")
            assert package.save(book, {SHEET: NEW})


def test_refuses_read_only_files_and_folders() -> None:
    with ordinary_user() as folder:
        path = sound(folder)
        (folder / "closed").mkdir()
        inside = sound(folder / "closed")
        (folder / "closed").chmod(0o555)
        path.chmod(0o444)
        with Package.open(path) as package:
            refuses_to_save(package, path, "is read-only; write to another file")
            refuses_to_save(package, folder / "closed" / "new.xlsx", "no permission to write in the folder")
            assert package.save(folder / "new.xlsx", {SHEET: NEW})
        with Package.open(inside) as package:
            refuses_to_save(package, inside, "no permission to write in the folder")
        (folder / "closed").chmod(0o755)


def test_root_too_respects_a_file_marked_read_only(book: Path) -> None:
    book.chmod(0o444)
    with Package.open(book) as package:
        refuses_to_save(package, book, "is read-only")


def test_refuses_destinations_that_are_no_files(book: Path, tmp_path: Path) -> None:
    with Package.open(book) as package:
        refuses_to_save(package, tmp_path / "none" / "new.xlsx", "there is no folder")
        with pytest.raises(Refused, match="name is too long"):
            package.save(tmp_path / ("x" * 300), {SHEET: NEW})
        with pytest.raises(Refused, match="is not a plain file"):
            package.save(tmp_path, {SHEET: NEW})
        with pytest.raises(Refused, match="is not a plain file"):
            package.save("/dev/null", {SHEET: NEW})


def test_long_names_are_saved(book: Path) -> None:
    path = book.with_name("ä" * 120 + ".xlsx")
    with Package.open(book) as package:
        assert package.save(path, {SHEET: NEW})


def test_leftovers_of_killed_runs_are_removed_and_nothing_else(book: Path, tmp_path: Path) -> None:
    live = tmp_path / ".book.xlsx.pressfuncs-1.tmp"
    for leftover in (".book.xlsx.pressfuncs-2.tmp", ".book.xlsx.pressfuncs-3.tmp"):
        (tmp_path / leftover).write_bytes(b"half")
    kept = [".book.xlsx.pressfuncs-x.tmp", ".other.xlsx.pressfuncs-1.tmp", "book.xlsx.pressfuncs-1.tmp"]
    for name in kept:
        (tmp_path / name).touch()
    with live.open("wb") as file, Package.open(book) as package:
        fcntl.flock(file, fcntl.LOCK_EX)
        assert package.save(book, {SHEET: NEW})
    assert names(tmp_path) == {"book.xlsx", live.name, *kept}
    with Package.open(book) as package:  # now nobody holds it
        assert package.save(book, {SHEET: NEW + b" "})
    assert names(tmp_path) == {"book.xlsx", *kept}


def test_a_file_that_too_many_write_is_refused(book: Path, tmp_path: Path) -> None:
    before = book.read_bytes()
    with contextlib.ExitStack() as held, Package.open(book) as package:
        for number in range(1, 17):
            file = held.enter_context((tmp_path / f".book.xlsx.pressfuncs-{number}.tmp").open("wb"))
            fcntl.flock(file, fcntl.LOCK_EX)
        with pytest.raises(Refused, match="is being written by many others"):
            package.save(book, {SHEET: NEW})
    assert book.read_bytes() == before
    remove_leftovers(book)
    assert names(tmp_path) == {"book.xlsx"}


def test_runs_that_write_one_file_at_the_same_time_leave_one_of_theirs(book: Path, tmp_path: Path) -> None:
    (tmp_path / "new").write_bytes(NEW)
    for _ in range(5):
        runs = [
            subprocess.Popen([sys.executable, "-c", _CHILD, book, tmp_path / "new", SHEET], stderr=subprocess.PIPE)
            for _ in range(6)
        ]
        said = [run.communicate(timeout=60)[1] for run in runs]
        assert all(b"Refused" in words for run, words in zip(runs, said) if run.returncode)
        assert any(run.returncode == 0 for run in runs)
        with Package.open(book) as package:
            assert package.read(SHEET) == NEW
        assert names(tmp_path) == {"book.xlsx", "new"}


_CHILD = """
import sys
from pathlib import Path
from pressfuncs.batch.package import Package
package = Package.open(sys.argv[1])
new = Path(sys.argv[2]).read_bytes()
print("ready", flush=True)
package.save(sys.argv[1], {sys.argv[3]: new})
print("saved", flush=True)
"""


@contextlib.contextmanager
def saving_child(book: Path, new: Path) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-c", _CHILD, book, new, SHEET]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        yield process


@pytest.mark.parametrize(("blow", "moments"), [(signal.SIGKILL, 20), (signal.SIGINT, 5)])
def test_a_run_that_is_killed_leaves_the_old_file_or_the_new_one(
    blow: signal.Signals, moments: int, tmp_path: Path
) -> None:
    book = sound(tmp_path)
    old = book.read_bytes()
    (tmp_path / "new").mkdir()
    new = tmp_path / "new" / "sheet.xml"
    new.write_bytes(random.Random(7).randbytes(12_000_000))
    with saving_child(book, new) as process:
        begin = time.perf_counter()
        process.communicate()
        lasts = time.perf_counter() - begin
    outcomes = {fingerprint(book)}
    book.write_bytes(old)
    outcomes.add(fingerprint(book))
    assert len(outcomes) == 2
    interrupted = leftovers = 0
    for moment in range(moments):
        with saving_child(book, new) as process:
            time.sleep(lasts * (moment + 0.5) / moments)
            process.send_signal(blow)
            process.communicate()
        interrupted += process.returncode != 0
        leftovers += len(names(tmp_path)) - 2
        assert fingerprint(book) in outcomes
        book.write_bytes(old)
        with Package.open(book) as package:
            assert package.save(book, {SHEET: NEW})
        assert names(tmp_path) == {"book.xlsx", "new"}
        book.write_bytes(old)
    assert interrupted > 0
    assert leftovers > 0 if blow == signal.SIGKILL else leftovers == 0


@contextlib.contextmanager
def small_disk(folder: Path) -> Iterator[str]:
    """Make the folder a disk of 1 MB if the system lets us, else bound the size of files; yields what is said."""
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", folder], check=False, capture_output=True
    )
    if mounted.returncode == 0:
        try:
            yield "disk is full"
        finally:
            subprocess.run(["umount", "-l", folder], check=True)
        return
    with bounded_files(800_000):
        yield "larger than the system allows"


@contextlib.contextmanager
def bounded_files(size: int) -> Iterator[None]:
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, limits[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)


def test_a_full_disk_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    noise = random.Random(3).randbytes(2_000_000)
    with small_disk(disk) as words:
        book = sound(disk)
        before = fingerprint(book)
        with Package.open(book) as package:
            with pytest.raises(Refused, match=words + ".*; the file is as it was"):
                package.save(book, {SHEET: noise})
            assert fingerprint(book) == before
            assert names(disk) == {"book.xlsx"}
            assert package.save(book, {SHEET: NEW})


def test_a_bound_on_file_sizes_leaves_the_file_as_it_was(book: Path) -> None:
    before = fingerprint(book)
    noise = random.Random(3).randbytes(2_000_000)
    with Package.open(book) as package, bounded_files(1_000_000):
        with pytest.raises(Refused, match="larger than the system allows here"):
            package.save(book, {SHEET: noise})
        assert fingerprint(book) == before
        assert names(book.parent) == {"book.xlsx"}
