"""Edits of single tags, for both ways of rewriting a sheet part."""

from __future__ import annotations

import re

from pressfuncs.batch.refusals import Refused

TAG = re.compile(rb"<([^\s/>=<]+)((?:\s+[^\s=/>]+\s*=\s*(?:\"[^\"]*\"|'[^']*'))*)\s*(/?)>")
"""A start tag or an empty element: name, attributes, slash. Attributes may hold a ">"."""

_ATTRIBUTE = re.compile(rb"(\s+)([^\s=/>]+)(\s*=\s*)(\"[^\"]*\"|'[^']*')")


def with_type(head: bytes, kind: bytes) -> bytes:
    """Return the start tag of a cell, without its end, for a new value of a type.

    Value metadata (`vm`) belongs to the old value and goes; everything else stays as it is written.

    >>> with_type(b'<c r="B2" t="e" vm="1" cm="1"', b"str"), with_type(b'<x:c r="B2"', b"b")
    (b'<c r="B2" t="str" cm="1"', b'<x:c r="B2" t="b"')
    """
    if b"t" not in head and b"vm" not in head:
        return b'%s t="%s"' % (head, kind) if kind else head
    done = not kind

    def edited(found: re.Match[bytes]) -> bytes:
        nonlocal done
        if found[2] == b"vm":
            return b""
        if found[2] != b"t":
            return found[0]
        if not kind:
            return found[0] if found[4][1:-1] == b"n" else b""
        done = True
        return b'%st%s"%s"' % (found[1], found[3], kind)

    head = _ATTRIBUTE.sub(edited, head)
    return head if done else b'%s t="%s"' % (head, kind)


def with_extent(tag: bytes, extent: bytes) -> bytes:
    """Return the start tag of a formula with a new `ref`.

    >>> with_extent(b'<f t="array" ref="B2:B4">', b"B2:B9")
    b'<f t="array" ref="B2:B9">'
    """

    def edited(found: re.Match[bytes]) -> bytes:
        return b'%sref%s"%s"' % (found[1], found[3], extent) if found[2] == b"ref" else found[0]

    return _ATTRIBUTE.sub(edited, tag)


def tag_at(part: bytes, start: int) -> bytes:
    """Return the start tag, or empty element, that begins at a position."""
    found = TAG.match(part, start)
    if found is None:
        raise Refused("a tag of a sheet cannot be read; open the file in the spreadsheet app and save it anew")
    return found[0]


def name_of(tag: bytes) -> bytes:
    """Return the name of a tag, with its prefix.

    >>> name_of(b'<x:c r="B2"/>')
    b'x:c'
    """
    return tag[1:].replace(b"/", b" ").replace(b">", b" ").split(None, 1)[0]


def prefix_of(tag: bytes) -> bytes:
    """Return the namespace prefix of a tag with its colon, or nothing.

    >>> prefix_of(b'<x:c r="B2"/>'), prefix_of(b"<c>")
    (b'x:', b'')
    """
    prefix, colon, _ = name_of(tag).rpartition(b":")
    return prefix + colon
