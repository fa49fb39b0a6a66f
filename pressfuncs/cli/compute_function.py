"""One function as a command of `pressfuncs compute`; its help is the function's page."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from pressfuncs import units
from pressfuncs.cli import handbook
from pressfuncs.cli.style import Refused
from pressfuncs.edge.call import compute, read_call, result_kind, shown
from pressfuncs.edge.explain import explanation
from pressfuncs.errors import PressError
from pressfuncs.quantities import SYSTEMS, TEXT, Columns
from pressfuncs.registry import UNITS_ARGUMENT, Argument, FunctionSpec
from pressfuncs.tables.own import read_csv


def _number_or_text(text: str) -> float | str:
    """Return a value as it would stand in a cell: a number where it is one, else the text for the edge to read."""
    parts = units.split_quantity(text)
    return text if parts is None or parts[1] else parts[0]


class FunctionCommand(click.Command):
    """One function as a command; its help is the function's page."""

    def __init__(self, spec: FunctionSpec) -> None:
        """Make the options from the function's arguments."""
        self.spec = spec
        options: list[click.Parameter] = [
            click.Option(
                [handbook.flag(argument.name), argument.name],
                type=str,
                multiple=argument.series or argument.variadic,
            )
            for argument in spec.arguments
        ]
        options += [
            click.Option(["--units", UNITS_ARGUMENT], type=click.Choice(SYSTEMS, case_sensitive=False)),
            click.Option(["--json", "as_json"], is_flag=True),
        ]
        super().__init__(
            spec.name,
            params=options,
            callback=self._compute,
            short_help=spec.docs.summary,
            context_settings={"token_normalize_func": lambda word: word.lower().replace("_", "-")},
        )

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the function's page with flags for its arguments."""
        formatter.write_usage(ctx.command_path, "--ARGUMENT VALUE ...")
        handbook.write_body(self.spec, formatter, [handbook.flag(a.name) for a in self.spec.arguments])
        with formatter.section("Options"):
            formatter.write_dl(
                [
                    ("--units metric|inch", "how bare numbers are read and the result is given; default metric"),
                    ("--json", "print JSON, for programs"),
                ]
            )
        with formatter.section("Example"):
            handbook.write_line(formatter, handbook.example_command(self.spec))

    def _compute(self, *, as_json: bool, units: str | None, **given: Any) -> None:
        system = units or "metric"
        cells = self._cells(given, system)
        missing = [a for a in self.spec.arguments if a.required and given[a.name] in (None, ())]
        if missing:
            names = ", ".join(handbook.flag(argument.name) for argument in missing)
            raise click.UsageError(f"{self.spec.name} needs {names}")
        try:
            answer = _answer(self.spec, cells)
        except PressError as error:
            if as_json:
                click.echo(_json(_refusal(self.spec, error, system)))
            raise Refused(f"{self.spec.name}: {error.sentence(system)}") from error
        click.echo(_json(answer) if as_json else _text(self.spec, answer, cells))

    def _cells(self, given: dict[str, Any], system: str) -> list[Any]:
        """Return the call as values of cells, `units` last."""
        cells: list[Any] = []
        for argument in self.spec.arguments:
            texts = given[argument.name]
            for text in texts if isinstance(texts, tuple) else [texts]:
                if text is not None and text.startswith("--"):
                    raise click.UsageError(f"{handbook.flag(argument.name)} has no value")
            if argument.series:
                parts = [part for text in texts for part in text.replace(";", ", ").split(", ")]
                cells.append([[_number_or_text(part)] for part in parts] or None)
            elif argument.variadic:
                cells += map(_number_or_text, texts)
            elif argument.table and texts is not None:
                cells.append(read_csv(Path(texts)))
            elif argument.kind is TEXT or texts is None:
                cells.append(texts)
            else:
                cells.append(_number_or_text(texts))
        return [*cells, system] if self.spec.has_units else cells


def _answer(spec: FunctionSpec, cells: list[Any]) -> dict[str, Any]:
    """Return one computed call as data; raises PressError."""
    system, values = read_call(spec, cells)
    result = compute(spec, values)
    value = shown(spec, result, values, system)
    answer = {
        "function": spec.name,
        "arguments": {
            argument.name: _argument(argument, given, system)
            for argument, given in zip(spec.arguments, values, strict=False)
            if not argument.variadic
        },
        "value": value,
        "unit": None if spec.columns else result_kind(spec, values).unit(system),
        "text": value if spec.variadic else explanation(spec, cells)[0],
        "formula": spec.docs.formula,
        "source": spec.citation_of(values),
        "units": system if spec.has_units else None,
    }
    if spec.variadic:
        answer["arguments"][spec.arguments[-1].name] = values[len(spec.arguments) - 1 :]
    if spec.columns:
        answer["columns"] = [
            {"heading": column["heading"], "unit": column[system]}
            for column in handbook.columns_as_data(spec, system)
        ]
    return answer


def _argument(argument: Argument, value: Any, system: str) -> dict[str, Any]:
    factor = argument.kind.factor(system)
    if argument.table:
        return {"value": value, "unit": ""}
    if isinstance(value, (list, tuple)):
        value = [element / factor for element in value]
    elif value is not None and not isinstance(value, str):
        value = value / factor
    return {"value": value, "unit": argument.kind.unit(system)}


def _refusal(spec: FunctionSpec, error: PressError, system: str) -> dict[str, Any]:
    return {
        "function": spec.name,
        "error": type(error).__name__,
        "cell": error.cell,
        "argument": error.argument,
        "text": error.sentence(system),
    }


def _text(spec: FunctionSpec, answer: dict[str, Any], cells: list[Any]) -> str:
    if spec.variadic:
        return str(answer["value"])
    lines = explanation(spec, cells)
    if spec.columns is not None:
        lines += ["", *_table(spec.columns, answer)]
    return "\n".join(lines)


def _table(columns: Columns, answer: dict[str, Any]) -> list[str]:
    """Return rows as lines: headings with units above, decimal points below one another."""
    headings = [", ".join(filter(None, (c["heading"], c["unit"]))) for c in answer["columns"]]
    texts = [[_cell(value) for value in column] for column in zip(*answer["value"], strict=True)]
    filled = []
    for heading, column in zip(headings, texts, strict=True):
        before = max(len(text.partition(".")[0]) for text in column)
        aligned = [" " * (before - len(text.partition(".")[0])) + text for text in column]
        width = max(len(heading), *map(len, aligned))
        filled.append([heading.ljust(width), *(text.ljust(width) for text in aligned)])
    return ["  ".join(row).rstrip() for row in zip(*filled, strict=True)]


def _cell(value: object) -> str:
    return value if isinstance(value, str) else format(value, ".10g")


def _json(data: object) -> str:
    return json.dumps(data, indent=2, ensure_ascii=False)
