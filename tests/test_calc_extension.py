"""The extension file itself: its bytes, its Python, and what the office reads of it."""

from __future__ import annotations

import ast
import io
import os
import struct
import subprocess
import sys
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import pytest

from pressfuncs.build.calc_extension import CARRIED_PACKAGE, ENTRY, build, files, renamed
from pressfuncs.build.type_library import MAGIC
from pressfuncs.edge import evaluate
from pressfuncs.hosts.calc.call_sites import calls
from pressfuncs.hosts.calc.signatures import (
    INTERFACE,
    LONGEST_HELP,
    SERVICE,
    argument_help,
    sheet_arguments,
)
from pressfuncs.registry import FUNCTIONS, UNITS_ARGUMENT, find

OOR = "{http://openoffice.org/2001/registry}"
OFFICE_MODULES = {"uno", "unohelper", "com"}


# -- the bytes


def test_the_same_source_gives_the_same_bytes():
    assert build() == build()
    with zipfile.ZipFile(io.BytesIO(build())) as archive:
        for entry in archive.infolist():
            assert entry.date_time == (1980, 1, 1, 0, 0, 0)
            assert entry.compress_type == zipfile.ZIP_STORED
            assert (entry.create_system, entry.external_attr) == (3, 0o644 << 16)


def test_another_process_with_another_hash_seed_gives_the_same_bytes():
    code = "import sys; from pressfuncs.build.calc_extension import build; sys.stdout.buffer.write(build())"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, env={**os.environ, "PYTHONHASHSEED": "7"}
    )
    assert done.stdout == build()


def test_it_carries_everything_that_the_functions_stand_on_and_nothing_else():
    names = {name for name in files() if name.startswith(CARRIED_PACKAGE)}
    top = {name.split("/")[1].removesuffix(".py") for name in names}
    assert top == {
        *("__init__", "_version", "quantities", "units", "errors", "limits", "arrays", "registry"),
        *("tables", "functions", "edge", "hosts", "generated"),
    }
    assert f"{CARRIED_PACKAGE}/generated/unit_factors.json" in names
    assert f"{CARRIED_PACKAGE}/tables/materials.csv" in names
    assert not [name for name in names if "excel" in name or "batch" in name or "__pycache__" in name]


# -- its Python


def sources() -> dict[str, str]:
    return {name: content.decode("utf-8") for name, content in files().items() if name.endswith(".py")}


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("extension")
    with zipfile.ZipFile(io.BytesIO(build())) as archive:
        archive.extractall(folder)
    return folder


def test_every_module_is_python_3_9():
    for name, source in sources().items():
        ast.parse(source, name, feature_version=(3, 9))


def test_vermin_finds_nothing_newer_than_python_3_9(unpacked: Path):
    options = ["--target=3.9-", "--no-tips", "--violations", "--eval-annotations", "--no-parse-comments"]
    done = subprocess.run(
        [
            Path(sys.executable).with_name("vermin"),
            *options,
            unpacked / ENTRY,
            unpacked / CARRIED_PACKAGE,
        ],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout


def test_it_imports_only_the_standard_library_the_office_and_itself():
    optional = {f"{CARRIED_PACKAGE}/arrays.py": {"numpy"}, f"{CARRIED_PACKAGE}/edge/columns.py": {"numpy"}}
    optional[f"{CARRIED_PACKAGE}/edge/quantity_calls.py"] = {"pint"}
    for name, source in sources().items():
        tops = set()
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Import):
                tops |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                tops.add(str(node.module).partition(".")[0])
        allowed = {CARRIED_PACKAGE, *optional.get(name, ())} | (OFFICE_MODULES if "/office/" in name else set())
        assert tops - set(sys.stdlib_module_names) <= allowed, name


def test_imports_are_renamed_wherever_they_stand():
    source = (
        "from pressfuncs import units\ndef f():\n    from pressfuncs.edge.call import x\n    return 'pressfuncs'"
    )
    expected = source.replace("from pressfuncs", f"from {CARRIED_PACKAGE}")
    assert renamed(source) == expected


LOADING = """
import sys
from importlib import import_module
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

folder = Path(sys.argv[1])
spec = spec_from_file_location(folder.name, folder / "__init__.py", submodule_search_locations=[str(folder)])
sys.modules[folder.name] = package = module_from_spec(spec)
spec.loader.exec_module(package)
edge, registry = import_module(folder.name + ".edge"), import_module(folder.name + ".registry")
print(len(registry.FUNCTIONS))
print(edge.evaluate(registry.find("shearing_force"), ["18.55 in", 3.2, "45 ksi"]))
print(edge.evaluate(registry.find("material"), ["Q235", "shear_strength"]))
print(sorted({"pressfuncs", "numpy", "pint"} & set(sys.modules)), str(folder) in sys.path)
"""


def test_the_carried_copy_computes_on_its_own_without_a_trace_of_the_installed_one(unpacked: Path):
    done = subprocess.run(
        [sys.executable, "-I", "-S", "-c", LOADING, str(unpacked / CARRIED_PACKAGE)],
        capture_output=True,
        text=True,
    )
    assert done.stderr == ""
    force, strength = (
        evaluate(find("shearing_force"), ["18.55 in", 3.2, "45 ksi"]),
        evaluate(find("material"), ["Q235", "shear_strength"]),
    )
    assert done.stdout.splitlines() == [str(len(FUNCTIONS)), str(force), str(strength), "[] False"]


# -- what the office reads


class Library:
    """A reader of type libraries, written apart from the writer."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        assert data[:8] == MAGIC
        self.root = self.entries(*struct.unpack_from("<II", data, 8))

    def entries(self, at: int, count: int) -> dict[str, int]:
        """Read a map: name -> where it points."""
        pairs = [struct.unpack_from("<II", self.data, at + 8 * i) for i in range(count)]
        return {self.data[name : self.data.index(b"\0", name)].decode(): place for name, place in pairs}

    def find(self, name: str) -> int:
        """Return where an entity is."""
        entries = self.root
        *modules, last = name.split(".")
        for module in modules:
            place = entries[module]
            assert self.data[place] == 0
            (count,) = struct.unpack_from("<I", self.data, place + 1)
            entries = self.entries(place + 5, count)
        return entries[last]

    def interface(self, name: str) -> dict[str, tuple[str, list[tuple[str, str]]]]:
        """Return method -> what it returns, and its parameters."""
        self.at = self.find(name)
        assert self.byte() == 5
        assert [self.text() for _ in range(self.number())] == ["com.sun.star.uno.XInterface"]
        assert (self.number(), self.number()) == (0, 0)
        methods = {}
        for _ in range(self.number()):
            method, returns = self.text(), self.text()
            parameters = []
            for _ in range(self.number()):
                assert self.byte() == 0
                parameters.append((self.text(), self.text()))
            assert self.number() == 0
            methods[method] = (returns, parameters)
        return methods

    def byte(self) -> int:
        """Read on by one byte."""
        self.at += 1
        return self.data[self.at - 1]

    def number(self) -> int:
        """Read on by one number."""
        self.at += 4
        value: int = struct.unpack_from("<I", self.data, self.at - 4)[0]
        return value

    def text(self) -> str:
        """Read on by one text."""
        length = self.number()
        self.at += length
        return self.data[self.at - length : self.at].decode("ascii")


def test_the_type_library_declares_every_function_with_anything_for_every_argument():
    methods = Library(files()["functions.rdb"]).interface(INTERFACE)
    assert set(methods) == {spec.sheet_name for spec in FUNCTIONS.values()}
    for spec in FUNCTIONS.values():
        returns, (caller, *parameters) = methods[spec.sheet_name]
        assert returns == "[][]any"
        assert caller == ("caller", "com.sun.star.beans.XPropertySet")
        assert parameters == [(argument.name, "any") for argument in sheet_arguments(spec)]
        assert len(parameters) == (spec.most_arguments or len(parameters))


def test_the_wizard_has_a_help_of_fitting_length_for_every_function_and_argument():
    root = ElementTree.fromstring(files()["CalcAddIns.xcu"])
    (service,) = root.findall(f"node[@{OOR}name='AddInInfo']/node")
    assert service.get(f"{OOR}name") == SERVICE
    functions = {node.get(f"{OOR}name"): node for node in service.findall("node/node")}
    assert set(functions) == {spec.sheet_name for spec in FUNCTIONS.values()}
    for spec in FUNCTIONS.values():
        node = functions[spec.sheet_name]
        texts = {prop.get(f"{OOR}name"): prop.findtext("value") for prop in node.findall("prop")}
        assert texts == {
            "DisplayName": spec.sheet_name,
            "CompatibilityName": spec.sheet_name,
            "Description": spec.docs.summary,
            "Category": "Add-In",
        }
        parameters = [parameter.get(f"{OOR}name") for parameter in node.findall("node/node")]
        assert parameters == [argument.name for argument in sheet_arguments(spec)]
        if spec.has_units:
            assert parameters[-1] == UNITS_ARGUMENT
        for help_text in [
            texts["Description"],
            *(prop.findtext("value") for prop in node.findall("node/node/prop")),
        ]:
            assert help_text
            assert len(help_text) <= LONGEST_HELP


def test_the_help_of_an_argument_names_units_choices_and_default():
    helps = {argument.name: argument.help for argument in sheet_arguments(find("stripping_force"))}
    assert "kN or tonf_us" in helps["force"] + helps.get("cutting_force", "")
    assert "default 0.2" in helps["stripping_share"]
    declared = find("press_verdict").arguments[-1]
    assert argument_help(declared) == f"{declared.help} (may be left out)"
    model = find("relieved_shearing_force").arguments[-1]
    assert all(choice in argument_help(model) for choice in model.choices)


def test_explain_has_room_for_the_longest_function_and_its_units():
    longest = max(spec.most_arguments or 0 for spec in FUNCTIONS.values())
    assert [a.name for a in sheet_arguments(find("explain"))] == ["name"] + [
        f"value_{i + 1}" for i in range(longest)
    ]


def test_calls_are_found_in_the_text_of_formulas():
    def found(formula: str) -> list[tuple[object, ...]]:
        return list(calls(formula, "PF_A"))

    assert found('=SUM(PF_A(1;;"x;)""y"))+X.PF_A()') == [(1.0, None, 'x;)"y'), (None,)]
    assert found("=PF_AB(1)+XPF_A(2)+PF_B(PF_A({1;2};3))")[0][1] == 3.0
    assert found("{=PF_A(-1.5;") == [(-1.5, None)]
    assert len(found("=PF_A(PF_A(1);2)")) == 2
