"""Writer of UNO type libraries: the binary file that tells LibreOffice which functions an add-in has.

The format is UNOIDL's: a magic, the place of the root map, then entities, names and maps in any order, all
numbers little-endian. Only what an add-in needs is written: modules and one interface of plain methods.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass

MAGIC = b"UNOIDL\xff\0"
MODULE, INTERFACE = 0, 5
IN = 0
BASE = "com.sun.star.uno.XInterface"


@dataclass(frozen=True)
class Method:
    """A method: its name, the type it returns, and the (name, type) of each parameter, all of them inputs."""

    name: str
    returns: str
    parameters: Sequence[tuple[str, str]]


def interface_library(name: str, methods: Sequence[Method]) -> bytes:
    """Return the bytes of a type library with one interface.

    Arguments:
        name: full name of the interface, its modules with dots
        methods: its methods; types are written as in "any", "double" and "[][]any"
    """
    out = bytearray(MAGIC + bytes(8))
    target = len(out)
    out += _interface(methods)
    names = name.split(".")
    for depth in reversed(range(len(names))):  # the innermost map first, since each names the place of the next
        name_at = len(out)
        out += names[depth].encode("ascii") + b"\0"
        map_at = len(out)
        entry = _number(name_at) + _number(target)
        if depth:
            target = map_at
            out += bytes([MODULE]) + _number(1) + entry
        else:
            out += entry
            out[len(MAGIC) : len(MAGIC) + 8] = _number(map_at) + _number(1)
    return bytes(out)


def _interface(methods: Sequence[Method]) -> bytes:
    parts = [
        bytes([INTERFACE]),
        _number(1) + _text(BASE),  # mandatory bases
        _number(0),  # optional bases
        _number(0),  # attributes
        _number(len(methods)),
    ]
    for method in methods:
        parts += [_text(method.name), _text(method.returns), _number(len(method.parameters))]
        parts += [bytes([IN]) + _text(name) + _text(kind) for name, kind in method.parameters]
        parts.append(_number(0))  # declared exceptions
    return b"".join(parts)


def _number(value: int) -> bytes:
    return struct.pack("<I", value)


def _text(value: str) -> bytes:
    return _number(len(value)) + value.encode("ascii")
