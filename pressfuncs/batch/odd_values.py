"""Values in the cells that a formula reads, on which the engine and spreadsheets part: there it is left alone."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from typing import Any

from pressfuncs.batch.book import Book, Run
from pressfuncs.batch.formulas import Ref, Token, arguments_of, call_end, function_name, our_function
from pressfuncs.batch.guards import maybe_number
from pressfuncs.batch.spread import columns_of, rows_of
from pressfuncs.batch.tokens import XlToken
from pressfuncs.errors import CellError

_OPERATORS = (XlToken.OP_IN, XlToken.OP_PRE, XlToken.OP_POST)
_ARITHMETIC = ("+", "-", "*", "/", "^", "%")
_ORDER = ("<", ">", "<=", ">=")
_PLAIN_TEXT = re.compile(r"[A-Za-z0-9 ]*")
# Of these, the arguments that are numbers wherever they stand; texts there are read as numbers.
_NUMERIC = frozenset(
    "ABS ROUND ROUNDUP ROUNDDOWN INT TRUNC SQRT EXP LN LOG LOG10 ASIN ACOS ATAN ATAN2 SIGN DEGREES RADIANS EVEN"
    " ODD FACT CEILING CEILING.MATH FLOOR YEAR MONTH DAY HOUR MINUTE SECOND DATE DATEDIF PV FV PMT NPER SLN"
    " NORM.DIST NORM.S.DIST NORMDIST NORMSDIST STANDARDIZE PERMUT COMBIN CHAR".split()
)
# These leave out the texts and truth values of a range, and take those that are written as arguments.
_LISTS = frozenset(
    "SUM MAX MIN AVERAGE PRODUCT SUMSQ MEDIAN STDEV STDEV.S STDEV.P STDEVP VAR VAR.S VAR.P VARP AND OR XOR LARGE"
    " SMALL GEOMEAN HARMEAN AVEDEV DEVSQ AVERAGEA MAXA MINA STDEVA STDEVPA VARA VARPA KURT SKEW SKEW.P"
    " COUNT".split()
)
_CONDITIONS = frozenset(("IF", "IFS", "NOT"))
# Functions that look for the very value; the place of the argument without which some look for the nearest one.
_LOOKING = {"MATCH": 2, "VLOOKUP": 3, "HLOOKUP": 3, "XMATCH": 0, "XLOOKUP": 0}
_EXACT = frozenset(
    "ROUND INT ROUNDUP ROUNDDOWN TRUNC ROW COLUMN ROWS COLUMNS COUNT COUNTA COUNTIF LEN YEAR MONTH DAY".split()
)
_CLOSE = 2e-12  # the engine takes numbers that are nearer to each other for the same

Arguments = list[tuple[Token, ...]]


def odd_values(tokens: tuple[Token, ...], run: Run, book: Book) -> str:
    """Return why the values that a formula reads make the engine's answer doubtful; "" if they do not."""
    for i, token in enumerate(tokens):
        if token.ref is not None and token.ref.single and _in_arithmetic(tokens, i):
            if _any(token.ref, run, book, _is_odd):
                return _ODD
        if token.kind == XlToken.OP_IN and token.text in _ORDER and _texts_in_order(tokens, i, run, book):
            return "texts with signs or accents are put in order"
        if not token.opens or our_function(token.text) is not None:
            continue
        name = function_name(token.text)
        rule = _RULES.get(name)
        if rule is not None:
            reason = rule(name, list(arguments_of(tokens, i, call_end(tokens, i))), run, book)
            if reason:
                return reason
    return ""


_ODD = "a text may be a number, a date or a time"


def _in_arithmetic(tokens: tuple[Token, ...], place: int) -> bool:
    """Whether an operator of arithmetic stands beside an operand."""
    for step in (-1, 1):
        i = place + step
        while 0 <= i < len(tokens) and tokens[i].kind == XlToken.WSPACE:
            i += step
        if 0 <= i < len(tokens) and tokens[i].kind in _OPERATORS and tokens[i].text in _ARITHMETIC:
            return True
    return False


def _texts_in_order(tokens: tuple[Token, ...], place: int, run: Run, book: Book) -> bool:
    """Whether both sides of a < or > may be texts, and one of them has more than plain letters and digits."""
    found: list[str] = []
    for step in (-1, 1):
        i = place + step
        while 0 <= i < len(tokens) and tokens[i].kind == XlToken.WSPACE:
            i += step
        side = tokens[i] if 0 <= i < len(tokens) else tokens[place]
        text = _literal_text((side,))
        values: Iterable[Any] = (text,) if text is not None else ()
        if side.ref is not None:
            values = cells(side.ref, run, book)
        texts = [value for value in values if value.__class__ is str]
        if not texts:
            return False
        found += texts
    return any(not _PLAIN_TEXT.fullmatch(text) for text in found)


def cells(ref: Ref, run: Run, book: Book) -> Iterator[Any]:
    """Yield what the cells of a reference store, over all rows of the run."""
    sheet = book.sheets.get(ref.sheet or run.sheet)
    if sheet is None:
        return
    (c1, c2), (r1, r2) = columns_of(ref, run), rows_of(ref, run)
    for column in range(c1, min(c2, max(sheet.values, default=0)) + 1):
        stored = sheet.values.get(column)
        if not stored:
            continue
        if r2 - r1 < len(stored):
            yield from (stored[row] for row in range(r1, r2 + 1) if row in stored)
        else:
            yield from (value for row, value in stored.items() if r1 <= row <= r2)


def _any(ref: Ref, run: Run, book: Book, test: Callable[[Any], bool]) -> bool:
    return any(test(value) for value in cells(ref, run, book))


def _is_odd(value: Any) -> bool:
    return value.__class__ is str and maybe_number(value)


def _is_truth_text(value: Any) -> bool:
    return value.__class__ is str and value.strip().upper() in ("TRUE", "FALSE")


def _literal_text(argument: tuple[Token, ...]) -> str | None:
    if len(argument) != 1 or argument[0].subtype != XlToken.TEXT:
        return None
    return argument[0].text[1:-1]


def _single_ref(argument: tuple[Token, ...]) -> Ref | None:
    return argument[0].ref if len(argument) == 1 else None


def _numbers(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    for argument in arguments:
        ref, text = _single_ref(argument), _literal_text(argument)
        if (text is not None and _is_odd(text)) or (ref and ref.single and _any(ref, run, book, _is_odd)):
            return _ODD
    return ""


def _list(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    if () in arguments:
        return "an argument of a list is left out"
    written = any(_literal_text(argument) is not None for argument in arguments)
    return "a text is written in a list of numbers" if written else ""


def _condition(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    for argument in arguments[::2] if name == "IFS" else arguments[:1]:
        ref = _single_ref(argument)
        if _literal_text(argument) is not None or (ref and _any(ref, run, book, _is_truth_text)):
            return "a text is taken for a truth value"
    return ""


def _looks(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    """A look-up of the very value: the engine finds one that differs in the last digits too."""
    nearest = _LOOKING[name]
    if nearest and not (len(arguments) > nearest and _says_exact(arguments[nearest])):
        if reason := _searched(name, arguments, run, book):
            return reason
    if len(arguments) < 2 or (len(arguments[0]) == 1 and arguments[0][0].subtype == XlToken.TEXT):
        return ""
    key, through = _single_ref(arguments[0]), _single_ref(arguments[1])
    if through is None:
        return ""
    if name == "VLOOKUP":
        through = Ref(through.sheet, through.row1, through.column1, through.row2, through.column1, _first(through))
    found = _floats(cells(through, run, book))
    whole = not any(value % 1 for value in found)
    sought = _floats(cells(key, run, book)) if key is not None else []
    if key is None and not whole and _computed(arguments[0]):
        return "it looks for a computed number"
    return _TOO_CLOSE if _too_close([*found, *sought]) else ""


def _says_exact(argument: tuple[Token, ...]) -> bool:
    return not argument or (len(argument) == 1 and argument[0].text.upper() in ("0", "FALSE"))


_TOO_CLOSE = "some numbers differ in their last digits only"


def _first(ref: Ref) -> tuple[bool, bool, bool, bool]:
    return (ref.fixed[0], ref.fixed[1], ref.fixed[2], ref.fixed[1])


def _computed(argument: tuple[Token, ...]) -> bool:
    """Whether arithmetic is the last step to a key."""
    first = argument[0] if argument else None
    if first is None or (first.opens and function_name(first.text) in _EXACT):
        return False
    depth = 0
    for token in argument:
        depth += (token.subtype == XlToken.OPEN) - (token.subtype == XlToken.CLOSE)
        if depth == 0 and token.kind in _OPERATORS and token.text in _ARITHMETIC and len(argument) > 2:
            return True
    return False


def _floats(values: Iterable[Any]) -> list[float]:
    return [value for value in values if value.__class__ is float]


def _too_close(numbers: list[float]) -> bool:
    """Whether two numbers differ, but too little for the engine; whole ones never do."""
    if not any(value % 1 for value in numbers):
        return False
    return any(0 < b - a <= _CLOSE for a, b in pairwise(sorted(set(numbers))))


def _rank(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    refs = [ref for argument in arguments[:2] if (ref := _single_ref(argument)) is not None]
    found = _floats(value for ref in refs for value in cells(ref, run, book))
    return _TOO_CLOSE if _too_close(found) else ""


def _matching(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    """SUMIF adds up what is not a value: with errors among them, the engine leaves those out."""
    text = _literal_text(arguments[1]) if len(arguments) > 1 else None
    ref = _single_ref(arguments[0]) if arguments else None
    if reason := _odd_criterion(arguments[1:2], run, book):
        return reason
    unequal = text is None or text.startswith("<>")
    if len(arguments) == 3 and (reason := _sizes(name, arguments[::2], run, book)):
        return reason
    if ref is not None and unequal and _any(ref, run, book, lambda value: isinstance(value, CellError)):
        return "errors are among the values"
    return ""


def _one_of_two(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    ref = _single_ref(arguments[0]) if arguments else None
    if len(arguments) != 2 or ref is None or ref.single:
        return ""
    r1, c1, r2, c2 = ref.rectangle(run.first, run.column)
    return "one place is given for rows and columns" if r1 < r2 and c1 < c2 else ""


def _criteria(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    """The criteria of COUNTIFS and its like: of ranges of one size, and none that may be a number."""
    summed = 0 if name in ("COUNTIF", "COUNTIFS") else 1
    ranges = [*arguments[:summed], *arguments[summed::2]]
    taken = _single_ref(arguments[0]) if arguments and summed else None
    if taken is not None and _any(taken, run, book, lambda value: isinstance(value, CellError)):
        return "errors are among the values"
    return _sizes(name, ranges, run, book) or _odd_criterion(arguments[summed + 1 :: 2], run, book)


def _odd_criterion(criteria: Arguments, run: Run, book: Book) -> str:
    for criterion in criteria:
        text, ref = _literal_text(criterion), _single_ref(criterion)
        if text is not None and maybe_number(text.lstrip("<>=")):
            return _ODD
        if ref is not None and _any(
            ref, run, book, lambda v: isinstance(v, str) and maybe_number(v.lstrip("<>="))
        ):
            return _ODD
    return ""


def _strict(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    """Return why an argument may be no number, where only numbers will do."""
    for argument in arguments[:1]:
        ref = _single_ref(argument)
        if argument and argument[0].subtype in (XlToken.TEXT, XlToken.LOGICAL):
            return "a number is wanted"
        if ref is not None and _any(ref, run, book, lambda value: isinstance(value, str | bool)):
            return "a number is wanted"
    return ""


def _database(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    ref = _single_ref(arguments[2]) if len(arguments) > 2 else None
    return "its criteria are no range" if ref is None or ref.single else ""


def _left_out(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    return "an argument is left out" if () in arguments else ""


def _holidays(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    if () in arguments:
        return "an argument is left out"
    if len(arguments) < 3:
        return ""
    ref = _single_ref(arguments[2])
    if ref is None or _any(ref, run, book, lambda value: isinstance(value, str | bool | CellError)):
        return "holidays are not all dates"
    return ""


def _searched(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    """A text or truth value is looked for among numbers: the engine makes a number of it."""
    if len(arguments) < 2:
        return ""
    key, through = _single_ref(arguments[0]), _single_ref(arguments[1])
    texts = _literal_text(arguments[0]) is not None
    if key is not None:
        texts = _any(key, run, book, lambda value: isinstance(value, str | bool))
    if texts and through is not None and _any(through, run, book, lambda value: value.__class__ is float):
        return "a text is looked for among numbers"
    return ""


def _sizes(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    sizes = set()
    for argument in arguments:
        ref = _single_ref(argument)
        if ref is not None:
            r1, c1, r2, c2 = ref.rectangle(run.first, run.column)
            sizes.add((r2 - r1, c2 - c1))
        elif len(argument) == 1:
            sizes.add((0, 0))
    return "its ranges are of different sizes" if len(sizes) > 1 else ""


def _single(name: str, arguments: Arguments, run: Run, book: Book) -> str:
    ref = _single_ref(arguments[0]) if arguments else None
    return "" if ref is None or ref.single else "a range is given where one value is wanted"


Rule = Callable[[str, Arguments, Run, Book], str]
_RULES: dict[str, Rule] = {
    **dict.fromkeys(_NUMERIC, _numbers),
    **dict.fromkeys(_LISTS, _list),
    **dict.fromkeys(_CONDITIONS, _condition),
    **dict.fromkeys(_LOOKING, _looks),
    **dict.fromkeys(("RANK", "RANK.EQ", "RANK.AVG"), _rank),
    **dict.fromkeys(("SUMIF", "AVERAGEIF"), _matching),
    "INDEX": _one_of_two,
    "SUMPRODUCT": _sizes,
    **dict.fromkeys(("N", "T", "TEXTJOIN"), _single),
    **dict.fromkeys(("SUMIFS", "AVERAGEIFS", "MAXIFS", "MINIFS", "COUNTIFS", "COUNTIF"), _criteria),
    **dict.fromkeys(("FORECAST", "FORECAST.LINEAR", "NPV"), _strict),
    **dict.fromkeys("DAVERAGE DCOUNT DGET DMAX DMIN DPRODUCT DSTDEV DSTDEVP DSUM DVAR DVARP".split(), _database),
    **dict.fromkeys("MROUND QUOTIENT EDATE EOMONTH ERF GESTEP DELTA".split(), _left_out),
    **dict.fromkeys(("WORKDAY", "NETWORKDAYS"), _holidays),
    "LOOKUP": _searched,
}
