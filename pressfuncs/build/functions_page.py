"""Generator of docs/functions.md: every function by chapter, from the register."""

from __future__ import annotations

from pressfuncs.build import functions_index, reference
from pressfuncs.cli import handbook
from pressfuncs.registry import FunctionSpec

HEADER = """\
# Functions

Generated from the register. `pressfuncs functions NAME` shows the page of one function: formula, arguments with
their units, defaults, limits of use, source, examples.

In a sheet the name has `PF_` before it. In Python it is the same name in small letters without `PF_`, and numbers
are in core units (mm, N, MPa, s, tonne, rad). Arguments in brackets may be left out. The last argument of every
function with a dimension is `units`: "metric" (default) or "inch".
"""


def render() -> str:
    """Return the text of docs/functions.md."""
    functions_index.enter_all()
    blocks = [HEADER]
    for chapter, specs in handbook.by_chapter().items():
        rows = [_row(spec) for spec in specs]
        blocks.append(
            "\n".join(
                [
                    f"## {chapter}",
                    "",
                    f"[Formulas, arguments, limits, examples, sources](reference/{reference.file_name(chapter)})",
                    "",
                    "| worksheet call | what it gives | result |",
                    "|---|---|---|",
                ]
            )
        )
        blocks[-1] += "\n" + "\n".join(rows) + "\n"
    return "\n".join(blocks)


def _row(spec: FunctionSpec) -> str:
    cells = (f"`{handbook.worksheet_call(spec)}`", spec.docs.summary, handbook.result_in_words(spec))
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"
