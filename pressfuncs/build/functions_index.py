"""Generator of functions/__init__.py: the import of every function, for editors and type checkers.

Reads the chapters as syntax trees, so that it works even while the generated file is out of date.
"""

from __future__ import annotations

import ast
import importlib
from pathlib import Path

FUNCTIONS_FOLDER = Path(__file__).parent.parent / "functions"

HEADER = '''"""The library: one module a chapter, plain functions on core units (generated)."""

'''


def chapters() -> dict[str, list[str]]:
    """Return module name -> names of the functions its decorators enter in the register."""
    found = {}
    for path in sorted(FUNCTIONS_FOLDER.glob("[!_]*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        found[path.stem] = [
            node.name
            for node in tree.body
            if isinstance(node, ast.FunctionDef)
            and any(
                isinstance(mark, ast.Call) and isinstance(mark.func, ast.Name) and mark.func.id == "function"
                for mark in node.decorator_list
            )
        ]
    return found


def enter_all() -> None:
    """Enter every function in the register, also those that the generated index does not know yet."""
    for module in chapters():
        importlib.import_module(f"pressfuncs.functions.{module}")


def render() -> str:
    """Return the text of functions/__init__.py."""
    lines = [HEADER]
    for module, names in chapters().items():
        lines.append(f"from pressfuncs.functions.{module} import (\n")
        lines += [f"    {name},\n" for name in sorted(names)]
        lines.append(")\n")
    lines.append("\n__all__ = [\n")
    lines += [f'    "{name}",\n' for name in sorted(name for names in chapters().values() for name in names)]
    lines.append("]\n")
    return "".join(lines)
