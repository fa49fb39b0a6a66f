"""Every generated file and its generator; writes them, or reports which ones have drifted."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from pressfuncs import registry
from pressfuncs import units as spellings
from pressfuncs.build import (
    assign_fields,
    cli_reference,
    defaults_page,
    functions_index,
    functions_page,
    reference,
    sources,
    unit_table,
    units,
    validation,
)
from pressfuncs.build.templates import TEMPLATES
from pressfuncs.build.templates.finish import same_workbook

PACKAGE = Path(__file__).parent.parent
DOCS = PACKAGE.parent / "docs"
TEMPLATES_FOLDER = PACKAGE.parent / "workbook_templates"

TABLES: dict[Path, Callable[[], str]] = {
    PACKAGE / "generated" / "unit_factors.json": units.render,
    PACKAGE / "generated" / "sources.json": sources.render,
    PACKAGE / "functions" / "__init__.py": functions_index.render,
}
"""Path -> function that returns the text the file must hold: what the program itself reads."""

PAGES: dict[Path, Callable[[], str]] = {
    DOCS / "assign-fields.md": assign_fields.render,
    DOCS / "cli.md": cli_reference.render,
    DOCS / "defaults.md": defaults_page.render,
    DOCS / "functions.md": functions_page.render,
    DOCS / "unit-table.md": unit_table.render,
    DOCS / "validation.md": validation.render,
    **{DOCS / "reference" / name: render for name, render in reference.pages().items()},
}
"""The same for pages of the documentation, which are made with the tables."""

WORKBOOKS: dict[Path, Callable[[], bytes]] = {TEMPLATES_FOLDER / name: build for name, build in TEMPLATES.items()}
"""Path -> function that returns the workbook the file must hold, formulas and stored results alike."""


def count() -> int:
    """Return how many generated files there are."""
    return len(TABLES) + len(PAGES) + len(WORKBOOKS)


def drifted() -> list[Path]:
    """Return the generated files that differ from what their generators give now.

    Pages and workbooks are judged only once the tables they are made with are right.
    """
    tables = [path for path, _ in _stale_texts(TABLES)]
    return tables or [path for path, _ in (*_stale_texts(PAGES), *_stale_workbooks())]


def write() -> list[Path]:
    """Bring every generated file up to date and return those that changed."""
    changed = []
    for stale in (_stale_texts(TABLES), _stale_texts(PAGES), _stale_workbooks()):
        for path, content in stale:
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content)
            changed.append(path)
        _forget()
    return changed


def _stale_texts(files: dict[Path, Callable[[], str]]) -> Iterator[tuple[Path, bytes]]:
    """Yield each text that has drifted with what it must hold."""
    for path, render in files.items():
        text = render()
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            yield path, text.encode("utf-8")


def _stale_workbooks() -> Iterator[tuple[Path, bytes]]:
    """Yield each workbook that has drifted with what it must hold."""
    for path, build in WORKBOOKS.items():
        workbook = build()
        if not path.exists() or not same_workbook(path.read_bytes(), workbook):
            yield path, workbook


def _forget() -> None:
    """Forget what was read from tables that may just have been written anew."""
    for read in (registry.sources, spellings.table, spellings.factor, spellings.factor_for):
        read.cache_clear()
