"""Implicit intersection: where a formula of one cell wants one value of a range, it is that of its row or column.

Formulas that were written as array formulas, or since spreadsheets have dynamic arrays and say so in the file,
are left as they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from pressfuncs.batch.book import Run
from pressfuncs.batch.formulas import NotUnderstood, Ref, Template, Token, call_end, function_name
from pressfuncs.batch.tokens import XlToken

# These take one value where a range is written.
ONE_VALUE = frozenset(
    "IF ABS ROUND ROUNDUP ROUNDDOWN INT TRUNC SQRT EXP LN LOG LOG10 SIN COS TAN ASIN ACOS ATAN ATAN2 POWER MOD"
    " SIGN TEXT LEFT RIGHT MID LEN UPPER LOWER PROPER TRIM VALUE CONCATENATE FIND SEARCH SUBSTITUTE REPT YEAR"
    " MONTH DAY DATE TIME HOUR MINUTE SECOND WEEKDAY EDATE EOMONTH NOT CHAR CODE EXACT DEGREES RADIANS CEILING"
    " FLOOR DATEVALUE SINGLE IFERROR IFNA ISERROR ISERR ISNA ISNUMBER ISTEXT ISNONTEXT ISLOGICAL ISBLANK EVEN ODD"
    " QUOTIENT MROUND FACT REPLACE CLEAN FIXED CHOOSE".split()
)

# These take a range as a range, and give one value.
AGGREGATES = frozenset(
    "SUM MAX MIN AVERAGE COUNT COUNTA COUNTBLANK PRODUCT SUMSQ MEDIAN AND OR STDEV STDEV.S STDEV.P VAR VAR.S VAR.P"
    " ROWS COLUMNS COUNTIF SUMIF AVERAGEIF MATCH VLOOKUP HLOOKUP SUBTOTAL CONCAT TEXTJOIN RANK LARGE SMALL".split()
)
_SINGLE = frozenset(("SUMPRODUCT", "PI", "TODAY", "NOW", "RAND", "NA", "TRUE", "FALSE"))
_ONE_WANTED = {("VLOOKUP", 0), ("HLOOKUP", 0), ("MATCH", 0), ("XLOOKUP", 0), ("XMATCH", 0)} | {
    (name, 1) for name in ("COUNTIF", "SUMIF", "AVERAGEIF", "LARGE", "SMALL")
}
_PASSING = ("IF", "CHOOSE")  # from the second argument on they give what they are given, a range as a range
_JOINING = (":", ",", " ")


def may_spill(template: Template) -> bool:
    """Whether a formula holds a function that may give several values."""
    return bool(template.functions - AGGREGATES - ONE_VALUE - _SINGLE)


class SplitAt(Exception):
    """The formula means different things above and below a row: the run is to be cut there."""

    def __init__(self, row: int) -> None:
        """Cut before this row."""
        super().__init__(row)
        self.row = row


class _Level:
    """One bracket around a token: the function it belongs to, and the argument the token stands in."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.place = 0
        self.computes = False  # whether the argument is more than an operand


def intersect(tokens: tuple[Token, ...], run: Run) -> Iterator[Token]:
    """Yield the tokens, with one cell in the place of each range of which one value is wanted.

    Raises:
        SplitAt: the range begins or ends beside the run.
    """
    levels = [_Level("")]
    computing = _computing(tokens)
    levels[0].computes = 0 in computing
    for i, token in enumerate(tokens):
        if token.subtype == XlToken.OPEN:
            levels.append(_Level(function_name(token.text) if token.opens else ""))
            levels[-1].computes = i + 1 in computing
        elif token.subtype == XlToken.CLOSE and len(levels) > 1:
            levels.pop()
        elif token.kind == XlToken.SEP:
            levels[-1].place += 1
            levels[-1].computes = i + 1 in computing
        ref = token.ref
        if ref is None or ref.single or not _wants_one(levels, run) or _part_of_a_range(tokens, i):
            yield token
        else:
            yield _one_cell(token, ref, run)


def _computing(tokens: tuple[Token, ...]) -> set[int]:
    """Return where the expressions and arguments begin that hold an operator outside of their brackets."""
    found: set[int] = set()
    starts = [0]
    for i, token in enumerate(tokens):
        if token.subtype == XlToken.OPEN:
            starts.append(i + 1)
        elif token.subtype == XlToken.CLOSE and len(starts) > 1:
            starts.pop()
        elif token.kind == XlToken.SEP:
            starts[-1] = i + 1
        elif token.kind in (XlToken.OP_IN, XlToken.OP_PRE, XlToken.OP_POST) and token.text not in _JOINING:
            found.add(starts[-1])
    return found


def _wants_one(levels: list[_Level], run: Run) -> bool:
    if run.area is not None:
        return levels[-1].name == "SINGLE"
    if any(level.name and level.name not in ONE_VALUE and level.name not in AGGREGATES for level in levels):
        return False  # what such a function takes it takes as an array
    for level in reversed(levels):
        if level.computes:
            return True
        if not level.name or (level.name in _PASSING and level.place):
            continue
        return level.name in ONE_VALUE or (level.name, level.place) in _ONE_WANTED
    return True


def _part_of_a_range(tokens: tuple[Token, ...], place: int) -> bool:
    """Whether a range is joined or intersected with what stands beside it."""
    for step in (-1, 1):
        i = place + step
        space = False
        while 0 <= i < len(tokens) and tokens[i].kind == XlToken.WSPACE:
            space, i = True, i + step
        if not 0 <= i < len(tokens):
            continue
        beside = tokens[i]
        if beside.text == ":" or beside.text.startswith(":"):
            return True
        if space and (beside.is_range or beside.subtype == (XlToken.CLOSE if step < 0 else XlToken.OPEN)):
            return True
    return False


def _one_cell(token: Token, ref: Ref, run: Run) -> Token:
    """Return the cell of a range that lies in the formula's own row or column, or #VALUE!."""
    for fixed, boundary in ((ref.fixed[0], ref.row1), (ref.fixed[2], ref.row2 + 1)):
        if fixed and run.first < boundary <= run.last:
            raise SplitAt(boundary)
    r1, c1, r2, c2 = ref.rectangle(run.first, run.column)
    one_row, one_column = r1 == r2, c1 == c2
    in_rows, in_columns = r1 <= run.first <= r2, c1 <= run.column <= c2
    if one_column and one_row:
        cell = replace(ref, row2=ref.row1, column2=ref.column1, single=True)
    elif one_column and in_rows:
        cell = Ref(ref.sheet, 0, c1, 0, c1, (False, True, False, True), True)
    elif one_row and in_columns:
        fixed_row = (ref.fixed[0], True, ref.fixed[0], True)
        cell = Ref(ref.sheet, ref.row1, run.column, ref.row1, run.column, fixed_row, True)
    elif in_rows and in_columns and not one_row and not one_column:
        cell = Ref(ref.sheet, 0, run.column, 0, run.column, (False, True, False, True), True)
    else:
        return Token(XlToken.OPERAND, XlToken.ERROR, "#VALUE!")
    return replace(token, ref=cell)


def without_single(tokens: tuple[Token, ...]) -> tuple[Token, ...]:
    """Write @x as (x): what is left of a range is one cell already, and engines lack the function.

    Raises:
        NotUnderstood: the range is computed, so that its cell cannot be told.
    """
    out: list[Token] = []
    closing: list[int] = []
    for i, token in enumerate(tokens):
        if token.opens and function_name(token.text) == "SINGLE":
            end = call_end(tokens, i)
            inside = tokens[i + 1 : end]
            if any(t.opens or (t.ref is not None and not t.ref.single) for t in inside):
                raise NotUnderstood("it takes one cell (@) of a computed range")
            closing.append(end)
            out.append(Token(XlToken.PAREN, XlToken.OPEN, "("))
        elif i in closing:
            out.append(Token(XlToken.PAREN, XlToken.CLOSE, ")"))
        else:
            out.append(token)
    return tuple(out)
