"""Excel's side of xlwings without Excel: stand-ins for pywin32, the edge to COM; all code of xlwings is real.

`connected()` imports xlwings as it does on Windows, then `pressfuncs.hosts.excel` through it, and takes both out
of the loaded modules again at the end.
"""

from __future__ import annotations

import contextlib
import ctypes
import importlib
import sys
from collections.abc import Iterator
from types import ModuleType, SimpleNamespace
from typing import Any
from unittest import mock

MISSING = -2147352572
"""What COM hands over for an argument that the caller left out."""

ERROR_CODES = {
    "#NULL!": -2146826288,
    "#DIV/0!": -2146826281,
    "#VALUE!": -2146826273,
    "#REF!": -2146826265,
    "#NAME?": -2146826259,
    "#NUM!": -2146826252,
    "#N/A": -2146826246,
    "#SPILL!": -2146826243,
    "#CALC!": -2146826238,
}
"""Error value of a cell -> the whole number that COM hands over for it."""


class ComError(Exception):
    """pywintypes.com_error."""


class Missing:
    """Stands for any class of pywin32 that is only subclassed or asked for with isinstance."""


class StandIn(ModuleType):
    """A module of pywin32: its names are classes that nothing is an instance of."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        return type(name, (Missing,), {})


def stand_ins() -> dict[str, ModuleType]:
    """Return the modules of pywin32 by name."""
    names = ["pythoncom", "pywintypes", "win32com", "win32com.client", "win32com.server", "win32com.server.util"]
    names += ["win32com.server.dispatcher", "win32com.server.policy", "win32api", "win32con", "win32event"]
    names += ["win32gui", "win32process", "win32timezone"]
    modules: dict[str, ModuleType] = {name: StandIn(name) for name in names}
    for name, module in modules.items():
        parent, _, own = name.rpartition(".")
        if parent:
            setattr(modules[parent], own, module)
    com: Any = modules["pythoncom"]
    com.__file__ = "pythoncom.dll"
    com.CoInitialize = lambda: None
    com.IID_IDispatch, com.TypeIIDs = "IDispatch", {"IDispatch": Missing}
    types: Any = modules["pywintypes"]
    types.com_error, types.TimeType = ComError, type("TimeType", (Missing,), {})
    util: Any = modules["win32com.server.util"]
    util.unwrap = lambda value: value.obj  # fails for plain values, as in pywin32
    return modules


@contextlib.contextmanager
def connected() -> Iterator[SimpleNamespace]:
    """Give `xlwings`, `udfs`, `server` (its COM server's object) and `host` (pressfuncs.hosts.excel)."""
    ours = ("xlwings", "pressfuncs.hosts.excel")
    before = {name: sys.modules.pop(name) for name in list(sys.modules) if name.startswith(ours)}
    libraries = {name: mock.MagicMock() for name in ("windll", "oledll", "PyDLL")}
    with (
        mock.patch.dict(sys.modules, stand_ins()),
        mock.patch.multiple(ctypes, create=True, **libraries),
        mock.patch("atexit.register", lambda function, *_: function),
    ):
        import asyncio  # noqa: F401  # before the platform is called another one
        import concurrent.futures
        import subprocess  # noqa: F401

        assert concurrent.futures.ThreadPoolExecutor
        with mock.patch.object(sys, "platform", "win32"):
            xlwings = importlib.import_module("xlwings")
            host = importlib.import_module("pressfuncs.hosts.excel")
        server = sys.modules["xlwings.com_server"]
        try:
            yield SimpleNamespace(
                xlwings=xlwings, udfs=sys.modules["xlwings.udfs"], server=server.XLPython(), host=host
            )
        finally:
            server.loop.close()
            for name in [name for name in sys.modules if name.startswith(ours)]:
                del sys.modules[name]
    sys.modules.update(before)
