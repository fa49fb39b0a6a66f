"""Formulas of .xlsx files find the functions when the file is opened.

The .xlsx import of older offices (seen in 7.4; 25.2 needs no help) leaves a function by its plain name, PF_X,
as an unknown one. After such a load this hook adds a named range and takes it away again, which makes Calc
compile every formula with an unknown name once more; nothing of it stays in the document.
"""

from __future__ import annotations

import re
from typing import Any

import uno
from com.sun.star.document import XDocumentEventListener

from pressfuncs.hosts.calc.office.formulas import FORMULAS, Sheet
from pressfuncs.registry import PREFIX

_LOADED = "OnLoadFinished"
_SPREADSHEET = "com.sun.star.sheet.SpreadsheetDocument"
_OWN_FORMAT = "calc8"
_UNKNOWN = re.compile(rf"(?<![\w.]){PREFIX.lower()}\w+\(")
"""Calc writes the name of a function that it does not know in small letters."""

_HELPER_NAME = "pf_compile_again"


class LoadHook(XDocumentEventListener):  # type: ignore[misc]
    """Listens to every document of the office from the moment Calc makes its add-ins."""

    def __init__(self, context: Any, *arguments: Any) -> None:
        """Begin to listen."""
        broadcaster = context.getValueByName("/singletons/com.sun.star.frame.theGlobalEventBroadcaster")
        broadcaster.addDocumentEventListener(self)

    def disposing(self, source: Any) -> None:
        """Do nothing: the office ends."""

    def documentEventOccured(self, event: Any) -> None:
        """Look at a document that was loaded; the name of this method is spelt so in UNO."""
        document = event.Source
        if event.EventName != _LOADED or not document.supportsService(_SPREADSHEET):
            return
        if not _is_own_format(document) and _has_unknown_names(document):
            compile_again(document)


def _is_own_format(document: Any) -> bool:
    """Whether the file keeps the add-in's names, so that nothing is unknown in it."""
    return any(item.Name == "FilterName" and item.Value == _OWN_FORMAT for item in document.getArgs())


def _has_unknown_names(document: Any) -> bool:
    """Whether a formula calls one of the functions by its plain name and Calc does not know it by that."""
    return any(
        _UNKNOWN.search(text) for sheet in document.Sheets for _, _, text in Sheet(sheet, FORMULAS).formulas()
    )


def compile_again(document: Any) -> None:
    """Make Calc compile the formulas with unknown names again; nothing of it stays in the document."""
    names = document.NamedRanges
    helper = _HELPER_NAME
    while names.hasByName(helper):
        helper += "_"
    modified = document.isModified()
    undo = document.getUndoManager()
    undo.lock()
    try:
        names.addNewByName(helper, "$A$1", uno.createUnoStruct("com.sun.star.table.CellAddress"), 0)
        names.removeByName(helper)
    finally:
        undo.unlock()
        document.setModified(modified)
