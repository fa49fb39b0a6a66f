"""The file that the office runs: loads the functions beside it under a name of their own.

All extensions of an office share one Python. So the functions neither put a folder on `sys.path` nor take the
name of a package that a user may have installed; an extension that was replaced leaves no module behind.
"""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.machinery import ModuleSpec
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

PACKAGE = "pressfuncs_in_calc"


def load(folder: Path) -> None:
    """Put the package in a folder among the modules of this Python, in the place of an older one."""
    loaded = sys.modules.get(PACKAGE)
    if loaded is not None and list(loaded.__path__) == [str(folder)]:
        return
    for name in [name for name in sys.modules if name.partition(".")[0] == PACKAGE]:
        del sys.modules[name]
    spec = spec_from_file_location(PACKAGE, folder / "__init__.py", submodule_search_locations=[str(folder)])
    assert isinstance(spec, ModuleSpec)
    assert spec.loader is not None
    package = module_from_spec(spec)
    sys.modules[PACKAGE] = package
    spec.loader.exec_module(package)


load(Path(__file__).resolve().parent / PACKAGE)
g_ImplementationHelper = import_module(PACKAGE + ".hosts.calc.office.component").helper
