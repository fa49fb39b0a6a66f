"""XML of a workbook, read without doing what its author may have hidden in it."""

from __future__ import annotations

from xml.etree import ElementTree
from xml.parsers import expat

from pressfuncs.batch.refusals import Refused

_PIECE = 4096  # bytes of the prologue looked at in one go: bounds what a declaration can make expat do


class _RootReached(Exception):
    """The prologue is over; declarations can only stand before the root element."""


def parse_xml(data: bytes, name: str) -> ElementTree.Element:
    """Parse a part of a package.

    Arguments:
        data: the bytes of the part
        name: the part's name, for the sentence of a refusal

    Returns:
        The root element.

    Raises:
        Refused: the part declares a document type (and with it possibly entities), or is not well-formed.
    """
    refuse_document_type(data, name)
    try:
        return ElementTree.fromstring(data)
    except (ElementTree.ParseError, LookupError, ValueError) as error:
        raise malformed(name, error) from None


def refuse_document_type(data: bytes, name: str, encoding: str | None = None) -> None:
    """Refuse XML with a document type declaration, where entities that grow or fetch files are declared.

    `encoding` overrules what the XML says of itself.
    """

    def root(*_: object) -> None:
        raise _RootReached

    def document_type(*_: object) -> None:
        raise Refused(
            f"the part {name} declares a document type or entities, which no spreadsheet app writes; "
            "do not trust this file, ask its sender for a clean copy"
        )

    parser = expat.ParserCreate(encoding)
    parser.StartElementHandler = root
    parser.StartDoctypeDeclHandler = document_type
    try:
        for start in range(0, len(data), _PIECE):
            parser.Parse(data[start : start + _PIECE], False)
    except _RootReached:
        return
    except (expat.ExpatError, LookupError, ValueError) as error:
        raise malformed(name, error) from None


def malformed(name: str, error: Exception) -> Refused:
    """Return the refusal of a part that is not well-formed XML."""
    return Refused(
        f"the part {name} is damaged ({error}); open the file in the spreadsheet app, let it repair the file, "
        "save it and run again"
    )
