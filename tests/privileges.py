"""Being an ordinary user for a while, whoever runs the tests: permissions do not hold for root."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

_NOBODY = 65534


@contextlib.contextmanager
def ordinary_user() -> Iterator[Path]:
    """Give up root's rights inside the block; yields a folder of that user, removed at the end."""
    with tempfile.TemporaryDirectory() as name:
        if os.geteuid() != 0:
            yield Path(name)
            return
        os.chown(name, _NOBODY, _NOBODY)
        groups = os.getgroups()
        os.setgroups([])
        os.setresgid(_NOBODY, _NOBODY, 0)
        os.setresuid(_NOBODY, _NOBODY, 0)
        try:
            yield Path(name)
        finally:
            os.setresuid(0, 0, 0)
            os.setresgid(0, 0, 0)
            os.setgroups(groups)
