"""What Calc is told of each function: names, arguments and help, all read from the register.

The builder of the extension writes this into its files and the add-in reads its calls by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from pressfuncs import edge, functions  # noqa: F401  # enter every function in the register
from pressfuncs.quantities import BY_ARGUMENT, TEXT, Kind
from pressfuncs.registry import FUNCTIONS, UNITS_ARGUMENT, UNITS_HELP, Argument, FunctionSpec

IDENTIFIER = "pressfuncs.calc"
"""The name of the extension, by which the office knows an older version of it."""

SERVICE = "pressfuncs.calc.Functions"
"""The add-in's service. With a function's name behind it, this stands in .ods files: never change it."""

INTERFACE = "pressfuncs.calc.XFunctions"
"""The interface that declares the functions, in the extension's type library."""

LOAD_HOOK = "pressfuncs.calc.LoadHook"
"""The service that makes formulas of .xlsx files find the functions."""

CALLER = "caller"
"""The parameter in which Calc hands over the document; it is not among the arguments of a formula."""

LONGEST_HELP = 255
"""Characters of a help text that the function wizard shows in full."""


@dataclass(frozen=True)
class SheetArgument:
    """One argument as the function wizard shows it."""

    name: str
    help: str


def sheet_arguments(spec: FunctionSpec) -> tuple[SheetArgument, ...]:
    """Return the arguments of a worksheet function in order, `units` last; further values one by one."""
    found: list[SheetArgument] = []
    for argument in spec.arguments:
        if argument.variadic:
            single = argument.name.rstrip("s")
            found += [
                SheetArgument(f"{single}_{place}", f"{argument.help}: number {place}; may be left out")
                for place in range(1, most_values() + 1)
            ]
        else:
            found.append(SheetArgument(argument.name, argument_help(argument)))
    if spec.has_units:
        found.append(SheetArgument(UNITS_ARGUMENT, UNITS_HELP))
    return tuple(found)


@lru_cache(maxsize=1)
def most_values() -> int:
    """Return how many further values a function takes at most: as many as the longest call has arguments."""
    return max(spec.most_arguments or 0 for spec in FUNCTIONS.values())


def argument_help(argument: Argument) -> str:
    """Return the help of an argument with its units, choices and default, cut between words if it is too long."""
    facts = [*_takes(argument), *_default(argument)]
    return fitted(argument.help, f" ({'; '.join(facts)})" if facts else "")


def fitted(text: str, end: str = "") -> str:
    """Return text and end in at most 255 characters; the text gives way, at a word.

    >>> len(fitted("long " * 80, " (mm)")) <= LONGEST_HELP
    True
    """
    room = LONGEST_HELP - len(end)
    if len(text) > room:
        text = text[: room - 3].rsplit(" ", 1)[0] + "..."
    return text + end


def _takes(argument: Argument) -> list[str]:
    """Return units or choices in words."""
    if argument.choices:
        named = all(choice in argument.help for choice in argument.choices)
        return [] if named else [" | ".join(argument.choices)]
    kind = argument.kind
    units = kind.metric if kind.metric == kind.inch else f"{kind.metric} or {kind.inch}"
    return [f"{units}; a range" if argument.series else units] if units else ["a range"] if argument.whole else []


def _default(argument: Argument) -> list[str]:
    if argument.required:
        return []
    if argument.default in (None, (), ""):
        return ["may be left out"]
    if "default" in argument.help:
        return []
    return [f"default {_shown(argument.kind, argument.default)}"]


def _shown(kind: Kind, default: object) -> str:
    if not isinstance(default, (int, float)) or kind is TEXT or kind is BY_ARGUMENT:
        return str(default)
    if default == 0 or not kind.has_unit:
        return format(default, ".10g")
    return " or ".join(dict.fromkeys(kind.show(default, system) for system in ("metric", "inch")))
