"""Generator of docs/unit-table.md: the units of every kind of quantity, and every spelling that is taken."""

from __future__ import annotations

from pressfuncs import quantities, units
from pressfuncs.quantities import Kind

HEADER = """\
# Table of units

Generated from the table that every surface reads. What it means is told in [Units](units.md).

## What a bare number means
"""

KINDS = [kind for kind in vars(quantities).values() if isinstance(kind, Kind) and kind.has_unit]


def render() -> str:
    """Return the text of docs/unit-table.md."""
    lines = [HEADER, "| kind | metric | inch | core (Python) |", "|---|---|---|---|"]
    lines += [f"| {kind.name} | `{kind.metric}` | `{kind.inch}` | `{kind.core}` |" for kind in KINDS]
    lines += ["", "## Spellings that are taken in a text", ""]
    lines += ["| dimension | spellings |", "|---|---|"]
    for entry in units.table().values():
        lines.append(f"| {entry['name']} | {' '.join(f'`{spelling}`' for spelling in entry['factors'])} |")
    lines += ["", "## Spellings that are refused, and what to write", ""]
    lines += ["| dimension | spelling | cure |", "|---|---|---|"]
    for entry in units.table().values():
        lines += [f"| {entry['name']} | `{spelling}` | {cure} |" for spelling, cure in entry["refused"].items()]
    return "\n".join(lines) + "\n"
