"""Every generated file and its generator, in one table; writes them, or reports which ones have drifted."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pressfuncs.build import functions_index, sources, units

PACKAGE = Path(__file__).parent.parent

TEXT_FILES: dict[Path, Callable[[], str]] = {
    PACKAGE / "generated" / "unit_factors.json": units.render,
    PACKAGE / "generated" / "sources.json": sources.render,
    PACKAGE / "functions" / "__init__.py": functions_index.render,
}
"""Path -> function that returns the text the file must hold."""


def drifted() -> list[Path]:
    """Return the generated files that differ from what their generators give now."""
    return [
        path
        for path, render in TEXT_FILES.items()
        if not path.exists() or path.read_text(encoding="utf-8") != render()
    ]


def write() -> list[Path]:
    """Bring every generated file up to date and return those that changed."""
    changed = drifted()
    for path in changed:
        path.write_text(TEXT_FILES[path](), encoding="utf-8")
    return changed
