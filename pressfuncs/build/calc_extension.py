"""Builder of the LibreOffice extension `pressfuncs.oxt`: one file with everything the add-in needs.

Written in pure Python, without the office or its developers' kit; the same source gives the same bytes.
"""

from __future__ import annotations

import ast
import io
import zipfile
from collections.abc import Iterator
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from pressfuncs._version import __version__
from pressfuncs.build.type_library import Method, interface_library
from pressfuncs.hosts.calc.signatures import (
    CALLER,
    IDENTIFIER,
    INTERFACE,
    SERVICE,
    fitted,
    sheet_arguments,
)
from pressfuncs.registry import FUNCTIONS, FunctionSpec

PACKAGE = Path(__file__).parent.parent
CARRIED_PACKAGE = "pressfuncs_in_calc"
ENTRY = "pressfuncs_calc.py"
FILE_NAME = "pressfuncs.oxt"

CARRIED = (
    "__init__.py",
    "_version.py",
    "quantities.py",
    "units.py",
    "errors.py",
    "limits.py",
    "arrays.py",
    "registry.py",
    "tables/*.py",
    "tables/*.csv",
    "functions/*.py",
    "edge/*.py",
    "hosts/__init__.py",
    "hosts/calc/*.py",
    "hosts/calc/office/*.py",
    "generated/unit_factors.json",
    "generated/sources.json",
)
"""What the extension carries: the core and everything that stands on nothing else."""

CALC_CATEGORY = "Add-In"
"""Calc takes only the names of its own groups; this one is meant for add-ins."""

DISPLAY_NAME = "pressfuncs: press work functions"
DESCRIPTION = (
    "Worksheet functions for press work: force of the stroke, press capacity at a height, closed height, "
    "throughput. All begin with PF_ and stand in the function wizard under Add-In.\n\n"
    "Planning figures only: verify on the machine's plate and the maker's capacity curve. Guarding, stopping "
    "distance and lifting follow the local code and a competent, licensed person. Never try a die to find out.\n"
)

_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
_LONG_AGO = (1980, 1, 1, 0, 0, 0)


def carried_files() -> list[Path]:
    """Return the source files that go into the extension, in a fixed order."""
    return sorted({path for pattern in CARRIED for path in PACKAGE.glob(pattern)} - {_entry()})


def build() -> bytes:
    """Return the bytes of the extension.

    Nothing is compressed: how well a file packs depends on the library at hand, and the bytes should not.
    """
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as zipped:
        for name, content in files().items():
            info = zipfile.ZipInfo(name, _LONG_AGO)
            info.create_system = 3
            info.external_attr = 0o644 << 16
            zipped.writestr(info, content)
    return archive.getvalue()


def files() -> dict[str, bytes]:
    """Return the files of the extension by name."""
    found = {
        "META-INF/manifest.xml": _manifest().encode(),
        "description.xml": _description().encode(),
        "description.txt": DESCRIPTION.encode(),
        "CalcAddIns.xcu": configuration().encode(),
        "functions.rdb": type_library(),
        ENTRY: _entry().read_bytes(),
    }
    for path in carried_files():
        content = path.read_bytes()
        name = f"{CARRIED_PACKAGE}/{path.relative_to(PACKAGE).as_posix()}"
        found[name] = renamed(content.decode("utf-8")).encode() if path.suffix == ".py" else content
    return found


def _entry() -> Path:
    return PACKAGE / "hosts" / "calc" / "office" / "entry.py"


def renamed(source: str) -> str:
    """Return a module with its imports from pressfuncs changed to the name that the package has in the office.

    >>> renamed("from pressfuncs.errors import CellError")
    'from pressfuncs_in_calc.errors import CellError'
    """
    lines = source.split("\n")
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and (node.module or "").partition(".")[0] == "pressfuncs":
            place = node.lineno - 1
            lines[place] = lines[place].replace("from pressfuncs", f"from {CARRIED_PACKAGE}", 1)
        elif isinstance(node, ast.Import):
            assert not any(alias.name.partition(".")[0] == "pressfuncs" for alias in node.names), source
    return "\n".join(lines)


def type_library() -> bytes:
    """Return the type library: every argument may be anything, every result is rows of anything."""
    document = (CALLER, "com.sun.star.beans.XPropertySet")
    return interface_library(
        INTERFACE,
        [
            Method(
                spec.sheet_name,
                "[][]any",
                [document, *((argument.name, "any") for argument in sheet_arguments(spec))],
            )
            for spec in FUNCTIONS.values()
        ],
    )


def configuration() -> str:
    """Return CalcAddIns.xcu: the names and help texts that the function wizard shows."""
    functions = "".join(_function_node(spec) for spec in FUNCTIONS.values())
    return (
        f'{_XML}<oor:component-data xmlns:oor="http://openoffice.org/2001/registry" '
        'xmlns:xs="http://www.w3.org/2001/XMLSchema" oor:name="CalcAddIns" oor:package="org.openoffice.Office">\n'
        + _group("AddInInfo", _entry_node(SERVICE, _group("AddInFunctions", functions)))
        + "</oor:component-data>\n"
    )


def _function_node(spec: FunctionSpec) -> str:
    arguments = "".join(
        _entry_node(argument.name, _text("DisplayName", argument.name) + _text("Description", argument.help))
        for argument in sheet_arguments(spec)
    )
    return _entry_node(
        spec.sheet_name,
        _text("DisplayName", spec.sheet_name)
        + _text("Description", fitted(spec.docs.summary))
        + f'<prop oor:name="Category"><value>{CALC_CATEGORY}</value></prop>\n'
        + _text("CompatibilityName", spec.sheet_name)
        + _group("Parameters", arguments),
    )


def _group(name: str, body: str) -> str:
    return f"<node oor:name={quoteattr(name)}>\n{body}</node>\n"


def _entry_node(name: str, body: str) -> str:
    return f'<node oor:name={quoteattr(name)} oor:op="replace">\n{body}</node>\n'


def _text(name: str, value: str) -> str:
    return f'<prop oor:name="{name}"><value xml:lang="en-US">{escape(value)}</value></prop>\n'


def _manifest() -> str:
    office = "application/vnd.sun.star."
    entries = "".join(
        f' <manifest:file-entry manifest:media-type="{office}{kind}" manifest:full-path="{path}"/>\n'
        for kind, path in _parts()
    )
    return (
        f'{_XML}<manifest:manifest xmlns:manifest="http://openoffice.org/2001/manifest">\n{entries}'
        "</manifest:manifest>\n"
    )


def _parts() -> Iterator[tuple[str, str]]:
    """Give the parts to register, types first: the component is made from them."""
    yield "uno-typelibrary;type=RDB", "functions.rdb"
    yield "uno-component;type=Python", ENTRY
    yield "configuration-data", "CalcAddIns.xcu"


def _description() -> str:
    return (
        f'{_XML}<description xmlns="http://openoffice.org/extensions/description/2006" '
        'xmlns:xlink="http://www.w3.org/1999/xlink">\n'
        f'<identifier value="{IDENTIFIER}"/>\n<version value="{__version__}"/>\n'
        f'<display-name><name lang="en">{escape(DISPLAY_NAME)}</name></display-name>\n'
        '<extension-description><src lang="en" xlink:href="description.txt"/></extension-description>\n'
        "</description>\n"
    )
