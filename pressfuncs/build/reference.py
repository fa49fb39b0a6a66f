"""Generator of docs/reference/: one page a chapter, all of it read from the functions themselves."""

from __future__ import annotations

import ast
from collections.abc import Callable
from functools import partial

from pressfuncs.build import functions_index, limits_read
from pressfuncs.cli import handbook
from pressfuncs.edge import explanation
from pressfuncs.quantities import BY_ARGUMENT, SYSTEMS, TEXT, Kind
from pressfuncs.registry import Argument, FunctionSpec

HEADER = """\
# {chapter}

Plain Python functions take and return core units (mm, N, MPa, s, tonne, rad). Cells and the command line take bare
numbers in metric units, or in inch units where the last argument `units` is "inch", and texts with a unit.

Generated from the functions. All functions in one table: [Functions](../functions.md). Checks against published
values: [Validation](../validation.md). Planning figures only: verify on the machine's plate and the maker's
capacity curve; guarding and lifting follow the local code and a competent, licensed person.
"""


def chapters() -> list[str]:
    """Return the chapters by name, read from the decorators: the register may be older than the files."""
    found = set()
    for path in functions_index.FUNCTIONS_FOLDER.glob("[!_]*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        named = {
            node.targets[0].id: node.value
            for node in tree.body
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "function":
                (chapter,) = (keyword.value for keyword in node.keywords if keyword.arg == "chapter")
                found.add(ast.literal_eval(named[chapter.id] if isinstance(chapter, ast.Name) else chapter))
    return sorted(found)


def file_name(chapter: str) -> str:
    """Return the name of a chapter's page.

    >>> file_name("Closed height")
    'closed-height.md'
    """
    return chapter.lower().replace(" ", "-") + ".md"


def pages() -> dict[str, Callable[[], str]]:
    """Return file name -> generator of each page of docs/reference/."""
    return {file_name(chapter): partial(render, chapter) for chapter in chapters()}


def render(chapter: str) -> str:
    """Return the text of the page of one chapter."""
    functions_index.enter_all()
    specs = handbook.by_chapter()[chapter]
    contents = "\n".join(f"* [{spec.name}](#{spec.name})" for spec in specs)
    return "\n".join([HEADER.format(chapter=chapter), contents, "", *map(section, specs)])


def section(spec: FunctionSpec) -> str:
    """Return what the page says about one function."""
    parts = [f"## {spec.name}", spec.docs.summary, f"Formula: `{spec.docs.formula}`"]
    if spec.docs.notes:
        parts.append(spec.docs.notes)
    if spec.arguments:
        parts.append(_arguments(spec))
    refused = limits_read.refusals_of(spec)
    if refused:
        parts.append("Refused as well, as a sentence with the numbers:\n\n" + "\n".join(f"* {s}" for s in refused))
    parts.append(_worksheet(spec))
    parts.append(f"```python\n{spec.docs.example}\n```")
    parts.append(f"Source: {spec.citation}")
    return "\n\n".join(parts) + "\n"


def _arguments(spec: FunctionSpec) -> str:
    """Return the table of arguments and result with their units, limits and defaults."""
    limits = limits_read.limits_of(spec)
    rows = [
        "| argument | what it is | kind | metric | inch | core | limits | when blank |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for argument in spec.arguments:
        kind_cells = ["table", "", "", ""] if argument.table else _kind(argument.kind, _takes(argument))
        cells = [f"`{argument.name}`", argument.help, *kind_cells]
        rows.append(_row([*cells, _limits(argument, limits), _blank(argument)]))
    columns = zip(spec.columns.headings, spec.columns.kinds, strict=True) if spec.columns else [("", spec.result)]
    for heading, kind in columns:
        name = f"**result**, rows of {heading}" if heading else "**result**"
        rows.append(_row([name, "", *_kind(kind, ""), "", ""]))
    return "\n".join(rows)


def _takes(argument: Argument) -> str:
    if argument.variadic:
        return "further values"
    return "range" if argument.series else ""


def _kind(kind: Kind, how: str) -> list[str]:
    words = "any" if kind is BY_ARGUMENT else kind.name
    units = [f"`{kind.unit(system)}`" if kind.has_unit else "" for system in (*SYSTEMS, "core")]
    return [f"{words}, {how}" if how else words, *units]


def _limits(argument: Argument, limits: dict[str, list[str]]) -> str:
    if argument.choices:
        return "one of " + ", ".join(f"`{choice}`" for choice in argument.choices)
    return "; ".join(limits.get(argument.name, []))


def _blank(argument: Argument) -> str:
    if argument.required:
        return "refused"
    return handbook.default_in_words(argument).removeprefix("default ")


def _worksheet(spec: FunctionSpec) -> str:
    """Return the worksheet call, and the example as a formula with its worked line."""
    lines = ["Worksheet:", "", "```", handbook.worksheet_call(spec)]
    formula = handbook.example_formula(spec)
    lines += [formula, "```"] if formula else ["```"]
    given = handbook.example_arguments(spec)
    if given and not spec.variadic:
        cells = [_cell(argument, given.get(argument.name)) for argument in spec.arguments]
        lines += ["", f"Example: {explanation(spec, cells)[0]}"]
    return "\n".join(lines)


def _cell(argument: Argument, value: object) -> object:
    """Return a core value of the example as the value of a cell, in metric units."""
    if value is None or argument.kind is TEXT:
        return value
    factor = argument.kind.factor("metric")
    if isinstance(value, (list, tuple)):
        return [[float(one) / factor] for one in value]
    assert isinstance(value, (int, float))
    return float(value) / factor


def _row(cells: list[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"
