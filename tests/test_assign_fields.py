"""Headings as people write them: the field, the unit, or a column of the shop's own."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import units
from pressfuncs.batch.assignment import fields
from pressfuncs.batch.assignment.fields import read_heading, read_own_headings
from pressfuncs.batch.refusals import Refused
from pressfuncs.errors import WrongUnit
from pressfuncs.quantities import TEXT, Kind

ALL = [
    (register, name, heading)
    for register in ("die", "press")
    for name, headings in fields.known_headings(register).items()
    for heading in [name, *headings]
]


def field_of(text: str, register: str = "die", system: str = "metric") -> str | None:
    heading = read_heading(text, register, system, {})
    return heading and heading.field.name


@pytest.mark.parametrize(
    ("text", "field", "factor"),
    [
        ("Cut length [mm]", "cut_length", 1.0),
        ("Cut length (in)", "cut_length", 25.4),
        ("cut length, in", "cut_length", 25.4),
        ("CUT LENGTH IN", "cut_length", 25.4),
        ("CUT LENGTH (MM)", "cut_length", 1.0),
        ("Cut-length mm", "cut_length", 1.0),
        ("cut_length", "cut_length", 1.0),
        ("Cut\nlength\n[cm]", "cut_length", 10.0),
        ("  Cut   length  ", "cut_length", 1.0),
        ("t (in)", "thickness", 25.4),
        ("t [thou]", "thickness", 0.0254),
        ("Shear strength, ksi", "shear_strength", units.factor("ksi", "pressure")),
        ("Force kN", "stroke_force", 1000.0),
        ("FORCE (KN)", "stroke_force", 1000.0),
        ("Force [tonf_us]", "stroke_force", units.factor("tonf_us", "force")),
        ("Stripping, share", "stripping_share", 1.0),
        ("Stripping %", "stripping_share", 0.01),
        ("Parts per stroke (pcs)", "parts_per_stroke", 1.0),
        ("Stroke rate, strokes/min", "stroke_rate", 1 / 60),
        ("Setup [min]", "setup", 60.0),
        ("Setup", "setup", 3600.0),
        ("Die weight (lb)", "mass", units.factor("lb", "mass")),
    ],
)
def test_a_die_heading_is_read(text, field, factor):
    heading = read_heading(text, "die", "metric", {})
    assert heading is not None
    assert heading.field.name == field
    assert heading.factor == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "field", "factor"),
    [
        ("Hourly rate [EUR/h]", "hourly_rate", 1 / 3600),
        ("Hourly rate, EUR/h", "hourly_rate", 1 / 3600),
        ("Hourly rate $/h", "hourly_rate", 1 / 3600),
        ("Oil pressure (psi)", "pressure", units.factor("psi", "pressure")),
        ("Pressure", "pressure", 0.1),
        ("Shut height", "shut_height", 1.0),
        ("Die space (in)", "die_space", 25.4),
        ("Max moment [kN.m]", "allowed_moment", 1e6),
    ],
)
def test_a_press_heading_is_read(text, field, factor):
    heading = read_heading(text, "press", "metric", {})
    assert heading is not None
    assert heading.field.name == field
    assert heading.factor == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize("text", ["Shear strength", "Cut length", "Die weight", "Force"])
def test_without_a_unit_the_system_decides(text):
    metric, inch = (read_heading(text, "die", system, {}) for system in ("metric", "inch"))
    assert metric is not None
    assert inch is not None
    assert metric.factor == metric.field.kind.factor("metric")
    assert inch.factor == inch.field.kind.factor("inch")
    assert not metric.stated


@pytest.mark.parametrize(
    ("text", "register", "words"),
    [
        ("Force [tons]", "die", "tonf_us"),
        ("Force, t", "die", "tonf_metric"),
        ("Force kg", "die", "kg is a mass"),
        ("Cut length [kN]", "die", "kN is a force, a length is wanted"),
        ("Cut length [furlong]", "die", 'unit "furlong" is not known'),
        ("Stripping [kN]", "die", "kN is a force, a ratio is wanted"),
        ("Cylinders [mm]", "press", "cylinders is a plain number"),
        ("Rate [EUR/h]", "press", "stroke rate is wanted"),
    ],
)
def test_a_unit_that_is_wrong_or_not_clear_is_refused(text, register, words):
    with pytest.raises(WrongUnit, match=re.escape(words)):
        read_heading(text, register, "metric", {})


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "Gauge",
        "L",
        "Notes",
        "Part [kg]",
        "Sheet mm",
        "Tensile strength MPa",
        "Cut length of strip",
        "[mm]",
    ],
)
def test_what_is_not_sure_to_be_a_field_is_carried_through(text):
    """A gauge is no thickness, "L" may be the length of the die, and a tensile strength is no shear strength."""
    assert read_heading(text, "die", "metric", {}) is None


@pytest.mark.parametrize(("register", "name", "heading"), ALL)
def test_every_documented_heading_means_its_field(register, name, heading):
    kind = fields.fields(register)[name].kind
    assert field_of(heading, register) == name
    if kind is not TEXT and kind.has_unit:
        for system in ("metric", "inch"):
            for form in ("{} [{}]", "{} ({})", "{}, {}", "{} {}"):
                found = read_heading(form.format(heading, kind.unit(system)), register, "metric", {})
                assert found is not None
                assert (found.field.name, found.factor) == (name, kind.factor(system))
                assert found.stated


def test_no_heading_means_two_fields():
    for register in ("die", "press"):
        found: dict[str, str] = {}
        for name, headings in fields.known_headings(register).items():
            for heading in [name, *headings]:
                assert found.setdefault(fields.plain(heading), name) == name, heading


@pytest.mark.parametrize("register", fields.REGISTERS)
def test_every_field_has_a_kind_a_help_and_a_range_that_the_reader_knows(register):
    for name, field in fields.fields(register).items():
        entry = fields.field_entry(register, name)
        assert isinstance(field.kind, Kind)
        assert set(entry) <= {"kind", "names", "help", "range", "default"}
        assert entry.get("range", "above 0") in ("above 0", "may be 0", "share", "whole", "any")
        assert entry["names"]
        assert field.help[0].islower() or field.help.split()[0] in ("1", "2"), name


@given(st.sampled_from(ALL), st.data())
def test_case_blanks_dots_and_dashes_do_not_matter(entry, data):
    register, name, heading = entry
    letters = "".join(
        data.draw(st.sampled_from((c, c.upper(), f" {c}", f"{c}_", f"-{c}", f"{c}."))) for c in heading
    )
    assert field_of(letters, register) == name


@given(st.text(max_size=40), st.sampled_from(fields.REGISTERS))
def test_any_text_is_a_heading_a_refusal_or_nothing(text, register):
    try:
        heading = read_heading(text, register, "metric", {})
    except WrongUnit as refused:
        heading, named = None, refused.argument in fields.fields(register)
        assert named
    assert heading is None or heading.factor > 0


@given(st.sampled_from(ALL), st.text(min_size=1, max_size=8))
def test_a_field_with_anything_in_brackets_never_takes_a_factor_from_nowhere(entry, unit):
    register, _, heading = entry
    try:
        found = read_heading(f"{heading} [{unit}]", register, "metric", {})
    except WrongUnit:
        return
    if found is not None and found.field.kind is not TEXT:
        kind = found.field.kind
        known = units.table().get(kind.dimension, {"factors": {}})["factors"].values()
        assert found.factor in {*known, kind.factor("metric")}


def test_own_headings_go_before_and_keep_their_units(tmp_path):
    path = tmp_path / "map.toml"
    path.write_text('[die]\n"Werkzeughöhe" = "die_height"\n"Force" = "cutting_force"\n', encoding="utf-8")
    own = read_own_headings(path)
    heading = read_heading("WERKZEUGHÖHE (in)", "die", "metric", own["die"])
    assert heading is not None
    assert (heading.field.name, heading.factor) == ("die_height", 25.4)
    force = read_heading("Force [kN]", "die", "metric", own["die"])
    assert force is not None
    assert force.field.name == "cutting_force"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[die]\n"H" = "hight"\n', 'heading "H": there is no field "hight" of a die; choose from id, part'),
        ('[dies]\n"H" = "die_height"\n', 'holds "dies"; it may hold the tables'),
        ('die = "die_height"\n', 'holds "die"; it may hold'),
        ("[die\n", "is no TOML file"),
        ('[die]\n"H" = 3\n', 'there is no field "3"'),
        ('[die]\n"H" = ["die_height"]\n', "there is no field"),
    ],
)
def test_a_map_of_headings_that_is_wrong_is_refused(tmp_path, text, words):
    path = tmp_path / "map.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Refused, match=re.escape(words)):
        read_own_headings(path)


def test_a_map_of_headings_that_cannot_be_read_is_refused(tmp_path):
    (tmp_path / "latin.toml").write_bytes('[die]\n"Höhe" = "die_height"\n'.encode("latin-1"))
    for name, words in (("gone.toml", "No such file"), ("latin.toml", "is no TOML file")):
        with pytest.raises(Refused, match=words):
            read_own_headings(tmp_path / name)
