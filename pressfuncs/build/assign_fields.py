"""Generator of docs/assign-fields.md: the fields that `pressfuncs assign` looks for, with their headings."""

from __future__ import annotations

from typing import Any

from pressfuncs.batch.assignment import fields
from pressfuncs.functions._checks import CHECKS
from pressfuncs.quantities import TEXT, Kind

HEADER = """\
# Fields of the registers

Generated from the table that `pressfuncs assign` reads. How headings, units and blanks are read is told in
[Which press runs which die](assign.md).

Letter case, blanks, dots, dashes, underscores and accents in a heading do not matter; a unit may stand behind it.
Bare numbers under a heading without a unit are in the first unit, with `--units inch` in the second. A heading
marked "with its unit" is taken only with a unit of that kind behind it, or in a row of units below.
"""

AMBIGUOUS = """\
### Headings that may mean two things

These columns are reported and not used. A field that such a heading leaves open is not known where no other column
gives it, and no default stands for it.
"""

RANGES = {
    "above 0": "above 0",
    "may be 0": "0 or more",
    "share": "above 0, at most 1",
    "share or 0": "0 to 1",
    "whole": "whole, 1 or more",
    "any": "any number",
}
TITLES = {"die": "The die register", "press": "The press register"}


def render() -> str:
    """Return the text of docs/assign-fields.md."""
    lines = [HEADER]
    for register, title in TITLES.items():
        lines += [
            f"## {title}",
            "",
            "| field | what it is | unit | range | blank means | headings |",
            "|---|---|---|---|---|---|",
        ]
        lines += [_row(register, name) for name in fields.fields(register)]
        lines += ["", AMBIGUOUS, "| heading | what it may mean | leaves open |", "|---|---|---|"]
        for heading, entry in fields.ambiguous_headings(register).items():
            open_ = ", ".join(f"`{name}`" for name in entry.get("unread", []))
            lines.append(f"| `{heading}` | {entry['why']} | {open_} |")
        lines.append("")
    lines += [
        "## The checks, in the order in which a failing one is named first",
        "",
        "| check | margin in |",
        "|---|---|",
    ]
    for check in CHECKS:
        lines.append(f"| {check.label} | {_units(check.kind) if check.kind.has_unit else 'yes or no'} |")
    return "\n".join(lines) + "\n"


def _row(register: str, name: str) -> str:
    field, entry = fields.fields(register)[name], fields.field_entry(register, name)
    text = field.kind is TEXT
    range_ = "" if text else RANGES[entry.get("range", "above 0")]
    if field.series:
        range_ += "; several, with semicolons between"
    headings = ", ".join(f"`{heading}`" for heading in fields.known_headings(register)[name])
    if entry.get("with_unit"):
        headings += "; with its unit: " + ", ".join(f"`{heading}`" for heading in entry["with_unit"])
    blank = "the row is set aside" if name == "id" else _blank(field.kind, entry)
    return (
        f"| `{name}` | {field.help} | {'text' if text else _units(field.kind)} | {range_} | {blank} | {headings} |"
    )


def _units(kind: Kind) -> str:
    if not kind.has_unit:
        return "number"
    units = dict.fromkeys(f"`{kind.unit(system)}`" for system in ("metric", "inch"))
    return ", ".join(units)


def _blank(kind: Kind, entry: dict[str, Any]) -> str:
    return f"{entry['default'] / kind.factor('metric'):g}" if "default" in entry else "not known"
