"""Formulas as templates: the text of a filled-down column is parsed once, whatever its length.

A `Template` is a list of tokens in which cell references are `Ref`s, relative to the cell that holds the
formula. `bind` turns it into a writer for one column, so that comparing or writing the formula of a row
costs one string replacement.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from pressfuncs.batch.addresses import column_index_from_string, get_column_letter
from pressfuncs.batch.tokens import Tokenizer, TokenizerError, XlToken
from pressfuncs.registry import FUNCTIONS, PREFIX, FunctionSpec

LAST_ROW = 1_048_576
LAST_COLUMN = 16_384

_OFTEN = 200  # characters; registers of one kind hold the same formulas, and shorter ones more than once
_CELL = r"(\$?)([A-Za-z]{1,3})(\$?)([1-9][0-9]{0,6})"
_CELLS = re.compile(rf"{_CELL}(?::{_CELL})?")
_COLUMNS = re.compile(r"(\$?)([A-Za-z]{1,3}):(\$?)([A-Za-z]{1,3})")
_ROWS = re.compile(r"(\$?)([1-9][0-9]{0,6}):(\$?)([1-9][0-9]{0,6})")
_PREFIX = re.compile(r"(?P<sheet>'(?:[^']|'')+'|[^'!\[\]:(){},;\"]+)!(?P<cells>.+)")
_OURS = re.compile(rf"(?:.*[!.])?({PREFIX}\w+)\($", re.IGNORECASE | re.DOTALL)
_OURS_ANYWHERE = re.compile(rf"\b{PREFIX}\w+\(", re.IGNORECASE)
_EXTERNAL = re.compile(r"\[[^\[\]]*\][^!\[\]]*!|\[[^\[\]]*\]'!|^\[\d+\]")


class NotUnderstood(Exception):
    """A formula, or a part of one, that cannot be evaluated here; the message says why.

    `template` is what could be read of it, so that it is known what the formula depends on.
    """

    def __init__(self, reason: str, template: Template | None = None) -> None:
        """Keep the reason and what could be read."""
        super().__init__(reason)
        self.template = template


@dataclass(frozen=True)
class Ref:
    """A reference to one cell or a rectangle; each edge is absolute, or an offset from the formula's cell."""

    sheet: str | None
    row1: int
    column1: int
    row2: int
    column2: int
    fixed: tuple[bool, bool, bool, bool]  # row1, column1, row2, column2
    single: bool = False

    def rectangle(self, row: int, column: int) -> tuple[int, int, int, int]:
        """Return (row1, column1, row2, column2) as seen from a cell; NotUnderstood if it leaves the sheet."""
        r1 = self.row1 if self.fixed[0] else row + self.row1
        c1 = self.column1 if self.fixed[1] else column + self.column1
        r2 = self.row2 if self.fixed[2] else row + self.row2
        c2 = self.column2 if self.fixed[3] else column + self.column2
        if r1 > r2:
            r1, r2 = r2, r1
        if c1 > c2:
            c1, c2 = c2, c1
        if r1 < 1 or c1 < 1 or r2 > LAST_ROW or c2 > LAST_COLUMN:
            raise NotUnderstood("a reference leaves the sheet")
        return r1, c1, r2, c2

    @property
    def rows_vary(self) -> bool:
        """Whether a row edge is relative."""
        return not (self.fixed[0] and self.fixed[2])

    def pattern(self, column: int) -> tuple[str, list[int]]:
        """Return the A1 text without sheet, NUL in place of each relative row, and the offsets of those rows."""
        offsets: list[int] = []
        columns = [
            self._letters(column, *edge) for edge in ((self.column1, self.fixed[1]), (self.column2, self.fixed[3]))
        ]
        rows = []
        for number, fixed in ((self.row1, self.fixed[0]), (self.row2, self.fixed[2])):
            rows.append(f"${number}" if fixed else "\0")
            if not fixed:
                offsets.append(number)
        if self.single:
            return columns[0] + rows[0], offsets[:1]
        if self.fixed[0] and self.fixed[2] and (self.row1, self.row2) == (1, LAST_ROW):
            return ":".join(columns), offsets
        if self.fixed[1] and self.fixed[3] and (self.column1, self.column2) == (1, LAST_COLUMN):
            return ":".join(rows), offsets
        return f"{columns[0]}{rows[0]}:{columns[1]}{rows[1]}", offsets

    @staticmethod
    def _letters(column: int, number: int, fixed: bool) -> str:
        place = number if fixed else column + number
        if not 1 <= place <= LAST_COLUMN:
            raise NotUnderstood("a reference leaves the sheet")
        return ("$" if fixed else "") + str(get_column_letter(place))


@dataclass(frozen=True)
class Token:
    """One token; `kind` and `subtype` are those of openpyxl's tokenizer.

    `ref` is set for a cell reference; `text` is then its sheet as the file writes it, with the "!".
    """

    kind: str
    subtype: str
    text: str
    ref: Ref | None = None

    @property
    def opens(self) -> bool:
        """Whether the token opens a function call."""
        return bool(self.kind == XlToken.FUNC and self.subtype == XlToken.OPEN)

    @property
    def closes(self) -> bool:
        """Whether the token closes a function call."""
        return bool(self.kind == XlToken.FUNC and self.subtype == XlToken.CLOSE)

    @property
    def is_range(self) -> bool:
        """Whether the token is an operand that names cells (a reference, a name, a table)."""
        return bool(self.kind == XlToken.OPERAND and self.subtype == XlToken.RANGE)


@dataclass(frozen=True)
class Template:
    """A formula without its place: equal for all cells of a filled-down column."""

    tokens: tuple[Token, ...]

    @cached_property
    def refs(self) -> tuple[Ref, ...]:
        """The references in it, in order, each once."""
        return tuple(dict.fromkeys(token.ref for token in self.tokens if token.ref is not None))

    @cached_property
    def functions(self) -> frozenset[str]:
        """The function names in it, in capitals, without file-format prefixes."""
        return frozenset(function_name(token.text) for token in self.tokens if token.opens)

    @cached_property
    def has_ours(self) -> bool:
        """Whether it calls a function of this library, or one spelled like it."""
        return any(token.opens and _OURS.fullmatch(token.text) for token in self.tokens)

    def bind(self, column: int, as_written: bool = False) -> Callable[[int], str]:
        """Return the function row -> formula text (without "=") for cells of one column.

        Arguments:
            column: the column of the cells
            as_written: whether to write the sheets of references as the file does, to compare with it
        """
        parts: list[str] = []
        offsets: list[int] = []
        for token in self.tokens:
            if token.ref is None:
                parts.append(token.text)
            else:
                text, found = token.ref.pattern(column)
                if as_written:
                    parts.append(token.text)
                elif token.ref.sheet is not None:
                    parts.append(quote_sheet(token.ref.sheet))
                parts.append(text)
                offsets += found
        pattern = "".join(parts)
        if not offsets:
            return lambda row: pattern
        if not any(offsets):
            return lambda row: pattern.replace("\0", str(row))
        pieces = pattern.split("\0")

        def write(row: int) -> str:
            if row + min(offsets) < 1 or row + max(offsets) > LAST_ROW:
                raise NotUnderstood("a reference leaves the sheet")
            text = [pieces[0]]
            for offset, piece in zip(offsets, pieces[1:]):
                text.append(str(row + offset))
                text.append(piece)
            return "".join(text)

        return write


def quote_sheet(name: str) -> str:
    """Return the sheet prefix of a reference.

    >>> quote_sheet("Shop's presses")
    "'Shop''s presses'!"
    """
    return "'" + name.replace("'", "''") + "'!"


def function_name(text: str) -> str:
    """Return the bare name of an opening token: XLOOKUP for "_xlfn.XLOOKUP("."""
    return re.sub(r"^(?:_xlfn\.|_xlws\.|@)+", "", text[:-1], flags=re.IGNORECASE).upper()


def our_function(text: str) -> str | None:
    """Return the plain name of one of our functions from an opening token, in any spelling a file may hold.

    >>> our_function("[1]!PF_SHEARING_FORCE("), our_function("_xll.pf_shearing_force("), our_function("SUM(")
    ('shearing_force', 'shearing_force', None)
    """
    match = _OURS.fullmatch(text)
    return match[1][len(PREFIX) :].lower() if match else None


def our_spec(text: str) -> FunctionSpec | None:
    """Return the function that an opening token calls, None for an ordinary one.

    Raises:
        NotUnderstood: the name is spelled like ours but the library has no such function.
    """
    name = our_function(text)
    if name is None:
        return None
    if name not in FUNCTIONS:
        raise NotUnderstood(f"{PREFIX}{name.upper()} is not a function of this version of pressfuncs")
    return FUNCTIONS[name]


@lru_cache(maxsize=4096)
def _column_number(letters: str) -> int:
    number = int(column_index_from_string(letters.upper()))
    if number > LAST_COLUMN:
        raise ValueError(f"there is no column {letters}")
    return number


def parse_ref(text: str, row: int, column: int) -> Ref | None:
    """Read "Sheet!$A1:B$2", "A:C" or "3:3" as seen from a cell; None if it is a name or something else."""
    sheet: str | None = None
    if "!" in text:
        match = _PREFIX.fullmatch(text)
        if match is None:
            return None
        sheet, text = match["sheet"], match["cells"]
        if sheet.startswith("'"):
            sheet = sheet[1:-1].replace("''", "'")

    def row_edge(fixed: str, number: str) -> int:
        return int(number) if fixed else int(number) - row

    def column_edge(fixed: str, letters: str) -> int:
        return _column_number(letters) if fixed else _column_number(letters) - column

    try:
        if match := _CELLS.fullmatch(text):
            c1f, c1, r1f, r1, c2f, c2, r2f, r2 = match.groups()
            single = c2 is None
            if single:
                c2f, c2, r2f, r2 = c1f, c1, r1f, r1
            return Ref(
                sheet,
                row_edge(r1f, r1),
                column_edge(c1f, c1),
                row_edge(r2f, r2),
                column_edge(c2f, c2),
                (bool(r1f), bool(c1f), bool(r2f), bool(c2f)),
                single,
            )
        if match := _COLUMNS.fullmatch(text):
            c1f, c1, c2f, c2 = match.groups()
            fixed = (True, bool(c1f), True, bool(c2f))
            return Ref(sheet, 1, column_edge(c1f, c1), LAST_ROW, column_edge(c2f, c2), fixed)
        if match := _ROWS.fullmatch(text):
            r1f, r1, r2f, r2 = match.groups()
            fixed = (bool(r1f), True, bool(r2f), True)
            return Ref(sheet, row_edge(r1f, r1), 1, row_edge(r2f, r2), LAST_COLUMN, fixed)
    except ValueError:  # letters beyond XFD: then it is a name
        return None
    return None


def parse(text: str, row: int, column: int) -> Template:
    """Parse a formula (without "=") that stands in the given cell.

    Raises:
        NotUnderstood: it cannot be tokenised, or refers to another workbook.
    """
    return _parsed(text, row, column) if len(text) <= _OFTEN else _parsed.__wrapped__(text, row, column)


@lru_cache(maxsize=1024)
def _parsed(text: str, row: int, column: int) -> Template:
    try:
        items = Tokenizer("=" + text).items
    except (TokenizerError, IndexError, AttributeError, ValueError) as error:
        names = [Token(XlToken.FUNC, XlToken.OPEN, found) for found in _OURS_ANYWHERE.findall(text)]
        raise NotUnderstood("the formula cannot be read", Template(tuple(names)) if names else None) from error
    tokens = []
    trouble = ""
    for item in items:
        value, ref = item.value, None
        if item.type == XlToken.FUNC and value.upper().endswith(":INDEX("):  # A2:INDEX(A:A,9)
            first = parse_ref(value[: -len(":INDEX(")], row, column)
            if first is not None and first.single:
                place = value[: value.rfind("!") + 1]
                tokens.append(Token(XlToken.OPERAND, XlToken.RANGE, place, first))
                tokens.append(Token(XlToken.OP_IN, "", ":"))
                value = value[-len("INDEX(") :]
        if item.type == XlToken.OPERAND and item.subtype == XlToken.RANGE:
            if _EXTERNAL.search(value):
                trouble = trouble or "it refers to another workbook"
            else:
                ref = parse_ref(value, row, column)
        elif item.type == XlToken.FUNC and _EXTERNAL.search(value) and our_function(value) is None:
            trouble = trouble or "it calls a function of another workbook"
        text = value[: value.rfind("!") + 1] if ref is not None else value
        tokens.append(Token(item.type, item.subtype, text, ref))
    template = Template(tuple(tokens))
    if trouble:
        raise NotUnderstood(trouble, template)
    return template


def move_to_sheet(token: Token, sheet: str) -> Token:
    """Return the token with its reference naming the sheet, so that it can stand on any other one."""
    if token.ref is None or token.ref.sheet is not None:
        return token
    return replace(token, ref=replace(token.ref, sheet=sheet))


def call_end(tokens: tuple[Token, ...], start: int) -> int:
    """Return the index of the token that closes the call opened at `start`."""
    depth = 0
    for i in range(start, len(tokens)):
        depth += tokens[i].opens - tokens[i].closes
        if depth == 0:
            return i
    raise NotUnderstood("the formula cannot be read")


def arguments_of(tokens: tuple[Token, ...], start: int, end: int) -> Iterator[tuple[Token, ...]]:
    """Yield the tokens of each argument of the call that opens at `start` and closes at `end`."""
    depth, first = 0, start + 1
    for i in range(start + 1, end):
        token = tokens[i]
        inner = token.subtype in (XlToken.OPEN, XlToken.CLOSE)
        if inner:
            depth += 1 if token.subtype == XlToken.OPEN else -1
        elif depth == 0 and token.kind == XlToken.SEP:
            yield _trimmed(tokens[first:i])
            first = i + 1
    last = _trimmed(tokens[first:end])
    if last or first > start + 1:
        yield last


def _trimmed(tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    """Drop white space at both ends; between two references it is the intersection operator."""
    first, last = 0, len(tokens)
    while first < last and tokens[first].kind == XlToken.WSPACE:
        first += 1
    while last > first and tokens[last - 1].kind == XlToken.WSPACE:
        last -= 1
    return tokens[first:last]
