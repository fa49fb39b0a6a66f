"""Formulas that the engine computes otherwise than spreadsheets do, without saying so: they are left alone.

Found by comparing the engine, function by function, with another one that was checked against a spreadsheet
application. What can be put right is put right in `digits`; the rest is here.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from openpyxl.formula.tokenizer import Token as XlToken

from pressfuncs.batch.book import Book, Run
from pressfuncs.batch.formulas import NotUnderstood, Token, arguments_of, call_end, function_name, our_function
from pressfuncs.batch.intersection import AGGREGATES, ONE_VALUE

_NEVER = frozenset("FIXED CELL INFO SHEET SHEETS FORMULATEXT NUMBERVALUE DOLLAR PROPER".split())
_BY_ELEMENT = frozenset(("IF", "IFERROR", "CHOOSE"))
_HIDING = frozenset(("SUBTOTAL", "AGGREGATE"))
_CATCHING = frozenset("IFERROR IFNA ISERROR ISERR ISNA ISREF ISNUMBER ISTEXT".split())
_LENGTHS = frozenset(("m", "cm", "mm", "in", "ft"))
_QUOTED = r'(?:"[^"]*"|\\.|[ +()-])*'
_PLAIN_FORMAT = re.compile(rf"{_QUOTED}(?:#,##)?0+(?:\.[0#]+)?{_QUOTED}%?{_QUOTED}")
_DATE_FORMAT = re.compile(r"(?:yyyy|mm|dd)(?:[-./ ](?:yyyy|mm|dd))*(?: hh:mm(?::ss)?)?")
_COMPARISONS = ("=", "<>", "<", ">", "<=", ">=")

Arguments = list[tuple[Token, ...]]


def doubt(run: Run, book: Book) -> None:
    """Raise NotUnderstood if the engine is known to compute a function of the run otherwise."""
    tokens = run.template.tokens if run.template is not None else ()
    functions = run.template.functions if run.template is not None else frozenset()
    if "INDIRECT" in functions and functions & _CATCHING and (book.names or book.tables):
        raise NotUnderstood("INDIRECT may lead to a name, which the engine does not know")
    _refuse_ranges(tokens)
    for i, token in enumerate(tokens):
        name = function_name(token.text) if token.opens else ""
        if name in _NEVER:
            raise NotUnderstood(f"the engine computes {name} otherwise than spreadsheets do")
        rule = _RULES.get(name)
        if rule is not None:
            reason = rule(list(arguments_of(tokens, i, call_end(tokens, i))))
            if reason:
                raise NotUnderstood(f"the engine computes {name} otherwise where {reason}")
        elif name in _HIDING and _hidden(tokens, run, book):
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
    return "" if plain and not _is_number(arguments[:1], 0) else "it is used to find a last value"


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


def _indirect(arguments: Arguments) -> str:
    return "it reads another way of writing references" if len(arguments) > 1 else ""


def _value(arguments: Arguments) -> str:
    return "a text may hold separators, a currency or a date"


def _literal(arguments: Arguments, place: int) -> str | None:
    argument = arguments[place] if len(arguments) > place else ()
    if len(argument) != 1 or argument[0].subtype != XlToken.TEXT:
        return None
    return argument[0].text[1:-1].replace('""', '"')


def _is_number(arguments: Arguments, place: int) -> bool:
    argument = arguments[place] if len(arguments) > place else ()
    return len(argument) == 1 and argument[0].subtype == XlToken.NUMBER


Rule = Callable[[Arguments], str]
_RULES: dict[str, Rule] = {
    "TEXT": _text,
    "LOOKUP": _lookup,
    "XLOOKUP": _approximate(4),
    "XMATCH": _approximate(2),
    "SUMPRODUCT": _sum_of_products,
    "FILTER": _filter,
    "CONVERT": _convert,
    "VALUE": _value,
    "INDIRECT": _indirect,
}
