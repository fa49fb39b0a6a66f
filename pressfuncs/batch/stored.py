"""How the file format stores the value of a cell: the type attribute `t` and the text of `<v>`."""

from __future__ import annotations

import math
import re
from typing import Any

from pressfuncs.errors import ERROR_CODES, CellError

CellValue = float | str | bool | CellError | None
"""The value of a cell; None for no value at all."""

LONGEST_TEXT = 32_767
"""Letters a cell may hold, counted as UTF-16 units; what is longer is an error value in a spreadsheet."""

_ESCAPED = re.compile("[&<>\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
_ENTITY = re.compile(r"&(?:(amp|lt|gt|quot|apos)|#([0-9]+)|#x([0-9A-Fa-f]+));")
_FORMAT_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_NAMED = {"amp": "&", "lt": "<", "gt": ">", "quot": '"', "apos": "'"}
_REVERSED = {"&": "&amp;", "<": "&lt;", ">": "&gt;", "_": "_x005F_"}
_SPACE = " \t\r\n"


def encoded(value: CellValue) -> tuple[bytes, bytes | None]:
    """Return the type attribute (nothing for numbers) and the text of `<v>` (None for no value).

    NaN and infinities become #NUM!, texts that are too long and errors that no file may hold #VALUE!.

    >>> encoded(1e-7), encoded(True), encoded("a < b"), encoded(-0.0)
    ((b'', b'1E-07'), (b'b', b'1'), (b'str', b'a &lt; b'), (b'', b'0'))
    """
    if isinstance(value, bool):
        return b"b", b"1" if value else b"0"
    if isinstance(value, (float, int)):
        return _number(value)
    if value is None:
        return b"", None
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, CellError):
        return b"e", (value.code if value.code in ERROR_CODES else "#VALUE!").encode()
    plain: Any = getattr(value, "item", None)
    if plain is not None:  # one of numpy's numbers
        return encoded(plain())
    raise TypeError(f"a cell cannot hold a {type(value).__name__}")


def value_element(prefix: bytes, kind: bytes, content: bytes | None) -> bytes:
    """Return the `<v>` element for an encoded value, nothing for no value."""
    if content is None:
        return b""
    space = b""
    if kind == b"str" and content and (content[:1] in b" \t\n" or content[-1:] in b" \t\n"):
        space = b' xml:space="preserve"'
    return b"<%sv%s>%s</%sv>" % (prefix, space, content, prefix)


def number_elements(values: list[CellValue]) -> list[bytes] | None:
    """Return the `<v>` elements of a column of numbers, all at once; None if some are no finite floats.

    >>> number_elements([1e-7, -0.0, 12.0, 0.1])
    [b'<v>1E-07</v>', b'<v>0</v>', b'<v>12</v>', b'<v>0.1</v>']
    """
    if set(map(type, values)) != {float} or not all(map(math.isfinite, values)):  # type: ignore[arg-type]
        return None
    if 0.0 in values:
        values = [value or 0.0 for value in values]  # -0 becomes 0
    lines = "\n".join(map(repr, values)) + "\n"
    lines = lines.replace(".0\n", "\n").replace("e", "E").replace("\n", "</v>\n<v>")
    return [b"<v>%s" % lines[: lines.index("\n")].encode(), *lines.encode().split(b"\n")[1:-1]]


def stores(old_kind: bytes, old: bytes | None, kind: bytes, content: bytes | None) -> bool:
    """Say whether a cell stores a value already, numbers to 15 significant digits.

    Arguments:
        old_kind: its type attribute, nothing if there is none
        old: the text of its `<v>` as written in the file, None if there is none
        kind: the type attribute of the value, as `encoded` gives it
        content: the text of the value, as `encoded` gives it
    """
    if content is None:
        return old is None or (not old and old_kind in (b"", b"n"))
    if old is None:
        return old_kind == b"str" == kind and not content
    if not kind:
        if old_kind not in (b"", b"n"):
            return False
        try:
            return same_number(float(old), float(content))
        except ValueError:
            return False
    if old_kind != kind:
        return False
    if kind == b"b":
        return (old.strip() in (b"1", b"true")) == (content == b"1")
    return old == content or (kind == b"str" and decoded(old) == decoded(content))


def same_number(old: float, new: float) -> bool:
    """Say whether two numbers are the same to 15 significant digits, as spreadsheets show them.

    >>> same_number(0.1 + 0.2, 0.3), same_number(1.0, 1.00000000000001)
    (True, False)
    """
    if old == new:
        return True
    smallest = min(abs(old), abs(new))
    apart = abs(old - new)
    if not apart <= 1e-14 * smallest < math.inf:
        return False
    return apart <= 0.5 * 10.0 ** (math.floor(math.log10(smallest)) - 14)


def decoded(raw: bytes) -> str:
    """Return the text that the bytes of an element's content stand for.

    >>> decoded(b"a &lt; b_x005F_ &#228;")
    'a < b_ ä'
    """
    text = raw.decode("utf-8")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = resolved(text)
    if "_x" in text:
        text = _FORMAT_ESCAPE.sub(lambda found: chr(int(found[1], 16)), text)
    return text


def resolved(text: str) -> str:
    """Return text with the entities of XML resolved.

    >>> resolved("a &lt; b &#228; &amp;lt;")
    'a < b ä &lt;'
    """
    return _ENTITY.sub(_entity, text) if "&" in text else text


def escaped(text: str) -> bytes:
    """Return text as the content of an element, with the format's own escapes for what XML cannot hold."""
    return _ESCAPED.sub(_escape, text).encode("utf-8") if _ESCAPED.search(text) else text.encode("utf-8")


def _number(value: float) -> tuple[bytes, bytes]:
    try:
        number = float(value)
    except OverflowError:
        return b"e", b"#NUM!"
    if not math.isfinite(number):
        return b"e", b"#NUM!"
    text = repr(number + 0.0)  # adding nothing turns -0 into 0
    if text.endswith(".0"):
        text = text[:-2]
    return b"", text.replace("e", "E").encode()


def _text(value: str) -> tuple[bytes, bytes]:
    if not value.isascii() and any("\ud800" <= letter <= "\udfff" for letter in value):
        # Two halves of a letter outside the basic plane, side by side, are that letter.
        value = value.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "surrogatepass")
    if len(value) > LONGEST_TEXT or len(value) + sum(letter > "\uffff" for letter in value) > LONGEST_TEXT:
        return b"e", b"#VALUE!"
    return b"str", escaped(value)


def _escape(found: re.Match[str]) -> str:
    letter = found[0]
    return _REVERSED.get(letter) or f"_x{ord(letter):04X}_"


def _entity(found: re.Match[str]) -> str:
    if found[1]:
        return _NAMED[found[1]]
    return chr(int(found[2]) if found[2] else int(found[3], 16))
