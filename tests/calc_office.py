"""A real LibreOffice without windows, in its own user profile, for the tests of the Calc extension.

The office is driven over UNO by `office_side.py`, which runs in the Python that has the `uno` module; the tests
themselves need none. `office.do("name", ...)` calls the function of that name there.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

from pressfuncs.build.calc_extension import FILE_NAME, build

OFFICE_SIDE = Path(__file__).parent / "office_side.py"
SYSTEM_PYTHONS = ("/usr/bin/python3", "/usr/local/bin/python3", "python3")


def python_with_uno() -> str:
    """Return the Python whose `uno` module belongs to the installed office."""
    for candidate in SYSTEM_PYTHONS:
        found = shutil.which(candidate)
        if found and subprocess.run([found, "-c", "import uno"], capture_output=True).returncode == 0:
            return found
    raise RuntimeError("no Python with the module uno: install LibreOffice and python3-uno")


class Office:
    """An office that runs from `with` to its end; the folder holds its user profile and is kept."""

    def __init__(self, folder: Path, *, all_users: Path | None = None) -> None:
        """Name the folder; `all_users` is where this office looks for extensions of all users."""
        folder.mkdir(parents=True, exist_ok=True)
        self.profile = (folder / "profile").as_uri()
        self.log = folder / "office.log"
        self.pipe = f"pressfuncs-{os.getpid()}-{abs(hash(folder))}"
        self.environment = [f"-env:UserInstallation={self.profile}"]
        if all_users is not None:
            self.environment.append(f"-env:UNO_SHARED_PACKAGES_CACHE={all_users.as_uri()}")

    def __enter__(self) -> Office:
        soffice = shutil.which("soffice") or shutil.which("libreoffice")
        assert soffice, "LibreOffice is not installed"
        with self.log.open("ab") as log:
            self._office = subprocess.Popen(
                [
                    soffice,
                    "--headless",
                    "--norestore",
                    "--nologo",
                    *self.environment,
                    f"--accept=pipe,name={self.pipe};urp",
                ],
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
            self._side = subprocess.Popen(
                [python_with_uno(), str(OFFICE_SIDE), self.pipe],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
            )
        return self

    def do(self, name: str, *arguments: Any) -> Any:
        """Call a function of office_side.py with arguments that JSON can carry."""
        assert self._side.stdin
        assert self._side.stdout
        self._side.stdin.write(json.dumps([name, arguments]) + "\n")
        self._side.stdin.flush()
        answer = self._side.stdout.readline()
        if not answer:
            raise RuntimeError(f"the office is gone: {self.log.read_text()[-3000:]}")
        kind, value = json.loads(answer)
        if kind == "failed":
            raise RuntimeError(value)
        return value

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._side.poll() is None:
            self.do("end")
            self._side.wait(20)
        for pipe in (self._side.stdin, self._side.stdout):
            if pipe is not None:
                pipe.close()
        try:
            self._office.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(self._office.pid, signal.SIGKILL)
            self._office.wait()


@contextmanager
def running_office(folder: Path) -> Iterator[Office]:
    """Give an office that has the extension, built anew."""
    extension = folder / FILE_NAME
    extension.write_bytes(build())
    with Office(folder) as office:
        office.do("install", str(extension))
    with Office(folder) as office:
        yield office
