"""Each layer imports only from those above it; read from the syntax trees, so that no import can hide."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import pressfuncs

PACKAGE = Path(pressfuncs.__file__).parent
FILES = sorted(path for path in PACKAGE.rglob("*.py"))

CORE = {"quantities", "units", "errors", "limits", "arrays", "registry", "tables", "_version"}
LAYERS = [
    CORE,
    {"functions"},
    {"edge"},
    {"hosts", "batch", "drawing"},
    {"build", "cli", "demo", "templates", "__init__", "__main__"},
]
MAY_IMPORT = [
    {"numpy"},
    set(),
    {"pint", "numpy"},
    {
        *("xlwings", "uno", "unohelper", "com", "openpyxl", "numpy", "formualizer", "python_calamine", "pyarrow"),
        *("ezdxf", "matplotlib", "PIL"),
    },
]
"""Packages from outside the standard library, by layer; the last layer may import everything."""

USES_NUMPY = {"arrays.py", "edge/columns.py"}
"""The only files of the first three layers in which numpy may appear."""


def relative(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def layer_of(part: str) -> int:
    return next((number for number, parts in enumerate(LAYERS) if part in parts), len(LAYERS) - 1)


def own_part(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> Iterator[str]:
    """Give the dotted name of everything imported anywhere in the file; type-checking imports too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{relative(path)}: write imports in full"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def is_module(name: str) -> bool:
    return (PACKAGE / name).is_dir() or (PACKAGE / f"{name}.py").is_file()


def test_every_module_belongs_to_a_layer():
    known = set().union(*LAYERS)
    assert {own_part(path) for path in FILES} - {"generated"} <= known


@pytest.mark.parametrize("path", FILES, ids=relative)
def test_imports_point_up_the_layers(path):
    layer = layer_of(own_part(path))
    for name in imports(path):
        top, *rest = name.split(".")
        if top == "pressfuncs":
            part = rest[0] if rest and is_module(rest[0]) else "__init__"
            assert layer_of(part) <= layer, f"{relative(path)} imports {name}"
        elif top not in sys.stdlib_module_names and layer < len(MAY_IMPORT):
            assert top in MAY_IMPORT[layer], f"{relative(path)} imports {name}"


@pytest.mark.parametrize("path", [path for path in FILES if layer_of(own_part(path)) < 3], ids=relative)
def test_numpy_stays_in_its_files(path):
    assert relative(path) in USES_NUMPY or "numpy" not in {name.split(".")[0] for name in imports(path)}


@pytest.mark.parametrize("path", sorted((PACKAGE / "functions").glob("*.py")), ids=relative)
def test_functions_import_nothing_but_the_standard_library_and_the_core(path):
    tops = {name.split(".")[0] for name in imports(path)}
    assert not tops & {"pint", "numpy", "openpyxl", "xlwings", "uno"}
    assert tops <= set(sys.stdlib_module_names) | {"pressfuncs"}


def is_none(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def extension_files() -> list[Path]:
    """Return what goes into the Calc extension, which runs on Python 3.9."""
    calc = PACKAGE / "hosts" / "calc"
    return [path for path in FILES if layer_of(own_part(path)) < 3 or calc in path.parents]


@pytest.mark.parametrize("path", extension_files(), ids=relative)
def test_the_calc_extension_is_written_for_python_3_9(path):
    tree = ast.parse(path.read_text(encoding="utf-8"), feature_version=(3, 9))
    for node in ast.walk(tree):
        assert not isinstance(node, ast.Match)
        if isinstance(node, (ast.Assign, ast.Call)):  # annotations are never run, all else is
            unions = [part for part in ast.walk(node) if isinstance(part, ast.BinOp) and is_none(part.right)]
            assert not unions, f"line {node.lineno}: write Optional[...]"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "zip":
            assert not any(keyword.arg == "strict" for keyword in node.keywords)
    annotated = any(isinstance(node, (ast.FunctionDef, ast.AnnAssign)) for node in ast.walk(tree))
    assert not annotated or "__future__.annotations" in set(imports(path))


def test_importing_the_package_loads_no_heavy_library():
    heavy = ["pint", "numpy", "openpyxl", "formualizer", "click", "xlwings", "ezdxf", "matplotlib"]
    code = f"import sys, pressfuncs; print(*(set({heavy}) & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []


def test_a_call_on_bare_numbers_loads_neither_pint_nor_numpy():
    code = """
import sys
from pressfuncs.edge import evaluate
from pressfuncs.registry import find
assert abs(evaluate(find("shearing_force"), [471.239, "3.2 mm", 310]) - 467.469) < 0.001
print(*({"pint", "numpy"} & set(sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
