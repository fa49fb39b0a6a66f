"""The spellings table is proved against pint, and every text quantity is read as it is written."""

from __future__ import annotations

from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import quantities, units
from pressfuncs.errors import WrongUnit
from pressfuncs.quantities import SYSTEMS, Kind

UNITS: Any = pint.UnitRegistry()
KINDS = [value for value in vars(quantities).values() if isinstance(value, Kind)]
WITH_UNIT = [kind for kind in KINDS if kind.has_unit]
SPELLINGS = [(dimension, spelling) for dimension, entry in units.table().items() for spelling in entry["factors"]]
REFUSED = [(dimension, spelling) for dimension, entry in units.table().items() for spelling in entry["refused"]]
KNOWN_SIZES = {
    ("force", "tonf_us"): 2000 * 4.4482216152605,
    ("force", "tonf_uk"): 2240 * 4.4482216152605,
    ("force", "tonf_metric"): 9806.65,
    ("force", "kip"): 4448.2216152605,
    ("pressure", "psi"): 4.4482216152605 / 25.4**2,
    ("pressure", "ksi"): 4448.2216152605 / 25.4**2,
    ("pressure", "Msi"): 4448221.6152605 / 25.4**2,
    ("pressure", "bar"): 0.1,
    ("energy", "J"): 1000.0,
    ("energy", "ft.lbf"): 304.8 * 4.4482216152605,
    ("energy", "in.tonf_us"): 25.4 * 8896.443230521,
    ("power", "kW"): 1e6,
    ("power", "hp"): 550 * 304.8 * 4.4482216152605,
    ("flow", "gal/min"): 231 * 25.4**3 / 60,
    ("mass", "lb"): 0.45359237e-3,
    ("mass", "ton_us"): 0.90718474,
    ("mass", "ton_uk"): 1.0160469088,
    ("density", "g/cm3"): 1e-9,
    ("length", "thou"): 0.0254,
    ("rotation speed", "rpm"): 0.10471975511965978,
    ("part rate", "parts/h"): 1 / 3600,
    ("ratio", "%"): 0.01,
}
"""Core units in one unit, by the definitions of the units (1 lb is 0.45359237 kg, 1 in is 25.4 mm)."""

OTHER_IN_PINT = {("rotation speed", "1/min"), ("speed", "fpm"), ("speed", "ipm")}
"""Spellings that pint takes for something else of the same dimension: 1/min has no revolution in it there."""


def core_of(dimension: str) -> Any:
    """Return the core unit of a dimension as a pint Quantity: the one whose factor is 1."""
    entry = units.table()[dimension]
    return UNITS.Quantity(next((entry["pint"][s] for s, factor in entry["factors"].items() if factor == 1.0), "1"))


def same(number: float) -> Any:
    """Equal to the last digits, however small the number is."""
    return pytest.approx(number, rel=1e-14, abs=0.0)


@pytest.mark.parametrize(("dimension", "spelling"), SPELLINGS)
def test_factor_of_every_spelling_is_what_pint_computes(dimension, spelling):
    meaning = UNITS.Quantity(units.pint_name(spelling, dimension))
    core = core_of(dimension)
    assert units.factor(spelling, dimension) == same((meaning / core).to("").magnitude)


@pytest.mark.parametrize(("dimension", "spelling"), [key for key in SPELLINGS if key not in OTHER_IN_PINT])
def test_spelling_that_pint_knows_in_this_dimension_means_the_same_there(dimension, spelling):
    core = core_of(dimension)
    try:
        in_pint = UNITS.Quantity(spelling)
    except Exception:
        in_pint = None
    if getattr(in_pint, "dimensionality", None) == core.dimensionality:
        assert units.factor(spelling, dimension) == same((in_pint / core).to("").magnitude)


@pytest.mark.parametrize(("key", "size"), KNOWN_SIZES.items())
def test_factor_is_the_defined_size_of_the_unit(key, size):
    assert units.factor(key[1], key[0]) == pytest.approx(size, rel=1e-12, abs=0.0)


@pytest.mark.parametrize("kind", WITH_UNIT, ids=lambda kind: kind.name)
def test_units_of_every_kind_are_in_its_dimension(kind):
    assert kind.dimension in units.table()
    core = UNITS.Quantity(1, kind.pint_unit("core"))
    for system in ("core", *SYSTEMS):
        assert kind.unit(system) in units.table()[kind.dimension]["factors"]
        shown = UNITS.Quantity(1, kind.pint_unit(system))
        assert shown.dimensionality == core.dimensionality
        assert kind.factor(system) == same(shown.to(core.units).magnitude)


@pytest.mark.parametrize("kind", WITH_UNIT, ids=lambda kind: kind.name)
def test_core_units_are_coherent(kind):
    core = UNITS.Quantity(1, kind.pint_unit("core"))
    powers = core.dimensionality
    base = UNITS.Quantity(1, "")
    for dimension, unit in (("[length]", "mm"), ("[mass]", "tonne"), ("[time]", "s")):
        base = base * UNITS.Quantity(1, unit) ** int(powers.get(dimension, 0))
    assert set(powers) <= {"[length]", "[mass]", "[time]"}
    assert core.to(base.units if powers else "").magnitude == pytest.approx(1.0, rel=1e-12)
    assert kind.factor("core") == 1.0


@pytest.mark.parametrize("kind", [kind for kind in KINDS if not kind.has_unit], ids=lambda kind: kind.name)
def test_kind_without_unit_is_shown_as_it_is(kind):
    assert (kind.core, kind.metric, kind.inch) == ("", "", "")
    assert [kind.factor(system) for system in ("core", *SYSTEMS)] == [1.0, 1.0, 1.0]
    assert kind.show(2.5, "inch") == "2.5"


def test_shown_units_are_those_of_the_design():
    shown = {kind.name: (kind.metric, kind.inch) for kind in WITH_UNIT}
    assert shown["force"] == ("kN", "tonf_us")
    assert shown["stress"] == ("MPa", "psi")
    assert shown["pressure"] == ("bar", "psi")
    assert shown["energy"] == ("J", "ft.lbf")
    assert shown["power"] == ("kW", "hp")
    assert shown["flow"] == ("L/min", "gal/min")
    assert shown["density"] == ("g/cm3", "lb/in3")
    assert shown["feed speed"] == ("m/min", "ft/min")
    assert shown["part rate"] == ("parts/h", "parts/h")
    assert shown["duration"] == ("h", "h")
    assert shown["angle"] == ("deg", "deg")


@pytest.mark.parametrize(("dimension", "spelling"), REFUSED)
def test_refused_spelling_is_refused_with_a_cure(dimension, spelling):
    assert spelling not in units.table()[dimension]["factors"]
    with pytest.raises(WrongUnit, match="write") as refusal:
        units.factor_for(spelling, dimension, "size", "mm")
    assert spelling in str(refusal.value)


@pytest.mark.parametrize("spelling", ["ton", "tons", "t", "T", "tf", "tonf"])
def test_a_ton_of_force_is_refused_with_the_three_ways_out(spelling):
    with pytest.raises(WrongUnit) as refusal:
        units.factor_for(spelling, "force", "force", "kN, tonf_us")
    assert all(word in str(refusal.value) for word in ("tonf_us", "tonf_metric", "kN"))


def test_unit_of_another_kind_is_named_as_what_it_is():
    with pytest.raises(WrongUnit) as refusal:
        units.factor_for("kg", "length", "cut_length", "mm, in")
    assert str(refusal.value) == "cut_length: kg is a mass, a length is wanted (mm, in, ...)"


def test_unknown_unit_is_named():
    with pytest.raises(WrongUnit, match='unit "furlong" is not known, an area is wanted'):
        units.factor_for("furlong", "area", "area", "mm2, in2")


def test_factor_of_an_unknown_spelling_is_a_key_error():
    with pytest.raises(KeyError):
        units.factor("furlong")


@pytest.mark.parametrize("spelling", sorted({spelling for _, spelling in SPELLINGS}))
def test_spelling_in_several_dimensions_is_read_in_the_one_asked_for(spelling):
    for dimension in (name for name, entry in units.table().items() if spelling in entry["factors"]):
        assert units.factor(spelling, dimension) == units.table()[dimension]["factors"][spelling]


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("0.125 in", 0.125, "in"),
        ("1 3/8 in", 1.375, "in"),
        ("3/8 in", 0.375, "in"),
        ('3/8"', 0.375, '"'),
        ("-3/8 in", -0.375, "in"),
        ("- 1 1/2 in", -1.5, "in"),
        ("45 ksi", 45.0, "ksi"),
        ("45ksi", 45.0, "ksi"),
        ("  160   bar ", 160.0, "bar"),
        (".5 mm", 0.5, "mm"),
        ("5. mm", 5.0, "mm"),
        ("+5 mm", 5.0, "mm"),
        ("1e3 N", 1000.0, "N"),
        ("1.5E-3m", 0.0015, "m"),
        ("5 e", 5.0, "e"),
        ("10 %", 10.0, "%"),
        ("10%", 10.0, "%"),
        ("30°", 30.0, "°"),
        ("2.50 /kg", 2.5, "/kg"),
        ("30 1/min", 30.0, "1/min"),
        ("2.5 1/h", 2.5, "1/h"),
        ("30/min", 30.0, "/min"),
        ("12\u00a0mm", 12.0, "mm"),
        ("12", 12.0, ""),
        ("3/8", 0.375, ""),
    ],
)
def test_text_is_split_into_number_and_unit(text, number, unit):
    assert units.split_quantity(text) == (number, unit)


@pytest.mark.parametrize(
    "text",
    [
        *("12,5", "12,5 mm", "1,234.5 mm", "1.234,5 mm", "1.2.3 mm", "1-3/8 in", "1 3/0 in", "5 6 mm"),
        *("", " ", "mm", "abc", "--5 mm", "5 - mm", "nan mm", "inf mm", "1e999 mm"),
        *("9" * 5000 + " mm", "1/" + "9" * 5000 + " mm"),
    ],
)
def test_text_that_is_no_quantity_is_not_split(text):
    assert units.split_quantity(text) is None


@given(st.floats(-1e12, 1e12), st.sampled_from(SPELLINGS))
def test_every_number_with_every_spelling_is_read_back(number, key):
    assert units.split_quantity(f"{number!r} {key[1]}") == (number, key[1])


@given(st.integers(0, 500), st.integers(0, 63), st.integers(1, 64))
def test_mixed_fractions_are_read_exactly(whole, over, under):
    assert units.split_quantity(f"{whole} {over}/{under} in") == (whole + over / under, "in")


@given(st.text(max_size=30))
def test_any_text_is_split_or_left_without_an_exception(text):
    parts = units.split_quantity(text)
    assert parts is None or (isinstance(parts[0], float) and isinstance(parts[1], str))


@given(st.floats(1e-6, 1e9), st.sampled_from(WITH_UNIT), st.sampled_from(SYSTEMS))
def test_what_a_kind_shows_is_read_back_as_the_same_quantity(value, kind, system):
    number, spelling = units.split_quantity(kind.show(value, system))
    assert number * units.factor(spelling, kind.dimension) == pytest.approx(value, rel=1e-9, abs=0.0)
