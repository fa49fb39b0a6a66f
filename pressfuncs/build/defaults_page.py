"""Generator of docs/defaults.md: every argument that may be left blank, and the decision behind its default."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from pressfuncs.build import functions_index
from pressfuncs.cli import handbook
from pressfuncs.registry import FUNCTIONS, Argument, FunctionSpec

FILE = Path(__file__).with_name("defaults.toml")
SIDES = ("safe", "neutral", "kept")
ALL = "*"

HEADER = """\
# What a blank means

Generated from the functions and the decisions in `pressfuncs/build/defaults.toml`. Each default was asked one
question: does it make the press look larger, the need or a cost smaller, or an output larger?

* **safe**: no. A blank gives the unfavourable end of what is usual.
* **neutral**: it has no such side, as the way in which an angle is measured.
* **kept**: it can, and stays for the reason given.

What takes room, oil, material, time or money has no default at all: bolster, spacers, clamps, lift and punch
entry, the number of cylinders that share a flow, ends of coils, scrap, setup, stops, labour, upkeep, sharpening.
Where there is none of it, write 0. A blank cell is refused, since a blank that counted as 0 would flatter.
"""


@cache
def decisions() -> tuple[dict[str, str], dict[str, dict[str, str]]]:
    """Return what is decided for an argument everywhere, and for those of one function."""
    loaded = tomllib.loads(FILE.read_text(encoding="utf-8"))
    return loaded["everywhere"], loaded["functions"]


def defaults() -> Iterator[tuple[FunctionSpec, Argument]]:
    """Yield every argument that may be left blank, in the order of the pages."""
    functions_index.enter_all()
    for spec in FUNCTIONS.values():
        for argument in spec.arguments:
            if not argument.required:
                yield spec, argument


def place(spec: FunctionSpec, argument: Argument) -> tuple[str, str] | None:
    """Return where a default is decided: table and key of the file; "" stands for the table of all functions."""
    everywhere, own = decisions()
    for key in (argument.name, ALL):
        if key in own.get(spec.name, {}):
            return spec.name, key
    return ("", argument.name) if argument.name in everywhere else None


def decision(spec: FunctionSpec, argument: Argument) -> tuple[str, str]:
    """Return the side of a default and the reason for it."""
    found = place(spec, argument)
    if found is None:
        raise LookupError(f"{spec.name}: nothing is decided for the default of {argument.name}, see {FILE.name}")
    everywhere, own = decisions()
    table, key = found
    side, _, reason = (own[table] if table else everywhere)[key].partition(": ")
    return side, reason


def render() -> str:
    """Return the text of docs/defaults.md."""
    chapters: dict[str, list[str]] = {}
    for spec, argument in defaults():
        side, reason = decision(spec, argument)
        blank = handbook.default_in_words(argument).removeprefix("default ")
        row = f"| `{spec.name}` | `{argument.name}` | {blank} | {side} | {reason} |"
        chapters.setdefault(spec.chapter, []).append(row)
    lines = [HEADER]
    for chapter, rows in sorted(chapters.items()):
        lines += [
            f"## {chapter}",
            "",
            "| function | argument | when blank | side | why |",
            "|---|---|---|---|---|",
        ]
        lines += [*rows, ""]
    return "\n".join(lines)
