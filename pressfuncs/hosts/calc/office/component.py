"""The add-in as Calc sees it: one UNO object with a method for every function of the register."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import uno
import unohelper
from com.sun.star.lang import XServiceInfo
from com.sun.star.uno import RuntimeException

from pressfuncs.edge import evaluate
from pressfuncs.hosts.calc.office.blanks import settled
from pressfuncs.hosts.calc.office.load_hook import LoadHook
from pressfuncs.hosts.calc.signatures import INTERFACE, LOAD_HOOK, SERVICE
from pressfuncs.hosts.calc.values import given, rows
from pressfuncs.registry import FUNCTIONS, FunctionSpec

ADD_IN = "com.sun.star.sheet.AddIn"
"""Calc makes every service of this name before it compiles its first formula."""


def _method(spec: FunctionSpec) -> Callable[..., Any]:
    def method(self: Any, caller: Any, *arguments: Any) -> Any:
        values = given(arguments)
        result = settled(spec, caller, values) if 0.0 in values else evaluate(spec, values)
        return rows(result)

    return method


class _Named(XServiceInfo):  # type: ignore[misc]
    """What every UNO service says about itself."""

    NAME = ""

    def getImplementationName(self) -> str:
        return self.NAME

    def supportsService(self, name: str) -> bool:
        return name == self.NAME

    def getSupportedServiceNames(self) -> tuple[str, ...]:
        return (self.NAME,)


def _interfaces() -> tuple[type, ...]:
    """Return the interface of the functions; none while the office only registers an extension for all users.

    The type library is not known yet at that moment; the office loads this module anew when it works.
    """
    try:
        return (uno.getClass(INTERFACE),)
    except RuntimeException:
        return ()


Functions = type(
    "Functions",
    (unohelper.Base, *_interfaces(), _Named),
    {
        "__doc__": "The functions; made from the register when the office loads the extension.",
        "__init__": lambda self, context, *arguments: None,
        "NAME": SERVICE,
        **{spec.sheet_name: _method(spec) for spec in FUNCTIONS.values()},
    },
)


class _Hook(unohelper.Base, LoadHook, _Named):  # type: ignore[misc]
    NAME = LOAD_HOOK


helper = unohelper.ImplementationHelper()
helper.addImplementation(Functions, SERVICE, (SERVICE,))
helper.addImplementation(_Hook, LOAD_HOOK, (LOAD_HOOK, ADD_IN))
