"""Whether a die suits its press: the drawing says what `assign` says, and no "fits" while a check fails."""

from __future__ import annotations

import dataclasses
import math
import re
from pathlib import Path

import pytest
from drawn_dies import FIGURES, TEXTS, a_die, texts
from drawn_marks import overlaps

from pressfuncs.batch.assignment.fields import field_entry, fields
from pressfuncs.batch.assignment.profile import Profile
from pressfuncs.batch.assignment.ranking import assign
from pressfuncs.batch.assignment.registers import read_register
from pressfuncs.drawing.die import PRESS_FIGURES, Die, read_dies
from pressfuncs.drawing.engagement import share_in_the_sheet
from pressfuncs.drawing.outline import read_outline, rectangle
from pressfuncs.drawing.run import DEMO, DEMO_PRESSES
from pressfuncs.drawing.sheets import Style, draw
from pressfuncs.drawing.suitability import judge
from pressfuncs.functions._checks import CHECKS
from pressfuncs.functions.cutting import shearing_force
from pressfuncs.functions.cutting_shear import relieved_shearing_force
from pressfuncs.functions.decision import required_capacity
from pressfuncs.quantities import Wording

ALL_BUT_KIND = [check for check in CHECKS if check.name != "kind"]


def verdict(die: Die) -> str:
    """Return the verdict that stands under the view of the die in its press."""
    press = draw(die, Style())[1]
    assert press.verdict in " ".join(texts(press.document)), "it is wrapped, not cut"
    return press.verdict


def shown_in_press(die: Die) -> list[str]:
    return texts(draw(die, Style())[1].document)


def test_a_slide_face_short_by_5_mm_is_never_a_die_that_fits():
    die = a_die(slide_length=FIGURES["upper_die_length"] - 5)
    assert verdict(die) == "not suitable: slide face short by 5 mm; does not apply: kind of press"
    shown = shown_in_press(die)
    assert "slide face: short by 5 mm" in shown
    assert not any("fit" in text for text in shown)


def test_a_die_with_all_figures_is_suitable_on_paper():
    assert verdict(a_die()) == "suitable on paper: 15 checks passed; does not apply: kind of press"
    shown = shown_in_press(a_die())
    for check in ALL_BUT_KIND:
        (line,) = [text for text in shown if text.startswith(f"{check.label}: ")]
        assert "margin" in line
    for line in (
        "closed height: margin 48 mm",
        "slide adjustment and spacers: margin 12 mm",
        "bed: margin 140 mm with clamps of 40 mm / 0 mm",
        "slide face: margin 90 mm",
        "shank: margin 0 mm",
        "kind of press: does not apply",
    ):
        assert line in shown


@pytest.mark.parametrize("missing", [name for name in PRESS_FIGURES if name in FIGURES or name in TEXTS])
def test_a_press_that_is_not_known_whole_is_never_said_to_suit_the_die_by_more_checks_than_were_made(missing: str):
    """Without a figure a check is open, or it reckons with less than the press has."""
    of = judge(a_die(missing), "metric")
    whole = judge(a_die(), "metric")
    for check in CHECKS:
        margin, known = of.margins[check.name], whole.margins[check.name]
        assert margin is None or known is None or margin <= known, check.name
    assert "fit" not in of.verdict


def test_a_press_of_which_only_the_heights_are_known_leaves_checks_open():
    kept = ("press_shut_height", "press_adjustment", "press_bolster")
    die = a_die(*[name for name in PRESS_FIGURES if name not in kept])
    (first, *_) = verdict(die).split(";")
    assert first == "partly checked: 2 checks passed"
    shown = shown_in_press(die)
    assert "force at the working height: not checked" in shown
    assert "bed: not checked" in shown
    assert not any("fit" in text for text in shown)


@pytest.mark.parametrize(
    ("changed", "fact", "line"),
    [
        (
            {"press_shut_height": 280.0},
            "closed height, as drawn: too tall by 2 mm: the spacer is 2 mm too thick",
            "closed height: short by 2 mm",
        ),
        (
            {"press_shut_height": 400.0},
            "closed height, as drawn: too short by 58 mm: needs 58 mm to 118 mm more spacer",
            "slide adjustment and spacers: short by 58 mm",
        ),
    ],
)
def test_a_die_that_its_press_does_not_close_says_so(changed, fact, line):
    shown = shown_in_press(a_die(**changed))
    assert {fact, line} <= set(shown)
    assert any(text.startswith("not suitable: ") for text in shown)
    assert not any(text.startswith("opening at the top") for text in shown)


def test_spacers_that_may_be_put_in_count_where_the_row_names_none():
    short = {"press_shut_height": 400.0}
    assert judge(a_die("spacer", **short), "metric").margins["adjustment"] is None
    most = judge(a_die("spacer", press_most_spacer=100.0, **short), "metric")
    assert most.margins["adjustment"] == pytest.approx(60 + 100 - (400 - 80 - 182))
    said = judge(a_die(press_most_spacer=100.0, **short), "metric")
    assert said.margins["adjustment"] == pytest.approx(-58), "the row says which spacer stands there"


def test_a_figure_that_could_not_be_read_is_neither_given_nor_blank():
    for name, check in (("press_overhang", "slide_face"), ("pad_force", "force"), ("spacer", "closed_height")):
        die = a_die(name)
        die.unread.add(name)
        of = judge(die, "metric")
        assert of.margins[check] is None, name
        assert of.verdict.startswith("partly checked")


def test_the_title_block_states_the_forces_that_the_checks_reckon_with():
    of = judge(a_die(), "metric")
    cutting = shearing_force(200.0, 2.0, 310.0) * 1.3
    assert (of.cutting, of.stripping) == pytest.approx((cutting, 0.1 * cutting))
    assert of.ejection == pytest.approx(3 * 0.05 * cutting)
    assert of.whole == pytest.approx(1.25 * cutting)
    assert of.capacity == pytest.approx(required_capacity(of.whole, 0.6))
    sheet = draw(a_die(), Style())[0]
    shown = texts(sheet.document)
    for figure in ("161.2 kN", "16.2 kN", "24.2 kN", "201.5 kN", "335.9 kN", "182 mm", "90.1 kg", "GF-63"):
        assert figure in shown
    assert "Cutting force, worn edges +30 %" in shown
    assert "Capacity required, load limit of the press 60 % (C-frame)" in shown
    assert any(text.startswith("Planning drawing: check every size") for text in shown)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"load_limit": 0.5}, "50 % (its own)"),
        ({"press_frame": "straight side"}, "80 % (straight side)"),
        ({"press_frame": ""}, "60 % (frame not given)"),
    ],
)
def test_the_load_limit_is_of_the_press_else_of_its_frame(changed, words):
    assert f"Capacity required, load limit of the press {words}" in texts(
        draw(a_die(**changed), Style())[0].document
    )


@pytest.mark.parametrize(
    ("unread", "words"),
    [
        ("load_limit", "Capacity required, load limit of the press not known"),
        ("edge_allowance", "Cutting force"),
        ("cutting_force", "Cutting force"),
    ],
)
def test_the_title_block_claims_nothing_of_a_figure_that_could_not_be_read(unread: str, words: str):
    die = a_die()
    die.unread.add(unread)
    shown = texts(draw(die, Style())[0].document)
    assert words in shown
    assert "not known" in shown
    assert not any("nan" in text for text in shown)


@pytest.mark.parametrize("paper", ["auto", "A4"])
def test_a_long_verdict_runs_into_nothing(paper):
    kept = ("press_shut_height", "press_adjustment", "press_bolster", "bed_length")
    die = a_die(*[name for name in PRESS_FIGURES if name not in kept], "pad_force", press_shut_height=400.0)
    die.remarks.append(Wording("a remark that is long enough to take two lines " * 3))
    for drawn in draw(die, Style(paper=paper)):
        assert overlaps(drawn) == []


@pytest.mark.parametrize(
    ("without", "missing"),
    [
        ("shear_strength", ["cutting force", "stripping force", "ejection force", "force of the stroke"]),
        ("stripping_share", ["stripping force", "force of the stroke"]),
        ("pad_force", ["pad force", "force of the stroke"]),
        ("slugs", ["ejection force", "force of the stroke"]),
    ],
)
def test_a_force_that_does_not_follow_is_not_known_rather_than_guessed(without: str, missing: list[str]):
    sheet = draw(a_die(without), Style())[0]
    assert sheet.not_given == missing
    assert "not known" in texts(sheet.document)


def test_a_fixed_stripper_loads_the_slide_with_nothing():
    of = judge(a_die("stripping_share", stripper="fixed"), "metric")
    assert (of.stripping, of.whole) == (0.0, pytest.approx(of.cutting + of.ejection))


def test_figures_that_contradict_each_other_are_noted_on_the_sheets_of_the_die_and_of_the_press():
    stated = a_die(stroke_force=100e3)
    for drawn in draw(stated, Style()):
        assert any("the force of the stroke is stated as 100 kN" in text for text in texts(drawn.document))
    assert judge(stated, "metric").whole > 200e3


def test_a_shop_profile_declares_checks_and_says_what_blanks_mean():
    die = a_die("shank_bore", "pad_force")
    die.profile = Profile({"die": {"pad_force": 0.0}}, {"shank": "no press of this shop has a bore"})
    assert verdict(die) == (
        "suitable on paper: 14 checks passed; declared, not checked: shank; does not apply: kind of press"
    )
    shown = shown_in_press(die)
    assert "shank: declared, not checked" in shown
    assert any("no press of this shop has a bore" in text for text in shown)


def test_fields_of_the_press_mean_in_the_row_of_a_die_what_they_mean_in_a_register_of_presses():
    for name, column in PRESS_FIGURES.items():
        assert fields("drawing")[name].kind == fields("press")[column].kind, name
        ranges = [field_entry(*of).get("range") for of in (("drawing", name), ("press", column))]
        assert ranges[0] == ranges[1], name


DIES = """\
Die,Press,Material,t [mm],Cut length [mm],Stripping share,Ejection force [kN],Forming force [kN],Pad force [kN],\
Reverse share,Punch entry [mm],Part height [mm],Lift [mm],Closed height [mm],Die length [mm],Die width [mm],\
Upper length [mm],Upper width [mm],Die weight [kg],Upper weight [kg],Load centre [mm],Shank diameter [mm],\
Stroke rate
A,P-1,Q235,2,200,0.1,5,0,0,0.2,2,2,0,180,300,200,260,190,90,40,5,0,60
B,p-1,Q235,3,400,0.1,5,0,0,0.2,2,2,0,260,300,200,,,90,,5,40,
C,P-2,Q235,2,200,0.1,,0,0,0.2,2,2,0,180,300,200,260,190,90,40,5,0,60
D,P-2,Q235,2,,,5,80,10,,2,40,5,180,300,200,260,190,90,40,-50,0,60
E,P-3,Q235,1,150,0.05,0,0,0,0.1,1,1,0,120,300,200,365,190,90,40,0,25,80
"""
PRESSES = """\
Press,Drive,Frame,Rated force [kN],Rated height [mm],Rod [mm],Stroke [mm],Energy per stroke [J],Min rate,Max rate,\
Shut height [mm],Adjustment [mm],Bolster [mm],Spacer [mm],Bed length [mm],Bed width [mm],Clamping length [mm],\
Clamping width [mm],Slide length [mm],Slide width [mm],Overhang [mm],Shank bore [mm],Crane [kg],\
Max upper weight [kg],Die space [mm],Allowed moment [kN.m]
P-1,crank,straight side,630,4,340,80,2000,45,90,330,60,80,40,520,360,50,0,360,280,,40,500,120,,20
P-2,hydraulic,C-frame,400,,,200,,,40,400,0,70,200,520,360,50,,360,280,10,,500,,,
P-3,underdrive,,250,3,,60,800,60,60,,50,,,520,360,40,0,360,280,,25,300,60,190,7.5
"""


def test_the_drawing_says_what_assign_says(tmp_path: Path):
    for name, text in (("dies.csv", DIES), ("presses.csv", PRESSES)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    dies, presses = tmp_path / "dies.csv", tmp_path / "presses.csv"
    result = assign(read_register(dies, "die"), read_register(presses, "press"), top=3)
    pairs = {(pair.die, pair.press): pair for pair in [*result.ranked(), *result.failing()]}
    read = read_dies(dies, presses=presses)
    assert read.troubles == []
    said = set()
    for i, die in enumerate(read.dies):
        press = [name.casefold() for name in result.presses.ids].index(die.text("press").casefold())
        ours = judge(die, "metric")
        assert ours.verdict.shown("metric") == pairs[i, press].verdict("metric"), die.id
        said.add(ours.verdict.split(":")[0])
    assert said == {"suitable on paper", "partly checked", "not suitable"}


def test_most_demo_dies_get_a_clear_answer():
    read = read_dies(DEMO, presses=DEMO_PRESSES)
    assert read.troubles == []
    verdicts = [judge(die, "metric").verdict for die in read.dies]
    clear = [of for of in verdicts if re.match("suitable on paper|not suitable", of)]
    assert len(clear) >= 0.75 * len(verdicts)


def test_the_verdict_is_in_inches_where_inches_are_wanted():
    press = draw(a_die(slide_length=FIGURES["upper_die_length"] - 25.4), Style("inch"))[1]
    assert press.verdict.startswith("not suitable: slide face short by 1 in")
    assert "slide face: short by 1 in" in texts(press.document)


def test_the_outline_of_the_punch_says_how_far_shear_lowers_the_cut():
    """A round punch sheared one way over its diameter is the closed form; edges beside it are cut at once."""
    figures = {"shear_height": 5.0, "shear_direction": 0.0, "penetration": 0.5, "thickness": 4.0}
    whole = a_die(cut_length=math.pi * 100, punch_diameter=100.0, punch_length=None, punch_width=None, **figures)
    square = judge(a_die(cut_length=math.pi * 100, thickness=4.0), "metric").cutting
    share = relieved_shearing_force(1.0, 4.0, 0.5, 5.0, "round one way")
    assert judge(whole, "metric").cutting == pytest.approx(square * share, rel=2e-3)
    longer = dataclasses.replace(whole, numbers=whole.numbers | {"cut_length": math.pi * 200})
    assert judge(longer, "metric").cutting == pytest.approx(2 * square * (share + 1) / 2, rel=2e-3)
    unsaid = dataclasses.replace(whole, numbers={n: v for n, v in whole.numbers.items() if n != "shear_direction"})
    assert judge(unsaid, "metric").cutting == pytest.approx(square)


def test_a_dxf_outline_gives_its_own_share(tmp_path):
    import ezdxf

    drawing = ezdxf.new()
    drawing.modelspace().add_circle((10, 20), 50, dxfattribs={"layer": "PUNCH"})
    drawing.saveas(tmp_path / "punch.dxf")
    circle_read = read_outline(tmp_path / "punch.dxf", "PUNCH", 1.0)
    for band in (0.1, 0.4, 0.9):
        share = share_in_the_sheet(circle_read, 1.0, band, 1.234, math.pi * 100)
        assert share == pytest.approx(relieved_shearing_force(1.0, 1.0, band, 1.0, "round one way"), abs=2e-3)
    plate = rectangle(100.0, 40.0)
    assert share_in_the_sheet(plate, 1.0, 0.15, 0.0, 280.0) == pytest.approx(0.25)
    assert share_in_the_sheet(plate, 1.0, 0.15, math.pi / 2, 280.0) == pytest.approx(0.4)
