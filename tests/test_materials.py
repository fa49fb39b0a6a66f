"""The material table, its look-up, and the conversion of units."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import convert, material, material_source, tables, units, version
from pressfuncs._version import __version__
from pressfuncs.edge import evaluate
from pressfuncs.errors import CellError, NotInTable, WrongChoice, WrongUnit
from pressfuncs.functions.reference import KINDS
from pressfuncs.registry import find, sources

ROWS = tables.material_rows()
NUMBERS = sorted({column for column, _ in tables.COLUMNS.values()})
STATUS = {"seen", "part", "recalled", "computed"}


def held(row, figure, bound="high"):
    return row[tables.COLUMNS[figure, bound][0]] != ""


FIGURES = [(row["name"], figure) for row in ROWS for figure in KINDS if held(row, figure)]


def test_table_covers_the_groups_of_sheet_metal():
    assert len(ROWS) >= 60
    groups = {row["group"] for row in ROWS}
    assert groups == {
        "carbon steel",
        "stainless steel",
        "high-strength steel",
        "aluminium",
        "copper alloy",
        "electrical steel",
        "other",
    }


def test_no_two_materials_share_a_name():
    names = [
        tables.plain_name(name)
        for row in ROWS
        for name in {
            tables.plain_name(part) for part in (row["name"], *row["other_names"].split(";")) if part.strip()
        }
    ]
    assert len(names) == len(set(names))
    assert set(names) == set(tables.materials())


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_every_figure_has_a_source_and_a_status(row):
    for figure in KINDS:
        if held(row, figure) or held(row, figure, "low"):
            key, _, status = tables.figure_source(row, figure)
            assert key in sources()
            assert status in STATUS
            assert (status == "recalled") or not sources()[key].get("recalled")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_figures_are_in_order_and_in_the_range_of_metals(row):
    number = {column: float(row[column]) if row[column] else None for column in NUMBERS}
    for figure in ("shear", "tensile", "yield"):
        low, high = number[f"{figure}_low_MPa"], number[f"{figure}_high_MPa"]
        assert low is None or 10 < low < 1500
        assert high is None or 10 < high < 1500
        assert low is None or high is None or low <= high
    for end in ("low", "high"):
        shear, tensile, yields = (number[f"{figure}_{end}_MPa"] for figure in ("shear", "tensile", "yield"))
        assert shear is None or tensile is None or shear < tensile
        assert yields is None or tensile is None or yields < tensile
    density = number["density_g_per_cm3"]
    assert density is None or 1.7 < density < 11.5
    for column, most in (("penetration", 0.6), ("clearance_share_per_side", 0.1), ("shear_to_tensile_ratio", 1)):
        assert number[column] is None or 0 < number[column] <= most
    assert any(number[column] is not None for column in NUMBERS)


@pytest.mark.parametrize(("name", "figure"), FIGURES)
def test_look_up_gives_what_the_row_holds(name, figure):
    row = tables.material_row(name)
    column, unit = tables.COLUMNS[figure, "high"]
    kind = KINDS[figure]
    shown = evaluate(find("material"), [name, figure])
    assert shown == pytest.approx(float(row[column]), rel=1e-12)
    assert material(name, figure) == pytest.approx(float(row[column]) * kind.factor("metric"), rel=1e-12)
    assert unit == (kind.metric or "")
    assert material_source(name, figure).endswith(")")


def test_upper_end_is_the_default_and_the_lower_one_on_request():
    assert material("Q235", "shear_strength") == 380
    assert material("Q235", "shear_strength", "high") == 380
    assert material("Q235", "shear_strength", "low") == 310
    assert material("DC01", "tensile_strength", "low") == 270
    assert material("DC01", "yield_strength") == 280


def test_single_figures_are_the_same_at_both_ends():
    for figure in ("density", "clearance_share", "shear_to_tensile_ratio"):
        assert material("DC01", figure, "low") == material("DC01", figure)


@given(st.sampled_from([row["name"] for row in ROWS]), st.randoms())
def test_letter_case_and_stray_spaces_do_not_matter(name, random):
    written = "".join(
        random.choice([letter.upper(), letter.lower(), f" {letter}", f"{letter} "]) for letter in name
    )
    assert tables.material_row(written)["name"] == name


def test_result_is_shown_in_the_unit_of_the_figure():
    assert evaluate(find("material"), ["DC01", "tensile_strength", "high", None, "inch"]) == pytest.approx(
        59465.47, rel=1e-6
    )
    assert evaluate(find("material"), ["DC01", "density", None, None, "inch"]) == pytest.approx(0.2836, rel=1e-3)
    column = evaluate(find("material"), [[["DC01"], ["unknown"], ["DC04"]], "tensile_strength"])
    assert column == [[410], [CellError("#VALUE!")], [350]]


def test_unknown_name_gives_the_nearest_ones():
    with pytest.raises(WrongChoice, match='material "DC1": not in the table, nearest: DC01'):
        material("DC1", "density")
    with pytest.raises(WrongChoice, match="give the figure itself, from the coil's certificate"):
        material("unobtainium", "density")


def test_missing_figure_is_refused_and_never_guessed():
    with pytest.raises(
        NotInTable, match="DC01: the table holds no shear strength; estimate it with shear_strength"
    ):
        material("DC01", "shear_strength")
    with pytest.raises(NotInTable, match="Lead: the table holds no shear strength; take it from"):
        material("Lead", "shear_strength")
    with pytest.raises(NotInTable, match=r'only the low end, 590 MPa \(bound "low"\), no upper end'):
        material("HCT600X", "tensile_strength")
    with pytest.raises(NotInTable, match=r'only the high end, 440 MPa \(bound "high"\), no lower end'):
        material("DD11", "tensile_strength", "low")
    with pytest.raises(NotInTable, match="DC01: the table holds no penetration"):
        material_source("DC01", "penetration")
    assert material("HCT600X", "tensile_strength", "low") == 590
    assert evaluate(find("material"), ["DC01", "shear_strength"]) == CellError("#N/A")


def test_figure_and_bound_must_be_known():
    with pytest.raises(WrongChoice, match="choose from shear_strength"):
        material("DC01", "hardness")
    with pytest.raises(WrongChoice, match="high, low"):
        material("DC01", "density", "middle")
    with pytest.raises(WrongChoice):
        material_source("DC01", "hardness")


def test_figures_of_one_row_may_have_different_sources():
    assert material_source("DC01", "tensile_strength") == (
        "EN 10130, cold-rolled low-carbon steels for cold forming, 2006, mechanical properties (recalled)"
    )
    assert material_source("DC01", "shear_to_tensile_ratio").endswith("(seen)")
    assert material_source("HCT600X", "tensile_strength").endswith("(recalled)")


REGISTRY = pint.UnitRegistry()
PAIRS = [
    (first, second, dimension)
    for dimension, entry in units.table().items()
    for first, second in zip(entry["factors"], [*list(entry["factors"])[1:], next(iter(entry["factors"]))])
]


@pytest.mark.parametrize(("first", "second", "dimension"), PAIRS)
def test_conversion_equals_pint(first, second, dimension):
    meaning = units.table()[dimension]["pint"]
    factor = (REGISTRY.Quantity(meaning[first]) / REGISTRY.Quantity(meaning[second])).to("").magnitude
    assert convert(3.0, first, second) == pytest.approx(3 * factor, rel=1e-12)
    assert convert(convert(3.0, first, second), second, first) == pytest.approx(3, rel=1e-12)


@pytest.mark.parametrize(
    ("first", "second", "sentence"),
    [
        ("ton", "kN", "is not clear.*tonf_us"),
        ("kN", "ton", "is not clear.*tonf_us"),
        ("kg", "kN", "kg is a mass: write kgf, N or kN"),
        ("kN", "kg", "kg is a mass: write kgf, N or kN"),
        ("kN", "t", "tonf_metric"),
        ("mm", "s", "mm is a length and s is a time"),
        ("kNn", "kN", 'from_unit: unit "kNn" is not known, nearest: kN'),
        ("kN", "@", 'to_unit: unit "@" is not known$'),
        ("", "kN", "is not known"),
    ],
)
def test_units_that_do_not_convert_are_refused_with_the_reason(first, second, sentence):
    with pytest.raises(WrongUnit, match=sentence):
        convert(1, first, second)


def test_spaces_around_a_unit_do_not_matter():
    assert convert(1, " m ", " mm") == 1000


def test_version_is_that_of_the_package():
    assert version() == __version__


def test_unknown_unit_is_refused_with_no_more_than_three_near_ones():
    with pytest.raises(WrongUnit) as refusal:
        convert(1, "lbfin", "N")
    assert str(refusal.value).partition("nearest: ")[2].count(",") == 2
