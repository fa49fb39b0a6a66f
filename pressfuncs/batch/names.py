"""Plain names for our functions in formulas that an application has written with longer ones.

LibreOffice 7.4 saves a function of its add-in by the add-in's full name, Excel one of an add-in file with the
file before it. Neither means anything to a program that has the functions in another way; PF_X alone does.
"""

from __future__ import annotations

import codecs
import re

from pressfuncs.hosts.calc.signatures import SERVICE
from pressfuncs.registry import FUNCTIONS, PREFIX

_QUOTE = rb"(?:\"|&quot;|&#34;|&#x22;)"
_APOSTROPHE = rb"(?:'|&apos;|&#39;|&#x27;)"

_ELEMENT = re.compile(
    rb"<!--(?:.*?-->|.*)|<!\[CDATA\[(?:.*?\]\]>|.*)"  # unclosed ones take all, so that none is sought twice
    rb"|(<(?P<name>(?:[\w.-]+:)?(?:f|formula|formula1|formula2|definedName))(?:\s[^<>]*)?(?<!/)>)"
    rb"(?P<text>[^<]*(?:(?:<!\[CDATA\[.*?\]\]>|<!--.*?-->)[^<]*)*)(?=</(?P=name)\s*>)",
    re.DOTALL,
)
"""An element that holds a formula, in a sheet or among the names; comments and marked sections are passed over."""

_CALL = re.compile(
    rb"(?P<string>%(quote)s.*?%(quote)s|<!--.*?-->)"
    rb"|(?<![\w.!\]])(?P<before>"
    rb"%(service)s\.|_xl(?:l|fn|udf)\.|\[[0-9]+\]!"
    rb"|%(apostrophe)s(?:(?!%(apostrophe)s).){0,250}\.xl[a-z]{1,2}\]?(?:(?!%(apostrophe)s).){0,40}%(apostrophe)s!"
    rb"|[^\s!(),;:{}\"'&<>=+*/^-]{1,250}\.xl[a-z]{1,2}\]?!"
    rb")*(?P<call>%(prefix)s\w+)(?=\()"
    % {
        b"quote": _QUOTE,
        b"apostrophe": _APOSTROPHE,
        b"service": re.escape(SERVICE.encode()),
        b"prefix": PREFIX.encode(),
    },
    re.DOTALL | re.IGNORECASE,
)
"""A call of one of our functions with whatever stands before its name, or a text, which is left alone."""

_ANY = re.compile(PREFIX.encode(), re.IGNORECASE)

_KNOWN = {spec.sheet_name.encode() for spec in FUNCTIONS.values()}

_WIDE = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}


def clean_names(part: bytes) -> tuple[bytes, int]:
    """Give our functions their plain names in every formula of a sheet part, or of the workbook part.

    Arguments:
        part: the bytes of the part

    Returns:
        The part, with every other byte as it was, and how many calls were renamed.

    >>> clean_names(b"<f>_xll.PF_SHEARING_FORCE(A1,B1,C1)</f>")
    (b'<f>PF_SHEARING_FORCE(A1,B1,C1)</f>', 1)
    """
    encoding = _WIDE.get(part[:2])
    if encoding is not None:
        text, count = clean_names(part[2:].decode(encoding).encode("utf-8"))
        return (part[:2] + text.decode("utf-8").encode(encoding), count) if count else (part, 0)
    if not _ANY.search(part):
        return part, 0
    count = 0

    def renamed(call: re.Match[bytes]) -> bytes:
        nonlocal count
        plain = (call["call"] or b"").upper()
        if plain not in _KNOWN or call[0] == plain:
            return call[0]
        count += 1
        return plain

    def element(found: re.Match[bytes]) -> bytes:
        if found["name"] is None:
            return found[0]
        if not _ANY.search(found["text"]):
            return found[0]
        return found[1] + _CALL.sub(renamed, found["text"])

    cleaned = _ELEMENT.sub(element, part)
    return cleaned, count
