"""Where the workbook templates are: in the installed package, or in a checkout of the source."""

from __future__ import annotations

from pathlib import Path

FOLDER_NAME = "workbook_templates"
_PACKAGE = Path(__file__).parent
_FOLDERS = (_PACKAGE / FOLDER_NAME, _PACKAGE.parent / FOLDER_NAME)


def templates() -> list[str]:
    """Return the names of the templates, in order."""
    return sorted({path.name for folder in _FOLDERS for path in folder.glob("*.xlsx")})


def template_path(name: str) -> Path:
    """Return the path of a template.

    Raises:
        FileNotFoundError: there is none of this name; the message says which there are.
    """
    for folder in _FOLDERS:
        path = folder / name
        if name in templates() and path.is_file():
            return path
    raise FileNotFoundError(f"there is no template {name}; there are: {', '.join(templates()) or 'none'}")
