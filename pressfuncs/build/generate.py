"""Every generated file and its generator, in two tables; writes them, or reports which ones have drifted."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from pressfuncs.build import functions_index, sources, units
from pressfuncs.build.templates import TEMPLATES
from pressfuncs.build.templates.finish import same_workbook

PACKAGE = Path(__file__).parent.parent
TEMPLATES_FOLDER = PACKAGE.parent / "workbook_templates"

TEXT_FILES: dict[Path, Callable[[], str]] = {
    PACKAGE / "generated" / "unit_factors.json": units.render,
    PACKAGE / "generated" / "sources.json": sources.render,
    PACKAGE / "functions" / "__init__.py": functions_index.render,
}
"""Path -> function that returns the text the file must hold."""

BINARY_FILES: dict[Path, Callable[[], bytes]] = {
    TEMPLATES_FOLDER / name: build for name, build in TEMPLATES.items()
}
"""Path -> function that returns the workbook the file must hold, formulas and stored results alike."""


def drifted() -> list[Path]:
    """Return the generated files that differ from what their generators give now."""
    return [path for path, _ in _stale()]


def write() -> list[Path]:
    """Bring every generated file up to date and return those that changed."""
    changed = []
    for path, content in _stale():
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
        changed.append(path)
    return changed


def _stale() -> Iterator[tuple[Path, bytes]]:
    """Yield each file that has drifted with what it must hold; texts first, since the workbooks use them."""
    for path, render in TEXT_FILES.items():
        text = render()
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            yield path, text.encode("utf-8")
    for path, build in BINARY_FILES.items():
        workbook = build()
        if not path.exists() or not same_workbook(path.read_bytes(), workbook):
            yield path, workbook
