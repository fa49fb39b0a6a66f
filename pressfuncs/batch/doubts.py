"""Formulas that the engine computes otherwise than spreadsheets do, without saying so: they are left alone.

Found by comparing the engine, function by function, with another one that was checked against a spreadsheet
application. What can be put right is put right in `digits`; the rest is here.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise

from pressfuncs.batch.book import Book, Run
from pressfuncs.batch.formulas import NotUnderstood, Token, arguments_of, call_end, function_name, our_function
from pressfuncs.batch.intersection import AGGREGATES, ONE_VALUE
from pressfuncs.batch.odd_values import odd_values
from pressfuncs.batch.spread import covered
from pressfuncs.batch.tokens import XlToken

NEVER = frozenset(
    (
        "ACCRINT ACCRINTM ARRAYTOTEXT ASC BASE BESSELI BESSELJ BESSELK BESSELY BETA.DIST BETA.INV BETADIST"
        " BETAINV BIN2HEX BIN2OCT BINOM.DIST BINOM.DIST.RANGE BINOM.INV BINOMDIST CEILING.PRECISE CHIDIST CHIINV"
        " CHISQ.DIST CHISQ.DIST.RT CHISQ.INV CHISQ.INV.RT CHISQ.TEST CHITEST COMBINA COMPLEX CONFIDENCE"
        " CONFIDENCE.NORM CONFIDENCE.T COSH COT COTH CRITBINOM CSC CSCH CUMIPMT CUMPRINC DATEVALUE DB DCOUNTA"
        " DDB DEC2BIN DEC2HEX DEC2OCT DECIMAL DOLLAR DOLLARDE DOLLARFR EFFECT EXPON.DIST EXPONDIST F.DIST"
        " F.DIST.RT F.INV F.INV.RT FDIST FINDB FINV FISHERINV FIXED FLOOR.MATH FLOOR.PRECISE GAMMA GAMMA.DIST"
        " GAMMA.INV GAMMADIST GAMMAINV GAMMALN GAMMALN.PRECISE GAUSS GCD HEX2BIN HEX2OCT HYPGEOM.DIST"
        " HYPGEOMDIST IMCOS IMCOSH IMCOT IMCSC IMCSCH IMDIV IMEXP IMLN IMLOG10 IMLOG2 IMPOWER IMPRODUCT IMSEC"
        " IMSECH IMSIN IMSINH IMSQRT IMSUB IMSUM IMTAN IPMT IRR ISFORMULA ISO.CEILING LCM LEFTB LENB LOGINV"
        " LOGNORM.DIST LOGNORM.INV LOGNORMDIST MIDB MIRR MODE MODE.MULT MODE.SNGL MULTINOMIAL NEGBINOM.DIST"
        " NEGBINOMDIST NETWORKDAYS.INTL NOMINAL NUMBERVALUE OCT2BIN OCT2HEX PDURATION PERCENTRANK"
        " PERCENTRANK.EXC PERCENTRANK.INC POISSON POISSON.DIST PPMT PRICE PROPER RATE REPLACEB RIGHTB RRI"
        " SEARCHB SEC SECH SERIESSUM SINH SUMX2MY2 SUMX2PY2 SUMXMY2 T.DIST T.DIST.2T T.DIST.RT T.INV T.INV.2T"
        " T.TEST TBILLEQ TBILLPRICE TBILLYIELD TDIST TEXTAFTER TEXTBEFORE TIMEVALUE TINV TTEST VALUETOTEXT"
        " WEIBULL WEIBULL.DIST WORKDAY.INTL XIRR XNPV YIELD Z.TEST ZTEST"
    ).split()
)
"""Functions that the engine computes otherwise on plain arguments: last digits, limits, kinds of error."""
_OF_THE_FILE = frozenset(
    "CELL INFO SHEET SHEETS FORMULATEXT GETPIVOTDATA CUBEKPIMEMBER CUBEMEMBER CUBEMEMBERPROPERTY CUBERANKEDMEMBER"
    " CUBESET CUBESETCOUNT CUBEVALUE RTD WEBSERVICE IMAGE STOCKHISTORY TRANSLATE DETECTLANGUAGE CALL REGISTER.ID"
    " SQL.REQUEST".split()
)
"""Functions of what engines are not given: the file itself, pivot tables, databases, the network."""
_BY_ELEMENT = frozenset(("IF", "IFERROR", "CHOOSE"))
_HIDING = frozenset(("SUBTOTAL", "AGGREGATE"))
_CATCHING = frozenset("IFERROR IFNA ISERROR ISERR ISNA ISREF ISNUMBER ISTEXT".split())
_HUGE = 1e100
# These may look for the nearest value: the places of the range, and of the argument that says so.
_NEAREST = {"MATCH": (1, 2), "VLOOKUP": (1, 3), "HLOOKUP": (1, 3), "LOOKUP": (1, 9)}
_LENGTHS = frozenset(("m", "cm", "mm", "in", "ft"))
_QUOTED = r'(?:"[^"]*"|\\.|[ +()-])*'
_PLAIN_FORMAT = re.compile(rf"{_QUOTED}(?:#,##)?0+(?:\.[0#]+)?{_QUOTED}%?{_QUOTED}")
_DATE_FORMAT = re.compile(r"(?:yyyy|mm|dd)(?:[-./ ](?:yyyy|mm|dd))*(?: hh:mm(?::ss)?)?")
_COMPARISONS = ("=", "<>", "<", ">", "<=", ">=")

Arguments = list[tuple[Token, ...]]


def doubt(run: Run, book: Book) -> None:
    """Raise NotUnderstood if the first engine is known to compute a function of the run otherwise."""
    doubt_anywhere(run, book)
    tokens = run.template.tokens if run.template is not None else ()
    if reason := odd_values(tokens, run, book):
        raise NotUnderstood(f"the engine computes it otherwise where {reason}")
    for i, token in enumerate(tokens):
        name = function_name(token.text) if token.opens else ""
        if name in NEVER:
            raise NotUnderstood(f"the engine computes {name} otherwise than spreadsheets do")
        rule = _RULES.get(name)
        arguments = list(arguments_of(tokens, i, call_end(tokens, i))) if rule or name in _NEAREST else []
        reason = rule(arguments) if rule else ""
        if (
            name in _NEAREST
            and not reason
            and not _exact(name, arguments)
            and not _sorted(name, arguments, run, book)
        ):
            reason = "it looks for the nearest value among some that are not plain and in order"
        if reason:
            raise NotUnderstood(f"the engine computes {name} otherwise where {reason}")


def doubt_anywhere(run: Run, book: Book) -> None:
    """Raise NotUnderstood if the run asks for what no engine is given: names, hidden rows, the file itself."""
    tokens = run.template.tokens if run.template is not None else ()
    functions = run.template.functions if run.template is not None else frozenset()
    if "INDIRECT" in functions and functions & _CATCHING and (book.names or book.tables):
        raise NotUnderstood("INDIRECT may lead to a name, which the engine does not know")
    _refuse_ranges(tokens)
    for token in tokens:
        name = function_name(token.text) if token.opens else ""
        if name == "ANCHORARRAY":
            raise NotUnderstood("it refers to a spilled range as a whole (H1#); name its cells (H1:H5) instead")
        if name in _OF_THE_FILE:
            raise NotUnderstood(f"the engine computes {name} otherwise than spreadsheets do")
        if name in _HIDING and _hidden(tokens, run, book):
            raise NotUnderstood(f"{name} may skip hidden rows, which the engine does not")


def _refuse_ranges(tokens: tuple[Token, ...]) -> None:
    """Refuse a function of single values that is given a range, so as to give one value for each cell of it."""
    stack: list[str] = []
    for token in tokens:
        if token.kind == XlToken.ARRAY or (token.ref is not None and not token.ref.single):
            for name in reversed(stack):
                if name in AGGREGATES or our_function(name + "(") is not None:
                    break
                if name in ONE_VALUE and name not in _BY_ELEMENT:
                    raise NotUnderstood(f"the engine computes {name} of a range otherwise")
        if token.opens:
            stack.append(function_name(token.text))
        elif token.closes and stack:
            stack.pop()


def _exact(name: str, arguments: Arguments) -> bool:
    """Whether a look-up wants the very value."""
    place = _NEAREST[name][1]
    given = arguments[place] if len(arguments) > place else None
    if given is None:
        return False
    return not given or (len(given) == 1 and given[0].text.upper() in ("0", "FALSE"))


def _sorted(name: str, arguments: Arguments, run: Run, book: Book) -> bool:
    """Whether the values that are looked through are constants in rising order, of one kind, without a gap."""
    place, way = _NEAREST[name]
    given = arguments[place] if len(arguments) > place else ()
    direction = _number(arguments, way) if len(arguments) > way else 1.0
    literal = len(arguments) <= way or (len(arguments[way]) == 1 and arguments[way][0].text.upper() == "TRUE")
    ref = given[0].ref if len(given) == 1 else None
    if ref is None or not (literal or direction == 1.0):
        return False
    r1, c1, r2, c2 = ref.rectangle(run.first, run.column)
    sheet = book.sheets.get(ref.sheet or run.sheet)
    if sheet is None or (ref.rows_vary and run.first < run.last):
        return False
    r2 = min(r2, max((max(rows) for rows in sheet.values.values() if rows), default=1))
    across = name == "HLOOKUP" or (name != "VLOOKUP" and c2 - c1 > r2 - r1)
    cells = [(r1, column) for column in range(c1, c2 + 1)] if across else [(row, c1) for row in range(r1, r2 + 1)]
    values = [sheet.value(*cell) for cell in cells]
    while values and values[-1] is None:
        values.pop()
    if len({type(value) for value in values}) != 1 or any(
        _meets(other, cells[0], cells[-1]) for other in sheet.runs
    ):
        return False
    keys = [value.casefold() if isinstance(value, str) else value for value in values]
    return isinstance(keys[0], (str, float)) and all(a <= b for a, b in pairwise(keys))


def _meets(run: Run, first: tuple[int, int], last: tuple[int, int]) -> bool:
    """Whether a run gives the value of a cell from one corner to another."""
    r1, c1, r2, c2 = covered(run)
    return r1 <= last[0] and r2 >= first[0] and c1 <= last[1] and c2 >= first[1]


def _hidden(tokens: tuple[Token, ...], run: Run, book: Book) -> bool:
    sheets = {token.ref.sheet or run.sheet for token in tokens if token.ref is not None}
    return any(book.sheets[name].hidden_rows for name in sheets if name in book.sheets)


def _text(arguments: Arguments) -> str:
    text = _literal(arguments, 1)
    if text is None:
        return "its format is not written in the formula"
    plain = _PLAIN_FORMAT.fullmatch(text) or _DATE_FORMAT.fullmatch(text.lower())
    return "" if plain else f"the format is {text}"


def _lookup(arguments: Arguments) -> str:
    plain = all(len(argument) == 1 and argument[0].ref is not None for argument in arguments[1:])
    number = _number(arguments, 0)
    return "" if plain and (number is None or number < _HUGE) else "it is used to find a last value"


def _approximate(place: int) -> Rule:
    def rule(arguments: Arguments) -> str:
        given = arguments[place] if len(arguments) > place else ()
        exact = not given or (len(given) == 1 and given[0].text == "0")
        return "" if exact and len(arguments) <= place + 1 else "it looks for the nearest value or backwards"

    return rule


def _sum_of_products(arguments: Arguments) -> str:
    for argument in arguments:
        depth = 0
        for token in argument:
            depth += (token.subtype == XlToken.OPEN) - (token.subtype == XlToken.CLOSE)
            if depth == 0 and token.kind == XlToken.OP_IN and token.text in _COMPARISONS:
                return "truth values are not made numbers first"
        bare = [token for token in argument if token.kind != XlToken.PAREN]
        if bare and len(bare) < len(argument) and argument[0].kind == XlToken.PAREN:
            inner = argument[1:-1]
            if argument[-1].kind == XlToken.PAREN and _balanced(inner) and _sum_of_products([inner]):
                return "truth values are not made numbers first"
        if any(token.subtype == XlToken.LOGICAL for token in bare):
            return "truth values are not made numbers first"
    return ""


def _balanced(tokens: tuple[Token, ...]) -> bool:
    depth = 0
    for token in tokens:
        depth += (token.subtype == XlToken.OPEN) - (token.subtype == XlToken.CLOSE)
        if depth < 0:
            return False
    return depth == 0


def _filter(arguments: Arguments) -> str:
    refs = [token.ref for token in arguments[1] if token.ref is not None] if len(arguments) > 1 else []
    tall = all(ref.row1 != ref.row2 or ref.fixed[0] != ref.fixed[2] for ref in refs if not ref.single)
    return "" if refs and tall else "it filters columns"


def _convert(arguments: Arguments) -> str:
    units = {_literal(arguments, 1), _literal(arguments, 2)}
    return "" if units <= _LENGTHS else "the units are not plain lengths"


def _address(arguments: Arguments) -> str:
    return "it writes references in another way" if len(arguments) > 3 else ""


def _year_part(arguments: Arguments) -> str:
    return "" if _number(arguments, 2) in (2.0, 3.0) else "a year is not counted in days"


def _indirect(arguments: Arguments) -> str:
    return "it reads another way of writing references" if len(arguments) > 1 else ""


def _literal(arguments: Arguments, place: int) -> str | None:
    argument = arguments[place] if len(arguments) > place else ()
    if len(argument) != 1 or argument[0].subtype != XlToken.TEXT:
        return None
    return argument[0].text[1:-1].replace('""', '"')


def _number(arguments: Arguments, place: int) -> float | None:
    argument = arguments[place] if len(arguments) > place else ()
    if len(argument) != 1 or argument[0].subtype != XlToken.NUMBER:
        return None
    return float(argument[0].text)


Rule = Callable[[Arguments], str]
_RULES: dict[str, Rule] = {
    "TEXT": _text,
    "LOOKUP": _lookup,
    "XLOOKUP": _approximate(4),
    "XMATCH": _approximate(2),
    "SUMPRODUCT": _sum_of_products,
    "FILTER": _filter,
    "CONVERT": _convert,
    "INDIRECT": _indirect,
    "ADDRESS": _address,
    "YEARFRAC": _year_part,
}
