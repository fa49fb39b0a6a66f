"""Putting a file in the place of another: whole or not at all, and not while somebody else has it open."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path

from pressfuncs.batch.refusals import Refused

try:
    import fcntl
except ImportError:  # Windows, where an open file cannot be replaced anyway
    fcntl = None  # type: ignore[assignment]

_KEPT = "; the file is as it was"
_MOST_WRITERS = 16  # of one file at the same time
_BINARY = getattr(os, "O_BINARY", 0)


def require_writable(destination: Path, opened: os.stat_result | None = None) -> None:
    """Refuse a destination that cannot, or must not, be replaced now.

    Arguments:
        destination: the file to be written, links already followed
        opened: what the file was when it was read, if it is written in place

    A second name (hard link) of the file would go on holding the old values: refused, since a register that
    is two registers without anybody knowing is worse than a copy more.

    Raises:
        Refused: changed meanwhile, open elsewhere, read-only, not a plain file, hard links, no such folder.
    """
    found = _stat(destination)
    if opened is not None and (found is None or identity(found) != identity(opened)):
        raise Refused("was changed by somebody else since it was read; run again", destination)
    if not destination.parent.is_dir():
        raise Refused(f"cannot be written: there is no folder {destination.parent}; make it first", destination)
    if found is not None:
        if not stat.S_ISREG(found.st_mode):
            raise Refused("is not a plain file; give the name of a file", destination)
        if found.st_nlink > 1:
            raise Refused(
                f"has {found.st_nlink} names (hard links), and the others would keep the old values; "
                "write to another file, or remove the other names",
                destination,
            )
        if not found.st_mode & 0o222 or not os.access(destination, os.W_OK):
            raise Refused("is read-only; write to another file, or allow writing", destination)
    if not os.access(destination.parent, os.W_OK | os.X_OK):
        raise Refused(
            f"cannot be written: no permission to write in the folder {destination.parent}; "
            "write to another folder",
            destination,
        )
    _refuse_lock_files(destination)


def replace_file(
    destination: Path,
    pieces: Iterable[bytes | memoryview],
    like: os.stat_result | None = None,
    opened: os.stat_result | None = None,
) -> None:
    """Write a file through a temporary one beside it; on any failure the destination is as it was.

    Arguments:
        destination: the file to be written, links already followed
        pieces: its new contents
        like: whose mode bits a new file gets, None for the usual ones; an existing file keeps its own, and its
            owner where permitted
        opened: what the file was when it was read, if it is written in place
    """
    require_writable(destination, opened)
    try:
        with _locked(destination):
            _write(destination, pieces, like, opened)
    except OSError as error:
        raise Refused(_sentence(error, destination), destination) from error


def identity(status: os.stat_result) -> tuple[int, ...]:
    """Return what tells a file from another one and from its own later state."""
    return status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns


def _write(
    destination: Path,
    pieces: Iterable[bytes | memoryview],
    like: os.stat_result | None,
    opened: os.stat_result | None,
) -> None:
    existing = _stat(destination)
    new = 0o666 if like is None else stat.S_IMODE(like.st_mode) & 0o666
    mode = new if existing is None else 0o600
    temporary, handle = _temporary(destination, mode)
    try:
        with os.fdopen(handle, "wb", buffering=0) as file:
            for piece in pieces:
                _write_all(file.fileno(), piece)
            if existing is not None:
                _take_after(file.fileno(), destination, existing)
            os.fsync(file.fileno())
            if fcntl is not None:
                _replace(temporary, destination, opened)
        if fcntl is None:  # Windows renames closed files only
            _replace(temporary, destination, opened)
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink()
    _sync_folder(destination.parent)


def _replace(temporary: Path, destination: Path, opened: os.stat_result | None) -> None:
    """Move the finished file into place, unless the destination changed while it was being written."""
    require_writable(destination, opened)
    os.replace(temporary, destination)


def _write_all(handle: int, piece: bytes | memoryview) -> None:
    left = memoryview(piece)
    while left:
        left = left[os.write(handle, left[: 1 << 24]) :]


def _take_after(handle: int, destination: Path, existing: os.stat_result) -> None:
    """Give the new file owner, group, extended attributes (access lists) and mode bits of the old one."""
    if hasattr(os, "fchown"):
        for owner in ((existing.st_uid, existing.st_gid), (-1, existing.st_gid)):
            try:
                os.fchown(handle, *owner)
                break
            except PermissionError:
                continue
    if hasattr(os, "listxattr"):
        with contextlib.suppress(OSError):
            for name in os.listxattr(destination):
                with contextlib.suppress(OSError):
                    os.setxattr(handle, name, os.getxattr(destination, name))
    if hasattr(os, "fchmod"):
        os.fchmod(handle, stat.S_IMODE(existing.st_mode))


def _sync_folder(folder: Path) -> None:
    """Make the renaming itself last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextlib.contextmanager
def _locked(destination: Path) -> Iterator[None]:
    """Hold the file's lock while it is replaced; refuse when another program holds it."""
    if not destination.exists():
        yield
        return
    handle = os.open(destination, os.O_RDWR | _BINARY)  # on Windows refused while an app has the file open
    try:
        if fcntl is not None:
            try:
                fcntl.lockf(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError as error:
                if error.errno in (errno.EACCES, errno.EAGAIN):
                    raise Refused(
                        "is open for writing in another program; close it there and run again", destination
                    ) from None
        else:
            os.close(handle)  # an open file cannot be replaced there
            handle = -1
        yield
    finally:
        if handle >= 0:
            os.close(handle)


def _refuse_lock_files(destination: Path) -> None:
    """Refuse a file beside which a spreadsheet app has left word that it has it open."""
    name = destination.name
    for app, lock in (("Excel", f"~${name}"), ("LibreOffice", f".~lock.{name}#")):
        beside = destination.with_name(lock)
        if os.path.lexists(beside):
            raise Refused(
                f"is open in {app}{_holder(beside)}; close it there, or, if nobody has it open, "
                f"delete the file {lock} beside it",
                destination,
            )


def _holder(lock: Path) -> str:
    """Return " (user)" as far as a lock file tells."""
    try:
        with lock.open("rb") as file:
            data = file.read(512)
    except OSError:
        return ""
    if lock.name.startswith("~$"):
        user = data[1 : 1 + data[0]].decode("latin-1") if data else ""
    else:
        user = next((field for field in data.decode("utf-8", "replace").split(",") if field.strip()), "")
    user = "".join(letter for letter in user if letter.isprintable()).strip()
    return f" (by {user})" if user else ""


def _temporary(destination: Path, mode: int) -> tuple[Path, int]:
    """Create the temporary file beside a destination, and remove those that killed runs left.

    The first is number 1, so that a leftover is met without a look at all files of the folder. Each is locked as
    long as its process lives: who can lock one knows that nobody writes it any more.
    """
    for number in range(1, _MOST_WRITERS + 1):
        path = _numbered(destination, number)
        handle = _created(path, mode)
        if handle is None and _removed(path):
            handle = _created(path, mode)
        if handle is not None:
            _removed(_numbered(destination, number + 1))
            return path, handle
    raise Refused("is being written by many others at this moment; run again later", destination)


def remove_leftovers(destination: Path) -> None:
    """Remove the temporary files that killed runs on a file left; the next run on it would do so too."""
    for number in range(1, _MOST_WRITERS + 1):
        _removed(_numbered(destination, number))


def _numbered(destination: Path, number: int) -> Path:
    return destination.with_name(f".{destination.name[:48]}.pressfuncs-{number}.tmp")  # short enough for any disk


def _created(path: Path, mode: int) -> int | None:
    """Create and lock a file that is not there yet; None if it is there."""
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, mode)
    except FileExistsError:
        return None
    if fcntl is not None:
        with contextlib.suppress(OSError):  # there are disks without locks
            fcntl.flock(handle, fcntl.LOCK_EX)
        if not _is(handle, path):  # another run came in between, and took it for a leftover
            os.close(handle)
            return None
    return handle


def _removed(path: Path) -> bool:
    """Remove a temporary file that nobody writes; say whether there is none any more."""
    try:
        if fcntl is None:
            path.unlink()  # refused by Windows while it is open
            return True
        handle = os.open(path, os.O_RDWR | os.O_NOFOLLOW)
    except FileNotFoundError:
        return True
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        if _is(handle, path):
            path.unlink()
        return True
    except OSError:
        return False
    finally:
        os.close(handle)


def _is(handle: int, path: Path) -> bool:
    """Whether an open file is still the one of a name."""
    try:
        return os.path.samestat(os.fstat(handle), path.lstat())
    except FileNotFoundError:
        return False


def _stat(path: Path) -> os.stat_result | None:
    try:
        return path.stat()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise Refused(_sentence(error, path), path) from error


def _sentence(error: OSError, path: Path) -> str:
    """Return what the failure means to somebody who wants the file written."""
    if error.errno == errno.ENOSPC:
        return "cannot be written: the disk is full; free some space" + _KEPT
    if error.errno == getattr(errno, "EDQUOT", None):
        return "cannot be written: your share of the disk is used up; free some space" + _KEPT
    if error.errno == errno.EFBIG:
        return "cannot be written: it would be larger than the system allows here; write elsewhere" + _KEPT
    if error.errno == errno.EROFS:
        return f"cannot be written: {path.parent} is on a read-only disk; write to another folder" + _KEPT
    if error.errno == errno.ENAMETOOLONG:
        return "cannot be written: its name is too long; give it a shorter one" + _KEPT
    if isinstance(error, FileExistsError):
        return "is being written by another run; wait for its end and run again" + _KEPT
    if isinstance(error, PermissionError):
        return (
            "cannot be written: no permission, or another program has it open; close it there, "
            "or write to another folder" + _KEPT
        )
    return f"cannot be written ({error.strerror or error})" + _KEPT + "; write to another folder"
