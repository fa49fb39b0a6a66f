"""Tables: figures of sheet materials with their sources, conversion of units, and the version."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Literal, NoReturn, Optional

from pressfuncs import tables, units
from pressfuncs._version import __version__
from pressfuncs.errors import WrongUnit
from pressfuncs.limits import finite, one_of
from pressfuncs.quantities import DENSITY, RATIO, STRESS, AnyKind, Kind, Number, Table, Text
from pressfuncs.registry import function
from pressfuncs.tables import own

Figure = Literal[
    "shear_strength",
    "tensile_strength",
    "yield_strength",
    "density",
    "penetration",
    "clearance_share",
    "shear_to_tensile_ratio",
]
Bound = Literal["high", "low"]

KINDS: dict[str, Kind] = {
    "shear_strength": STRESS,
    "tensile_strength": STRESS,
    "yield_strength": STRESS,
    "density": DENSITY,
    "penetration": RATIO,
    "clearance_share": RATIO,
    "shear_to_tensile_ratio": RATIO,
}


def _material_kind(name: str, figure: str, bound: str = "high", table: object = None) -> Kind:
    return KINDS[figure]


def _material_citation(name: str, figure: Figure, bound: Bound = "high", table: Optional[Table] = None) -> str:
    return material_source(name, figure, table)


@function(chapter="Tables", source="tables", result_kind=_material_kind, cite=_material_citation)
def material(name: Text, figure: Figure, bound: Bound = "high", table: Optional[Table] = None) -> AnyKind:
    """A figure of a sheet material from a table: strengths, density, penetration, clearance, shear ratio.

    the row of the material, the column of the figure

    Strengths are ranges. The upper end is the default, because it is the safe one for a force; take the lower end
    where strength is what holds. A figure the table lacks is refused, never guessed. The certificate of the
    coil goes before any table. An own table has headings such as Material, Shear strength [MPa] or Density
    [g/cm3], with min and max where there are two columns; a recalculated workbook also takes materials that our
    table lacks from a materials.csv in its folder.

    Arguments:
        name: name of the material, such as DC01, 1.4301 or Al 5052-H32; letter case and spaces do not matter
        figure: what is wanted; clearance_share is per side
        bound: high (default: upper end of the range, for a force) or low
        table: range with your own table, headings with units in its first row; blank: our table

    >>> material(name="Q235", figure="shear_strength")
    380.0
    """
    one_of(KINDS, figure=figure)
    one_of(("high", "low"), bound=bound)
    own_table = own.table_for(name, table)
    if own_table is not None:
        return own_table.figure(name, figure, bound)
    return tables.material_figure(name, figure, bound)


@function(chapter="Tables", source="tables")
def material_source(name: Text, figure: Figure, table: Optional[Table] = None) -> Text:
    """Where a figure of the material table comes from, and how far it was checked.

    the source of the figure in the row of the material

    Arguments:
        name: name of the material, as in the function material
        figure: the figure in question
        table: range with your own table, as in the function material

    >>> material_source(name="Q235", figure="shear_strength")
    'Chart of Chinese steel grades, shear and tensile strength, row of the grade (seen)'
    """
    one_of(KINDS, figure=figure)
    own_table = own.table_for(name, table)
    if own_table is not None:
        return own_table.source_of(name, figure)
    return tables.material_source(name, figure)


@function(chapter="Tables", source="derived", place="factors computed by pint")
def convert(value: Number, from_unit: Text, to_unit: Text) -> Number:
    """Convert a number from one unit to another of the same dimension.

    value * from / to

    "ton" is refused: write tonf_us (2000 lbf), tonf_metric (1000 kgf) or kN for a force, tonne for a mass.

    Arguments:
        value: the number
        from_unit: unit it is in, such as kN, tonf_us, in, psi
        to_unit: unit it is wanted in

    >>> convert(value=467.469, from_unit="kN", to_unit="tonf_us")
    52.546
    """
    finite(value=value)
    return value * _factor(from_unit.strip(), to_unit.strip())


@function(chapter="Tables", source="derived")
def version() -> Text:
    """Version of pressfuncs that computes here.

    the number of the release

    >>> version().count(".")
    2
    """
    return __version__


def _factor(from_unit: str, to_unit: str) -> float:
    """Return how many `to_unit` make one `from_unit`; WrongUnit with the cure if that has no answer."""
    for name, value in (("from_unit", from_unit), ("to_unit", to_unit)):
        if not units.dimensions_of(value):
            _refuse_unit(name, value)
    table = units.table()
    for dimension, entry in table.items():
        if from_unit in entry["factors"] and to_unit in entry["factors"]:
            return units.factor(from_unit, dimension) / units.factor(to_unit, dimension)
    for name, value, other in (("from_unit", from_unit, to_unit), ("to_unit", to_unit, from_unit)):
        for entry in table.values():
            if other in entry["factors"] and value in entry["refused"]:
                raise WrongUnit(
                    f'{name}: "{value}" is not clear for a {entry["name"]}: {entry["refused"][value]}',
                    argument=name,
                    value=value,
                )
    kinds = [f"{value} is a {' or '.join(units.dimensions_of(value))}" for value in (from_unit, to_unit)]
    raise WrongUnit(
        f"{' and '.join(kinds)}: one cannot be converted to the other", argument="to_unit", value=to_unit
    )


def _refuse_unit(name: str, spelling: str) -> NoReturn:
    """Raise WrongUnit for a spelling that the table refuses everywhere or does not know."""
    cures = [entry["refused"][spelling] for entry in units.table().values() if spelling in entry["refused"]]
    if cures:
        raise WrongUnit(f'{name}: "{spelling}" is not clear: {"; ".join(cures)}', argument=name, value=spelling)
    known = [known for entry in units.table().values() for known in entry["factors"]]
    nearest = get_close_matches(spelling, known, n=3)
    cure = f", nearest: {', '.join(nearest)}" if nearest else ""
    raise WrongUnit(f'{name}: unit "{spelling}" is not known{cure}', argument=name, value=spelling)
