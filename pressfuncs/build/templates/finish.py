"""The last step of every template: the same bytes from the same content, and stored results in every formula.

A workbook library writes the time of day, and XML that depends on which parser is installed. Both are taken
out, so that a template that is built again can be compared with the one in the repository.
"""

from __future__ import annotations

import io
import math
import re
import tempfile
import zipfile
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import canonicalize

from openpyxl import Workbook
from openpyxl.workbook.properties import CalcProperties

from pressfuncs.batch.recalc import recalculate
from pressfuncs.build.templates.chart_caches import CHART, fill_chart, sheets_with_results

MADE = "2025-01-01T00:00:00Z"
"""Creation and change, as the file's properties give it; the same for ever."""

_ZIP_DATE = (2025, 1, 1, 0, 0, 0)
_DECLARATION = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_TIMES = re.compile(r"(<dcterms:(created|modified)[^>]*>)[^<]*<")
_STORED = re.compile(r"(?<=<v>)[^<]*(?=</v>)")
_CALCULATION = 191029
"""Version of the calculation, such that no spreadsheet app in use recalculates the file when it opens it."""


def finished(workbook: Workbook) -> bytes:
    """Return the bytes of the workbook file, with fixed times and the results of all formulas stored.

    Raises:
        RuntimeError: a formula of the template cannot be computed, or refuses its input.
    """
    # An app that recalculates on opening would show #NAME? to everybody without the functions.
    workbook.calculation = CalcProperties(calcId=_CALCULATION, fullCalcOnLoad=False)
    raw = io.BytesIO()
    workbook.save(raw)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "template.xlsx"
        path.write_bytes(_settled(raw.getvalue()))
        outcome = recalculate(path, path)
        wrong = [
            *(f"{found.sheet}!{found.cell}: {found.sentence}" for found in outcome.failing),
            *(f"{found.sheet}!{found.cell}: {found.reason}" for found in outcome.frozen),
        ]
        if wrong:
            raise RuntimeError("the template does not compute: " + "; ".join(wrong))
        return _with_filled_charts(path.read_bytes())


def same_workbook(first: bytes, second: bytes) -> bool:
    """Whether two workbook files hold the same parts, stored numbers compared to eleven digits.

    The packing of the parts, which depends on the version of zlib, does not count; nor do the last digits of a
    sine, which depend on the machine.
    """
    old, new = _parts(first), _parts(second)
    return list(old) == list(new) and all(_same_part(old[name], new[name]) for name in old)


def _settled(data: bytes) -> bytes:
    """Return the package with fixed times, its XML in canonical form."""
    parts = _parts(data)
    for name, content in parts.items():
        if name.endswith((".xml", ".rels", ".vml")):
            text = content.decode("utf-8")
            if name.endswith(".vml"):
                text = _with_usual_prefixes(text)
            text = _TIMES.sub(rf"\g<1>{MADE}<", canonicalize(text))
            parts[name] = (_DECLARATION + text).encode("utf-8")
    return _packed(parts)


def _with_filled_charts(data: bytes) -> bytes:
    """Return the package with the stored results of the cells in the charts that show them."""
    parts = _parts(data)
    charts = [name for name in parts if CHART.fullmatch(name)]
    if not charts:
        return data
    values = sheets_with_results(data)
    for name in charts:
        parts[name] = fill_chart(parts[name].decode("utf-8"), values).encode("utf-8")
    return _packed(parts)


def _packed(parts: dict[str, bytes]) -> bytes:
    """Return the parts as a package in which nothing depends on the time of day."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in parts.items():
            entry = zipfile.ZipInfo(name, _ZIP_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            book.writestr(entry, content)
    return packed.getvalue()


def _with_usual_prefixes(text: str) -> str:
    """Return a drawing of comments with the prefixes that spreadsheet apps write, whatever parser made others."""
    for prefix, name in (("v", "vml"), ("o", "office:office"), ("x", "office:excel")):
        ElementTree.register_namespace(prefix, f"urn:schemas-microsoft-com:{name}")
    return ElementTree.tostring(ElementTree.fromstring(text), encoding="unicode")


def _parts(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return {name: book.read(name) for name in book.namelist()}


def _same_part(first: bytes, second: bytes) -> bool:
    if first == second:
        return True
    try:
        old, new = first.decode("utf-8"), second.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return _STORED.sub("", old) == _STORED.sub("", new) and all(
        map(_same_value, _STORED.findall(old), _STORED.findall(new))
    )


def _same_value(old: str, new: str) -> bool:
    if old == new:
        return True
    try:
        return math.isclose(float(old), float(new), rel_tol=1e-11)
    except ValueError:
        return False
