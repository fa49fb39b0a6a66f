"""Tables of figures with their sources; read when first asked for, and kept.

`materials.csv` has one row a material. The figures of a group share their source, place and status (seen,
recalled, computed); a blank cell is a figure that nobody has put in yet, and asking for it is refused.
"""

from __future__ import annotations

import csv
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path
from typing import NoReturn

from pressfuncs import registry, units
from pressfuncs.errors import WrongChoice
from pressfuncs.limits import not_in_table

MATERIALS_FILE = Path(__file__).parent / "materials.csv"

COLUMNS = {
    ("shear_strength", "low"): ("shear_low_MPa", "MPa"),
    ("shear_strength", "high"): ("shear_high_MPa", "MPa"),
    ("tensile_strength", "low"): ("tensile_low_MPa", "MPa"),
    ("tensile_strength", "high"): ("tensile_high_MPa", "MPa"),
    ("yield_strength", "low"): ("yield_low_MPa", "MPa"),
    ("yield_strength", "high"): ("yield_high_MPa", "MPa"),
    ("density", "low"): ("density_g_per_cm3", "g/cm3"),
    ("density", "high"): ("density_g_per_cm3", "g/cm3"),
    ("penetration", "low"): ("penetration", ""),
    ("penetration", "high"): ("penetration", ""),
    ("clearance_share", "low"): ("clearance_share_per_side", ""),
    ("clearance_share", "high"): ("clearance_share_per_side", ""),
    ("shear_to_tensile_ratio", "low"): ("shear_to_tensile_ratio", ""),
    ("shear_to_tensile_ratio", "high"): ("shear_to_tensile_ratio", ""),
}
"""(figure, bound) -> the column that holds it, and the unit of that column."""

GROUPS = {
    "shear_strength": "shear",
    "tensile_strength": "tensile",
    "yield_strength": "yield",
    "density": "density",
    "penetration": "penetration",
    "clearance_share": "clearance",
    "shear_to_tensile_ratio": "ratio",
}
"""Figure -> the group whose source, place and status it has: `<group>_source` and so on, or the row's own."""


@lru_cache(maxsize=1)
def materials() -> dict[str, dict[str, str]]:
    """Return every row of the material table by the plain form of its name and of its other names."""
    found: dict[str, dict[str, str]] = {}
    for row in material_rows():
        for name in (row["name"], *row["other_names"].split(";")):
            if name.strip():
                found[plain_name(name)] = row
    return found


@lru_cache(maxsize=1)
def material_rows() -> tuple[dict[str, str], ...]:
    """Return the rows of the material table as they stand in the file."""
    with MATERIALS_FILE.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def plain_name(name: str) -> str:
    """Return a name without letter case, spaces, hyphens and low lines, which people write as they like.

    >>> plain_name(" Al 5052-H32 ")
    'al5052h32'
    """
    return "".join(name.casefold().split()).replace("-", "").replace("_", "")


def holds(name: str) -> bool:
    """Whether the table has a material of this name."""
    return plain_name(name) in materials()


def material_row(name: str) -> dict[str, str]:
    """Return the row of a material; WrongChoice with the nearest names if the table does not hold it."""
    known = materials()
    plain = plain_name(name)
    if plain not in known:
        _refuse_name(name, get_close_matches(plain, known, n=3))
    return known[plain]


def material_figure(name: str, figure: str, bound: str) -> float:
    """Return a figure of a material in core units; NotInTable where the cell is blank."""
    row = material_row(name)
    column, unit = COLUMNS[figure, bound]
    if not row[column]:
        _refuse_figure(row, figure, bound)
    return float(row[column]) * (units.factor(unit) if unit else 1.0)


def material_source(name: str, figure: str) -> str:
    """Return source, place and status of a figure in words; NotInTable where the figure is blank."""
    row = material_row(name)
    if not any(row[COLUMNS[figure, bound][0]] for bound in ("low", "high")):
        _refuse_figure(row, figure, "high")
    key, place, status = figure_source(row, figure)
    entry = registry.sources()[key]
    words = [entry[part] for part in ("author", "title", "edition", "year") if entry.get(part)]
    return f"{', '.join([*map(str, words), place] if place else map(str, words))} ({status})"


def figure_source(row: dict[str, str], figure: str) -> tuple[str, str, str]:
    """Return the key of the source, the place in it and the status of a figure."""
    group = GROUPS[figure]
    own = row.get(f"{group}_source", "")
    if own:
        return own, row[f"{group}_place"], row[f"{group}_status"]
    return row["source"], row["place"], row["status"]


def _refuse_name(name: str, nearest: list[str]) -> NoReturn:
    names = list(dict.fromkeys(materials()[plain]["name"] for plain in nearest))
    cure = f"nearest: {', '.join(names)}" if names else "give the figure itself, from the coil's certificate"
    raise WrongChoice(f'material "{name}": not in the table, {cure}', argument="name", value=name)


def _refuse_figure(row: dict[str, str], figure: str, bound: str) -> NoReturn:
    words = figure.replace("_", " ")
    other = "low" if bound == "high" else "high"
    rest = row[COLUMNS[figure, other][0]]
    if rest:
        held = f'holds only the {other} end, {rest} {COLUMNS[figure, other][1]} (bound "{other}")'
        end = "upper" if bound == "high" else "lower"
        why = f"{row['name']}: the table {held}, no {end} end of the {words}"
    else:
        why = f"{row['name']}: the table holds no {words}"
    cure = "take it from the coil's certificate or the standard"
    if figure == "shear_strength" and row["tensile_high_MPa"]:
        cure = "estimate it with shear_strength_from_tensile, or " + cure
    not_in_table(f"{why}; {cure}", argument="figure", value=figure)
