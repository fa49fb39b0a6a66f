"""What is said about a function on the command line and in the generated pages, all read from the register."""

from __future__ import annotations

import ast
import doctest
import sys
from typing import Any

import click

from pressfuncs.cli.style import nearest
from pressfuncs.quantities import BY_ARGUMENT, SYSTEMS, TEXT, Kind
from pressfuncs.registry import FUNCTIONS, UNITS_ARGUMENT, UNITS_HELP, Argument, FunctionSpec, find


def find_function(name: str, ctx: click.Context) -> FunctionSpec:
    """Return the function of this name, however it is spelt; wrong usage with the nearest if there is none."""
    try:
        return find(name.replace("-", "_"))
    except KeyError:
        plain = name.strip().lower().replace("-", "_").removeprefix("pf_")
        ctx.fail(f'there is no function "{name}"{nearest(plain, list(FUNCTIONS))}')


def by_chapter() -> dict[str, list[FunctionSpec]]:
    """Return chapter -> its functions: chapters by name, functions in the order of the register."""
    chapters: dict[str, list[FunctionSpec]] = {}
    for spec in FUNCTIONS.values():
        chapters.setdefault(spec.chapter, []).append(spec)
    return dict(sorted(chapters.items()))


def flag(name: str) -> str:
    """Return the command line's flag for an argument.

    >>> flag("cut_length")
    '--cut-length'
    """
    return "--" + name.replace("_", "-")


def units_of(kind: Kind) -> str:
    """Return the units of a kind in words: "mm or in"; "" if it has none."""
    return kind.metric if kind.metric == kind.inch else f"{kind.metric} or {kind.inch}"


def kind_in_words(argument: Argument) -> str:
    """Return what an argument takes: its kind and units, or its choices."""
    if argument.choices:
        return "one of: " + ", ".join(argument.choices)
    if argument.kind is BY_ARGUMENT:
        return "any value"
    if argument.table:
        return "a range as a table, headings in its first row"
    several = "several values of " if argument.series else ""
    return several + ", ".join(part for part in (argument.kind.name, units_of(argument.kind)) if part)


def default_in_words(argument: Argument) -> str:
    """Return the default in the shown units; "" for a required argument."""
    if argument.required:
        return ""
    if argument.variadic or argument.default in (None, (), ""):
        return "may be left out"
    if isinstance(argument.default, str):
        return f"default {argument.default}"
    if argument.default == 0:
        return "default 0"
    shown = [argument.kind.show(argument.default, system) for system in SYSTEMS]
    return "default " + " or ".join(dict.fromkeys(shown))


def result_in_words(spec: FunctionSpec) -> str:
    """Return what a function answers with."""
    if spec.columns is not None:
        kinds = zip(spec.columns.headings, spec.columns.kinds, strict=True)
        return "rows of " + "; ".join(f"{heading} ({units_of(kind)})" for heading, kind in kinds)
    return ", ".join(part for part in (spec.result.name, units_of(spec.result)) if part)


def worksheet_call(spec: FunctionSpec) -> str:
    """Return the worksheet function with its arguments in order, those that may be left out in brackets.

    >>> worksheet_call(find("stripping_force"))
    '=PF_STRIPPING_FORCE(force, [stripping_share], [units])'
    """
    names = [a.name if a.required else f"[{a.name}, ...]" if a.variadic else f"[{a.name}]" for a in spec.arguments]
    if spec.has_units:
        names.append(f"[{UNITS_ARGUMENT}]")
    return f"={spec.sheet_name}({', '.join(names)})"


def example_arguments(spec: FunctionSpec) -> dict[str, Any]:
    """Return the arguments of the docstring's example, in core units; of a variadic function by position."""
    names = vars(sys.modules[spec.call.__module__])
    for example in doctest.DocTestParser().get_examples(spec.docs.example):
        for node in ast.walk(ast.parse(example.source)):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == spec.name:
                given = dict(zip((argument.name for argument in spec.arguments), node.args, strict=False))
                given |= {keyword.arg or "": keyword.value for keyword in node.keywords}
                found = {
                    name: eval(compile(ast.Expression(value), spec.name, "eval"), dict(names))
                    for name, value in given.items()
                }
                if spec.variadic:
                    found[spec.arguments[-1].name] = [ast.literal_eval(v) for v in node.args[len(given) - 1 :]]
                return found
    return {}


def example_command(spec: FunctionSpec) -> str:
    """Return the docstring's example as a command line, with bare numbers in metric units."""
    given = example_arguments(spec)
    words = [f"pressfuncs compute {spec.name}"]
    for argument in spec.arguments:
        if argument.name in given:
            value = given[argument.name]
            several = isinstance(value, (list, tuple))
            text = ", ".join(_bare(argument, one) for one in (value if several else [value]))
            words.append(f"{flag(argument.name)} " + (f'"{text}"' if " " in text else text))
    return " ".join(words)


def example_formula(spec: FunctionSpec) -> str:
    """Return the docstring's example as a worksheet formula, with bare numbers in metric units; "" for series."""
    given = example_arguments(spec)
    if any(argument.series for argument in spec.arguments):
        return ""
    cells = []
    for argument in spec.arguments:
        values = given.get(argument.name, "")
        for value in values if argument.variadic else [values]:
            text = _bare(argument, value)
            cells.append(f'"{text}"' if isinstance(value, str) and text else text)
    while cells and not cells[-1]:
        cells.pop()
    return f"={spec.sheet_name}({', '.join(cells)})"


def _bare(argument: Argument, value: Any) -> str:
    return value if isinstance(value, str) else format(value / argument.kind.factor("metric"), ".10g")


def listing() -> str:
    """Return the list of all functions by chapter: worksheet name and summary, one line each."""
    blocks = []
    for chapter, specs in by_chapter().items():
        width = max(len(spec.sheet_name) for spec in specs)
        lines = [f"  {spec.sheet_name:<{width}}  {spec.docs.summary}" for spec in specs]
        blocks.append("\n".join([chapter, *lines]))
    return "\n\n".join(blocks)


def page(spec: FunctionSpec, formatter: click.HelpFormatter) -> str:
    """Return the page of one function."""
    formatter.write(f"{spec.sheet_name} ({spec.chapter})\n")
    write_body(spec, formatter, [argument.name for argument in spec.arguments])
    with formatter.section("Command line"):
        write_line(formatter, example_command(spec))
    return formatter.getvalue().rstrip("\n")


def write_body(spec: FunctionSpec, formatter: click.HelpFormatter, labels: list[str]) -> None:
    """Write a function's page below its heading; `labels` are what its arguments are called there."""
    formatter.write_paragraph()
    _write_indented(formatter, spec.docs.summary)
    with formatter.section("Formula"):
        formatter.write_text(spec.docs.formula)
    if spec.arguments:
        with formatter.section("Arguments"):
            formatter.write_dl(list(zip(labels, map(argument_in_words, spec.arguments), strict=True)), col_max=32)
    with formatter.section("Result"):
        formatter.write_text(result_in_words(spec))
    if spec.docs.notes:
        with formatter.section("Notes"):
            formatter.write_text(spec.docs.notes)
    with formatter.section("Source"):
        formatter.write_text(spec.citation)
    with formatter.section("Worksheet"):
        write_line(formatter, worksheet_call(spec))
        if spec.has_units:
            formatter.write_text(f"{UNITS_ARGUMENT}: {UNITS_HELP}")
        formula = example_formula(spec)
        if formula:
            write_line(formatter, formula)
    with formatter.section("Python (core units: mm, N, MPa, s, tonne, rad)"):
        for line in spec.docs.example.splitlines():
            write_line(formatter, line)


def argument_in_words(argument: Argument) -> str:
    """Return an argument's help with its kind, units and default."""
    facts = "; ".join(part for part in (kind_in_words(argument), default_in_words(argument)) if part)
    return f"{argument.help} ({facts})"


def _write_indented(formatter: click.HelpFormatter, text: str) -> None:
    formatter.indent()
    formatter.write_text(text)
    formatter.dedent()


def write_line(formatter: click.HelpFormatter, line: str) -> None:
    """Write a line that is not wrapped, so that it can be copied."""
    formatter.write(f"{'':>{formatter.current_indent}}{line}\n")


def entry(spec: FunctionSpec) -> dict[str, Any]:
    """Return what the list says about a function, as data."""
    return {
        "name": spec.name,
        "worksheet": spec.sheet_name,
        "chapter": spec.chapter,
        "summary": spec.docs.summary,
    }


def as_data(spec: FunctionSpec) -> dict[str, Any]:
    """Return the page of one function as data."""
    return entry(spec) | {
        "formula": spec.docs.formula,
        "call": worksheet_call(spec),
        "arguments": [_argument_as_data(argument) for argument in spec.arguments],
        "units_argument": spec.has_units,
        "result": _kind_as_data(spec.result)
        | {"columns": columns_as_data(spec, *SYSTEMS) if spec.columns is not None else None},
        "notes": spec.docs.notes,
        "source": spec.citation,
        "example": {
            "python": spec.docs.example,
            "worksheet": example_formula(spec),
            "command": example_command(spec),
        },
    }


def columns_as_data(spec: FunctionSpec, *systems: str) -> list[dict[str, str]]:
    """Return heading and unit of every column of a function that returns rows."""
    assert spec.columns is not None
    return [
        {"heading": heading, **{system: kind.unit(system) for system in systems}}
        for heading, kind in zip(spec.columns.headings, spec.columns.kinds, strict=True)
    ]


def _kind_as_data(kind: Kind) -> dict[str, Any]:
    return {"kind": kind.name, **{system: kind.unit(system) for system in SYSTEMS}}


def _argument_as_data(argument: Argument) -> dict[str, Any]:
    default: Any = None
    if not argument.required and not argument.variadic and argument.default not in (None, ()):
        text = argument.kind is TEXT
        default = {s: argument.default if text else argument.default / argument.kind.factor(s) for s in SYSTEMS}
    return {
        "name": argument.name,
        "flag": flag(argument.name),
        "help": argument.help,
        **_kind_as_data(argument.kind),
        "required": argument.required,
        "default": default,
        "choices": list(argument.choices),
        "series": argument.series,
        "further_values": argument.variadic,
    }
