"""Press work functions: force of the stroke, press capacity, closed height, throughput.

The functions here are plain: they take and return core units (mm, N, MPa, s, tonne, rad), as numbers or
numpy arrays. `with_units` takes quantities with units instead. Planning figures only: verify on the
machine's plate and the maker's capacity curve; guarding and lifting follow the local code.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pressfuncs._version import __version__ as __version__

if TYPE_CHECKING:
    from pressfuncs.functions import *  # noqa: F403, I001
    from pressfuncs.edge import explain as explain
    from pressfuncs.edge import with_units as with_units
else:
    # The functions are loaded when the first of them is asked for: `pressfuncs --help` needs none, and a type
    # checker that saw the functions below would believe in any name.

    def __getattr__(name):
        """Return a function, or a module of the package, that is asked for the first time."""
        from importlib import import_module
        from importlib.util import find_spec

        if name.startswith("__") and name != "__all__":
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        if find_spec(f"{__name__}.{name}") is not None:
            return import_module(f"{__name__}.{name}")
        _load()
        if name not in globals():
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        return globals()[name]

    def __dir__():
        """Return the names of the functions, and of what is loaded."""
        _load()
        return sorted(globals())

    def _load():
        from pressfuncs import edge, functions

        everything = {name: getattr(functions, name) for name in functions.__all__}
        globals().update(everything, explain=edge.explain, with_units=edge.with_units)
        globals()["__all__"] = ["__version__", "explain", "with_units", *functions.__all__]
