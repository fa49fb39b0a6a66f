"""Headings as people write them: the field, the unit, or a column of the shop's own."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import units
from pressfuncs.batch.assignment import fields
from pressfuncs.batch.assignment.fields import Heading, NotUsed, read_heading, read_own_headings
from pressfuncs.batch.refusals import Refused
from pressfuncs.quantities import TEXT, Kind

ALL = [
    (register, name, heading)
    for register in ("die", "press")
    for name, headings in fields.known_headings(register).items()
    for heading in [name, *headings]
    if fields.plain(heading) not in map(fields.plain, fields.ambiguous_headings(register))
]


def field_of(text: str, register: str = "die", system: str = "metric") -> str | None:
    heading = read_heading(text, register, system, {})
    return heading.field.name if isinstance(heading, Heading) else None


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
    assert isinstance(heading, Heading)
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
    assert isinstance(heading, Heading)
    assert heading.field.name == field
    assert heading.factor == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize("text", ["Shear strength", "Cut length", "Die weight", "Force"])
def test_without_a_unit_the_system_decides(text):
    metric, inch = (read_heading(text, "die", system, {}) for system in ("metric", "inch"))
    assert isinstance(metric, Heading)
    assert isinstance(inch, Heading)
    assert metric.factor == metric.field.kind.factor("metric")
    assert inch.factor == inch.field.kind.factor("inch")
    assert not metric.stated


@pytest.mark.parametrize(
    ("text", "register", "words", "unread"),
    [
        ("Force [tons]", "die", "tonf_us", {"stroke_force"}),
        ("Force, t", "die", "tonf_metric", {"stroke_force"}),
        ("Force kg", "die", "kg is a mass", {"stroke_force"}),
        ("stripping force (t)", "die", "tonf_metric", {"stripping_force"}),
        ("stripping force tons", "die", "tonf_us", {"stripping_force"}),
        ("pad force t", "die", "tonf_metric", {"pad_force"}),
        ("Cut length [kN]", "die", "kN is a force, a length is wanted", {"cut_length"}),
        ("Cut length [furlong]", "die", 'unit "furlong" is not known', {"cut_length"}),
        ("Stripping [mm]", "die", "may be a force or a share", {"stripping_force", "stripping_share"}),
        ("Cylinders [mm]", "press", "cylinders is a plain number", {"cylinders"}),
        ("Rate parts/h", "press", "strokes a minute or the cost", {"rate_high", "hourly_rate"}),
        ("Hourly rate parts/h", "press", "parts/h is a part rate", {"hourly_rate"}),
        ("Press tonnage kN", "die", "what the press has", {"stroke_force"}),
        ("Rate [kN]", "press", "strokes a minute or the cost", {"rate_high", "hourly_rate"}),
        ("Tonnage [t]", "press", "nobody knows which tons", {"rated_force"}),
        ("Rated force [to]", "press", 'unit "to" is not known', {"rated_force"}),
    ],
)
def test_a_unit_that_is_wrong_or_not_clear_leaves_its_field_unread(text, register, words, unread):
    found = read_heading(text, register, "metric", {})
    assert isinstance(found, NotUsed)
    assert words in found.sentence
    assert found.sentence.endswith("the column is not used")
    assert set(found.unread) == unread


@pytest.mark.parametrize(
    ("text", "register", "unread"),
    [
        ("Relief", "die", {"shear_height"}),
        ("Relief (deg)", "die", {"shear_height"}),
        ("Stagger mm", "die", {"shear_height"}),
        ("Stripping", "die", {"stripping_force", "stripping_share"}),
        ("Length", "die", set()),
        ("Width mm", "die", set()),
        ("Weight kg", "die", set()),
        ("Stroke mm", "die", {"stroke_needed"}),
        ("Hub", "die", {"stroke_needed"}),
        ("Tonnage", "die", set()),
        ("Strokes", "die", set()),
        ("Rate", "die", set()),
        ("Rate", "press", set()),
        ("Capacity", "press", set()),
        ("Energy [J]", "press", set()),
        ("Arbeitsvermögen J", "press", set()),
        ("Tischbreite mm", "press", set()),
    ],
)
def test_a_heading_that_may_mean_two_things_is_not_used_and_said(text, register, unread):
    found = read_heading(text, register, "metric", {})
    assert isinstance(found, NotUsed)
    assert "write " in found.sentence
    assert set(found.unread) == unread


@pytest.mark.parametrize(
    ("text", "register", "field"),
    [
        ("Sheet thk", "die", "thickness"),
        ("Length L-R", "die", "die_length"),
        ("Width F-B mm", "die", "die_width"),
        ("Parts/stroke", "die", "parts_per_stroke"),
        ("Parts / stroke", "die", "parts_per_stroke"),
        ("Tonnage [kN]", "die", "stroke_force"),
        ("Stripping [kN]", "die", "stripping_force"),
        ("Stripping %", "die", "stripping_share"),
        ("Rate spm", "die", "stroke_rate"),
        ("Bed L-R", "press", "bed_length"),
        ("Bed F-B (in)", "press", "bed_width"),
        ("SPM max", "press", "rate_high"),
        ("SPM min", "press", "rate_low"),
        ("Rate €/h", "press", "hourly_rate"),
        ("Rate € / h", "press", "hourly_rate"),
        ("Rate [EUR/h]", "press", "hourly_rate"),
        ("Rate (strokes/min)", "press", "rate_high"),
        ("Strokes/min", "press", "rate_high"),
        ("Tonnage [kN]", "press", "rated_force"),
        ("Capacity kN", "press", "rated_force"),
        ("Stundensatz €/Std", "press", "hourly_rate"),
        ("Hübe/min", "press", "rate_high"),
        ("HOEHE", "press", None),
        ("Stoesselverstellung mm", "press", "adjustment"),
        ("STÖSSELVERSTELLUNG (MM)", "press", "adjustment"),
        ("Ausladung mm", "press", None),
        ("Niederhalterkraft kN", "die", "pad_force"),
        ("Einbauhöhe in mm", "die", "die_height"),
        ("Einbauhöhe (Zoll)", "press", "shut_height"),
        ("Blechdicke [µm]", "die", "thickness"),
        ("Blechdicke [\u03bcm]", "die", "thickness"),
        ("EFFORT DE DECOUPE KN", "die", "cutting_force"),
        ("Hauteur outil fermé en mm", "die", "die_height"),
        ("N° outil", "die", "id"),
        ("Pièces/coup", "die", "parts_per_stroke"),
        ("Spessore (mm)", "die", "thickness"),
        ("Corsa mm", "press", "stroke"),
    ],
)
def test_headings_of_shops_are_understood(text, register, field):
    assert field_of(text, register) == field


@pytest.mark.parametrize(
    "text", ["Striping force kN", "Gegenkraft (t)", "holding force tons", "Kissenkraft", "Fuerza muelles"]
)
def test_a_heading_that_is_not_known_is_still_seen_to_be_a_force(text):
    assert read_heading(text, "die", "metric", {}) is None
    assert fields.is_force(text)


@pytest.mark.parametrize("text", ["Shelf", "Coil weight (t)", "Drawing no", "Tensile strength MPa", "Pitch mm"])
def test_what_is_no_force_is_not_taken_for_one(text):
    assert not fields.is_force(text)


@pytest.mark.parametrize(
    ("text", "register", "heading", "misspelt"),
    [
        ("striping force kN", "die", "stripping force", True),
        ("Die hight mm", "die", "die height", True),
        ("Sheet thickness max", "die", "sheet thickness", True),
        ("Drawing force of springs kN", "die", "drawing force", False),
        ("Shut heigth [mm]", "press", "shut height", True),
        ("Ausladung mm", "press", None, False),
        ("Shelf", "die", None, False),
    ],
)
def test_the_nearest_heading_is_named(text, register, heading, misspelt):
    near = fields.nearest(text, register)
    assert (near and near.heading) == heading
    assert bool(near and near.misspelt) == misspelt


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "Gauge",
        "L",
        "Notes",
        "Part [kg]",
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
                assert isinstance(found, Heading)
                assert (found.field.name, found.factor) == (name, kind.factor(system))
                assert found.stated


def test_no_heading_means_two_fields():
    for register in ("die", "press"):
        found: dict[str, str] = {}
        for name, headings in fields.known_headings(register).items():
            for heading in [name, *headings]:
                for key in fields.spellings(heading):
                    assert found.setdefault(key, name) == name, heading
        for heading in fields.ambiguous_headings(register):
            assert found.get(fields.plain(heading), heading) in (heading, "mass", "energy"), heading


@pytest.mark.parametrize("register", fields.REGISTERS)
def test_fields_that_share_a_heading_are_told_apart_by_its_unit(register):
    kinds: dict[tuple[str, str], str] = {}
    for name, headings in fields.headings_with_unit(register).items():
        for heading in headings:
            dimension = fields.fields(register)[name].kind.dimension
            assert kinds.setdefault((fields.plain(heading), dimension), name) == name, heading


@pytest.mark.parametrize("register", fields.REGISTERS)
def test_every_field_has_a_kind_a_help_and_a_range_that_the_reader_knows(register):
    for name, field in fields.fields(register).items():
        entry = fields.field_entry(register, name)
        assert isinstance(field.kind, Kind)
        assert set(entry) <= {
            "kind",
            "names",
            "abroad",
            "with_unit",
            "help",
            "range",
            "default",
            "series",
            "parts",
        }
        assert entry.get("range", "above 0") in ("above 0", "may be 0", "share", "share or 0", "whole", "any")
        assert entry["names"]
        assert field.help[0].islower() or field.help.split()[0] in ("1", "2", "C-frame"), name


@given(st.sampled_from(ALL), st.data())
def test_case_blanks_dots_and_dashes_do_not_matter(entry, data):
    register, name, heading = entry
    letters = "".join(
        data.draw(st.sampled_from((c, c.upper(), f" {c}", f"{c}_", f"-{c}", f"{c}."))) for c in heading
    )
    assert field_of(letters, register) == name


@given(st.text(max_size=40), st.sampled_from(fields.REGISTERS))
def test_any_text_is_a_heading_a_refusal_or_nothing(text, register):
    heading = read_heading(text, register, "metric", {})
    if isinstance(heading, NotUsed):
        assert heading.sentence
        assert set(heading.unread) <= set(fields.fields(register))
    assert not isinstance(heading, Heading) or heading.factor > 0


@given(st.sampled_from(ALL), st.text(min_size=1, max_size=8))
def test_a_field_with_anything_in_brackets_never_takes_a_factor_from_nowhere(entry, unit):
    register, _, heading = entry
    found = read_heading(f"{heading} [{unit}]", register, "metric", {})
    if isinstance(found, Heading) and found.field.kind is not TEXT:
        kind = found.field.kind
        known = units.table().get(kind.dimension, {"factors": {}})["factors"].values()
        assert found.factor in {*known, kind.factor("metric")}


def test_own_headings_go_before_and_keep_their_units(tmp_path):
    path = tmp_path / "map.toml"
    path.write_text('[die]\n"Werkzeughöhe" = "die_height"\n"Force" = "cutting_force"\n', encoding="utf-8")
    own = read_own_headings(path)
    heading = read_heading("WERKZEUGHÖHE (in)", "die", "metric", own["die"])
    assert isinstance(heading, Heading)
    assert (heading.field.name, heading.factor) == ("die_height", 25.4)
    force = read_heading("Force [kN]", "die", "metric", own["die"])
    assert isinstance(force, Heading)
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
