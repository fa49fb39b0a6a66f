"""Sheet parts made by hand, and read by another XML parser."""

from __future__ import annotations

from xml.etree import ElementTree

from parts import MAIN

STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
_DECLARATION = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\r\n'


def sheet(rows: str, declaration: str = _DECLARATION) -> bytes:
    return (
        f'{declaration}<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData><pageMargins/></worksheet>'.encode()
    )


def with_comment(part: bytes) -> bytes:
    """Make a part that only the careful way takes."""
    return part.replace(b"<pageMargins/>", b"<!-- by hand --><pageMargins/>")


def texts(part: bytes) -> dict[str, tuple[str, str | None]]:
    """Return type and text of every cell by its address, as another XML parser reads them."""
    found = {}
    for cell in ElementTree.fromstring(part).iter():
        if cell.tag.endswith("}c"):
            value = next((child for child in cell if child.tag.endswith("}v")), None)
            found[cell.get("r", "")] = (cell.get("t", ""), None if value is None else value.text or "")
    return found
