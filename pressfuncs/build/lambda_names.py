"""Workbook names that hold the functions as LAMBDA formulas: for Excel 365 with no add-in at all.

Each is generated from the function's own code. What a formula cannot say is refused by name, with the reason.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from pressfuncs import edge, functions  # noqa: F401  # enter every function in the register
from pressfuncs.build.calls import rounding
from pressfuncs.build.formula import (
    Term,
    as_typed,
    binary,
    call,
    depth,
    either,
    every,
    in_file,
    number,
    shortened,
    text,
)
from pressfuncs.build.pieces import CannotSay, as_term
from pressfuncs.build.translate import Translator
from pressfuncs.errors import OutOfRange, WrongType
from pressfuncs.quantities import SYSTEMS, TEXT
from pressfuncs.registry import FUNCTIONS, UNITS_ARGUMENT, Argument, FunctionSpec

LONGEST_FORMULA = 8192
LONGEST_NAME = 255
DEEPEST = 64

REFUSED_INPUT = WrongType.cell
"""What reading an argument gives where it refuses: blank, text for a number, a choice that is none."""

UNREAD = '"?"'
"""What reading an argument that may stay blank gives where it refuses, to tell it from an error that came in."""

MAYBE = f'LAMBDA(§cell,§factor,IF(ISNUMBER(§cell),§cell*§factor,IF(TRIM(§cell)="","",{UNREAD})))'
"""How an argument that may stay blank is read; once in a formula, since a verdict has many of them."""

BLANKS = "§blanks"
"""Whether all arguments that may stay blank could be read; the first error that came in among them, if any."""

INCH = Term("§inch")


@dataclass(frozen=True)
class LambdaName:
    """One workbook name: the formula as a file keeps it and as the name manager shows it."""

    name: str
    in_file: str
    as_typed: str


@lru_cache(maxsize=1)
def names() -> dict[str, LambdaName]:
    """Return the workbook names that can be made, by sheet name."""
    return {spec.sheet_name: made for spec in FUNCTIONS.values() if not isinstance(made := _made(spec), str)}


@lru_cache(maxsize=1)
def refused() -> dict[str, str]:
    """Return why the other functions cannot be workbook names, by sheet name."""
    return {spec.sheet_name: why for spec in FUNCTIONS.values() if isinstance(why := _made(spec), str)}


@cache
def _made(spec: FunctionSpec) -> LambdaName | str:
    try:
        body = lambda_of(spec)
    except CannotSay as cannot:
        return str(cannot)
    if len(in_file(body)) > LONGEST_FORMULA:
        body = shortened(body, {*(argument.name for argument in spec.arguments), UNITS_ARGUMENT})
    made = LambdaName(spec.sheet_name, in_file(body), as_typed(body))
    if len(made.in_file) > LONGEST_FORMULA:
        return f"would take {len(made.in_file)} characters, and a workbook name holds {LONGEST_FORMULA}"
    if depth(body) > DEEPEST:
        return f"would go {depth(body)} levels deep, and Excel goes {DEEPEST}"
    return made


def lambda_of(spec: FunctionSpec) -> str:
    """Return the LAMBDA of a function, variables marked; CannotSay with the reason if there can be none."""
    for argument in spec.arguments:
        if argument.variadic:
            raise CannotSay("takes any number of values")
        if argument.kind is TEXT and not argument.choices and argument.required:
            raise CannotSay(f"looks up a text ({argument.name})")
        if argument.series and not argument.required:
            raise CannotSay(f"may do without the range {argument.name}")
    translator = Translator()
    core = _core(spec, translator)
    own = _spread if translator.loops else _read_name
    reading = "".join(f"{own(a)},{_read(a, translator).text}," for a in spec.arguments if not a.series)
    body = f"IF({_all_read(spec, own).text},{core.text},{REFUSED_INPUT})" if spec.arguments else core.text
    body = _series_checked(spec, body)
    for raw, error in reversed(_errors_of(spec, own)):
        body = f"IF({error},{raw},{body})"
    series = "".join(f"{_spread(a)},{_read_series(a, translator).text}," for a in spec.arguments if a.series)
    factors = "".join(
        f"§{variable},IF(§inch,{number(kind.factor('inch')).text},{number(kind.factor('metric')).text}),"
        for variable, kind in translator.kinds.items()
    )
    units = "".join(
        f"{unit},{either(INCH, text(f' {kind.inch}'), text(f' {kind.metric}')).text},"
        for unit, kind in translator.units.items()
    )
    inch = f"§inch,{_read_units().text}," if spec.has_units else ""
    roundings = "".join(f"§{way},{rounding(way)}," for way in sorted(translator.roundings))
    maybe = f"§maybe,{MAYBE}," if any(map(_may_stay_blank, spec.arguments)) else ""
    prelude = inch + factors + units + roundings + maybe + reading + _blanks_read(spec, own) + series
    declared = [f"§{'' if a.required else '?'}{a.name}" for a in spec.arguments]
    if spec.has_units:
        declared.append(f"§?{UNITS_ARGUMENT}")
    whole = f"LET({prelude}{body})" if prelude else body
    return f"LAMBDA({','.join([*declared, whole])})"


def _read_name(argument: Argument) -> str:
    """Return the variable that the function's own code reads."""
    return f"§{argument.name}_"


def _spread(argument: Argument) -> str:
    """Return the variable for all that was read, where the code itself gets one part of it."""
    return f"§{argument.name}_all"


def _core(spec: FunctionSpec, translator: Translator) -> Term:
    """Return the function's own code on arguments that are read, its result in the units asked for."""
    arguments: dict[str, Any] = {
        a.name: Term(f"§{a.name}_", series=a.series, choices=a.choices) for a in spec.arguments
    }
    if spec.columns is not None:
        return _rows(spec, translator, arguments)

    def leaf(result: Any) -> Term:
        term = as_term(result)
        if spec.result is TEXT:
            return term
        if term.series:
            raise CannotSay("has a range for its result")
        # after all refusals what is left is a number too large, or one divided by nothing
        return call("IFERROR", term, Term(OutOfRange.cell))

    body = translator.function(spec.call, arguments, leaf)  # type: ignore[arg-type]
    if translator.loops:
        body = _one_by_one(spec, body)
    if not spec.result.has_unit or spec.result is TEXT:
        return body
    return binary("/", body, translator.factor(spec.result))


def _rows(spec: FunctionSpec, translator: Translator, arguments: dict[str, Any]) -> Term:
    """Return a result of several rows; it is given for single cells only."""
    assert spec.columns is not None
    kinds = spec.columns.kinds

    def leaf(result: Any) -> Term:
        parts = [
            binary("/", as_term(part), translator.factor(kind)) if kind.has_unit else as_term(part)
            for part, kind in zip(result, kinds, strict=True)
        ]
        return call("HSTACK", *parts, series=False)

    body = translator.function(spec.call, arguments, leaf)  # type: ignore[arg-type]
    size = every([call("ROWS", Term(f"§{a.name}_")) for a in spec.arguments])
    across = every([call("COLUMNS", Term(f"§{a.name}_")) for a in spec.arguments])
    return Term(f"IF({size.text}*{across.text}=1,{body.text},{REFUSED_INPUT})")


def _one_by_one(spec: FunctionSpec, body: Term) -> Term:
    """Return code with a loop for each element of the ranges given, which are spread to one shape first."""
    plain = [argument for argument in spec.arguments if not argument.series]
    spread = "+".join(f"0*ISERROR({_spread(a)})" for a in plain)
    ranges = ",".join(f"IF(§shape=0,{_spread(a)})" for a in plain)
    own = ",".join(map(_read_name, plain))
    return Term(f"LET(§shape,{spread},MAP({ranges},LAMBDA({own},{body.text})))")


def _read(argument: Argument, translator: Translator) -> Term:
    """Return the reading of one argument in core units, element by element, as the edge reads a cell."""
    raw = f"§{argument.name}"
    if argument.kind is TEXT:
        default = text(argument.default).text if not argument.required else REFUSED_INPUT
        read = f'IF(TRIM({raw})="",{default},TRIM({raw}))' if default != '""' else f"TRIM({raw})"
    else:
        scaled = binary("*", Term(raw), translator.factor(argument.kind)) if argument.kind.has_unit else Term(raw)
        if scaled.text.endswith("*1"):
            scaled = Term(raw)
        if argument.required:
            return Term(f"IF(ISNUMBER({raw}),{scaled.text},{REFUSED_INPUT})")
        if _may_stay_blank(argument):
            factor = translator.factor(argument.kind) if argument.kind.has_unit else number(1)
            return Term(f'IF(ISOMITTED({raw}),"",§maybe({raw},{factor.text}))')
        default = number(float(argument.default)).text
        read = f'IF(ISNUMBER({raw}),{scaled.text},IF(TRIM({raw})="",{default},{REFUSED_INPUT}))'
    return Term(read if argument.required else f"IF(ISOMITTED({raw}),{default},{read})")


def _may_stay_blank(argument: Argument) -> bool:
    """Whether a blank is an answer of its own to this number, not a default."""
    return not argument.required and argument.default is None


def _blanks_read(spec: FunctionSpec, own: Callable[[Argument], str]) -> str:
    """Return the variable for all numbers that may stay blank: as a product, whose error is that of the first."""
    places = [place for place, argument in enumerate(spec.arguments) if _may_stay_blank(argument)]
    if not places:
        return ""
    if places[-1] - places[0] + 1 != len(places):
        raise CannotSay("has numbers that may stay blank in two places")
    read = [binary("<>", Term(own(spec.arguments[place])), Term(UNREAD)) for place in places]
    return f"{BLANKS},{every(read).text},"


def _read_units() -> Term:
    """Return whether bare numbers are in inch units: FALSE when blank or left out."""
    given = f"TRIM(§{UNITS_ARGUMENT})"
    metric, inch = SYSTEMS
    read = f'IF(({given}="")+({given}="{metric}"),FALSE,IF({given}="{inch}",TRUE,{REFUSED_INPUT}))'
    return Term(f"IF(ISOMITTED(§{UNITS_ARGUMENT}),FALSE,{read})")


def _read_series(argument: Argument, translator: Translator) -> Term:
    """Return the reading of a range as one column in core units; blank cells are left as empty texts."""
    raw = f"§{argument.name}"
    scaled = binary("*", Term(raw), translator.factor(argument.kind)) if argument.kind.has_unit else Term(raw)
    return Term(f'TOCOL(IF(ISNUMBER({raw}),{scaled.text},IF(TRIM({raw})="","",{REFUSED_INPUT})))')


def _errors_of(spec: FunctionSpec, own: Callable[[Argument], str]) -> list[tuple[str, str]]:
    """Return what to pass on, and whether to, for errors that come in: in order, before any refusal."""
    found = []
    for argument in spec.arguments:
        raw = f"§{argument.name}"
        if argument.series:
            found.append((f"SUM({raw})", f"ISERROR(SUM({raw}))"))
        elif _may_stay_blank(argument):
            if (BLANKS, f"ISERROR({BLANKS})") not in found:
                found.append((BLANKS, f"ISERROR({BLANKS})"))
        else:
            found.append((raw, f"ISERROR({raw})" if argument.required else _given_error(raw)))
    if spec.has_units:
        found.append((f"§{UNITS_ARGUMENT}", _given_error(f"§{UNITS_ARGUMENT}")))
    return found


def _given_error(raw: str) -> str:
    return f"IF(ISOMITTED({raw}),FALSE,ISERROR({raw}))"


def _all_read(spec: FunctionSpec, own: Callable[[Argument], str]) -> Term:
    """Return whether every argument could be read."""
    tests = []
    for argument in spec.arguments:
        read = Term(own(argument))
        if argument.choices:
            test = binary("=", read, text(argument.choices[0]))
            for choice in argument.choices[1:]:
                test = binary("+", test, binary("=", read, text(choice)))
            tests.append(binary(">", test, number(0)) if len(argument.choices) > 1 else test)
        elif _may_stay_blank(argument):
            tests += [Term(BLANKS)] if Term(BLANKS) not in tests else []
        elif not argument.series and argument.kind is not TEXT:
            tests.append(call("ISNUMBER", read))
    if spec.has_units:
        tests.append(call("ISLOGICAL", INCH))
    return every(tests) if tests else Term("TRUE")


def _series_checked(spec: FunctionSpec, body: str) -> str:
    """Put before the code: ranges of one size, blank in the same rows, which are then left out of all."""
    whole = [argument for argument in spec.arguments if argument.series]
    if not whole:
        return body
    series = [_spread(argument) for argument in whole]
    first, *others = series
    kept = "".join(f"{_read_name(a)},FILTER({_spread(a)},§kept)," for a in whole)
    body = f'LET(§kept,{first}<>"",IF(OR(§kept),LET({kept}{body}),{REFUSED_INPUT}))'
    for name in others:
        same = f'SUM((({first}="")<>({name}=""))*1)=0'
        body = f"IF(ROWS({first})=ROWS({name}),IF({same},{body},{REFUSED_INPUT}),{REFUSED_INPUT})"
    refused = "+".join(f"SUM(ISERROR({name})*1)" for name in series)
    return f"IF({refused},{REFUSED_INPUT},{body})"
