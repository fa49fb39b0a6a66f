"""Drawings of dies: what the views show, and that figures which cannot all be right are refused."""

from __future__ import annotations

import pytest
from drawn_dies import a_die, extent, middles, texts

from pressfuncs.batch.refusals import Refused
from pressfuncs.drawing.arrange import Placed
from pressfuncs.drawing.checks import check
from pressfuncs.drawing.die import Contradiction, Die
from pressfuncs.drawing.elevations import section
from pressfuncs.drawing.figures import rounded_down, rounded_up
from pressfuncs.drawing.paper import A3, A4, SCALES
from pressfuncs.drawing.sheets import Style, draw
from pressfuncs.quantities import FORCE, LENGTH, MASS


def test_the_upper_half_is_turned_over_about_a_hinge_at_its_side():
    document = draw(a_die(), Style())[0].document
    pillars = middles(document, "DIE PLAN", "PILLAR")
    bushes = middles(document, "UPPER HALF TURNED OVER", "BUSH")
    assert pillars == [(-95, -65), (-95, 65), (95, -65), (103, 65)]
    assert bushes == sorted((-x, y) for x, y in pillars)
    assert bushes != pillars, "a die that is alike on both sides would prove nothing"


def test_the_offset_punch_lies_mirrored_in_the_upper_half_and_over_the_opening_in_the_die_plan():
    document = draw(a_die(), Style())[0].document
    assert extent(document, "DIE PLAN", "opening") == pytest.approx((12.5 - 30.1, -20.12, 12.5 + 30.1, 20.12))
    assert extent(document, "UPPER HALF TURNED OVER", "punch") == pytest.approx((-42.5, -20, 17.5, 20))


def test_a_halves_meet_when_the_upper_one_is_folded_back_on_the_lower_one():
    """Fold the turned plan about the hinge line again: every bush comes to lie on its pillar, punch in opening."""
    document = draw(a_die(pillar_offset=-6, punch_x=-9, punch_y=4), Style())[0].document
    folded = sorted((-x, y) for x, y in middles(document, "UPPER HALF TURNED OVER", "BUSH"))
    assert folded == middles(document, "DIE PLAN", "PILLAR")
    left, front, right, back = extent(document, "UPPER HALF TURNED OVER", "punch")
    opening = extent(document, "DIE PLAN", "opening")
    assert opening[0] < -right < -left < opening[2]
    assert opening[1] < front < back < opening[3]


def test_front_view_shows_the_die_closed():
    document = draw(a_die(), Style())[0].document
    assert extent(document, "FRONT VIEW", "die holder") == pytest.approx((-150, 0, 150, 40))
    assert extent(document, "FRONT VIEW", "punch holder") == pytest.approx((-130, 146, 130, 182))
    assert extent(document, "FRONT VIEW", "die plate") == pytest.approx((-75, 40, 75, 68))
    assert extent(document, "FRONT VIEW", "shank") == pytest.approx((-20, 182, 20, 242))
    assert extent(document, "FRONT VIEW", "pillars")[1::2] == pytest.approx((0, 170))


@pytest.mark.parametrize(("projection", "side"), [("first", -1), ("third", 1)])
def test_side_view_is_seen_from_the_left_in_first_angle_and_from_the_right_in_third(projection, side):
    """The shank stands 20 mm behind the middle, so it tells left from right."""
    document = draw(a_die(shank_y=20), Style(projection=projection))[0].document
    left, _, right, _ = extent(document, "SIDE VIEW", "shank")
    assert (left + right) / 2 == pytest.approx(side * 20)
    assert extent(document, "SIDE VIEW", "die holder") == pytest.approx((-100, 0, 100, 40))


def test_plan_stands_below_the_front_view_in_first_angle_and_above_it_in_third():
    for projection, below in (("first", True), ("third", False)):
        inserts = {i.dxf.name: i.dxf.insert for i in draw(a_die(), Style(projection=projection))[0].document
                   .modelspace().query("INSERT")}  # fmt: skip
        assert inserts["DIE PLAN"].x == pytest.approx(inserts["FRONT VIEW"].x)
        assert (inserts["DIE PLAN"].y < inserts["FRONT VIEW"].y) is below
        assert inserts["UPPER HALF TURNED OVER"].y == pytest.approx(inserts["DIE PLAN"].y)
        assert inserts["SIDE VIEW"].y == pytest.approx(inserts["FRONT VIEW"].y)


def test_section_is_open_by_the_stroke_at_the_left_and_closed_at_the_right():
    document = draw(a_die(), Style())[0].document
    lines = [line for line in document.blocks.get("SECTION").query("LINE") if line.dxf.layer == "punch holder"]
    left = [end.y for line in lines for end in (line.dxf.start, line.dxf.end) if end.x < -1]
    right = [end.y for line in lines for end in (line.dxf.start, line.dxf.end) if end.x > 1]
    assert (min(left), max(left)) == pytest.approx((146 + 90, 182 + 90))
    assert (min(right), max(right)) == pytest.approx((146, 182))


def test_section_has_the_spring_stripper_on_the_strip_when_closed_and_level_with_the_punch_when_open():
    document = draw(a_die(), Style())[0].document
    heights = {}
    for line in document.blocks.get("SECTION").query("LINE"):
        if line.dxf.layer == "stripper":
            for end in (line.dxf.start, line.dxf.end):
                heights.setdefault(end.x > 0, []).append(end.y)
    assert (min(heights[True]), max(heights[True])) == pytest.approx((70, 92))
    punch_face = 182 - 36 - 80
    assert (min(heights[False]), max(heights[False])) == pytest.approx((punch_face + 90, punch_face + 90 + 22))


def test_section_cuts_the_opening_out_of_the_die_plate():
    document = draw(a_die(), Style())[0].document
    uprights = {
        round(line.dxf.start.x, 3)
        for line in document.blocks.get("SECTION").query("LINE")
        if line.dxf.layer == "die plate" and line.dxf.start.x == line.dxf.end.x
    }
    assert {-75.0, 12.5 - 30.1, 12.5 + 30.1, 75.0} >= uprights >= {-75.0, 12.5 - 30.1}


@pytest.mark.parametrize(
    ("without", "words"),
    [
        (("die_width",), {"die holder width"}),
        (("pillar_length", "bush_height"), {"pillar length: not given", "bush height: not given"}),
        (("opening_length", "opening_width"), {"opening: not given"}),
        (("punch_length", "punch_width"), {"punch: not given"}),
        (("bush_diameter",), {"bushes: not given"}),
        (("strip_width",), {"strip: not given"}),
        (("feed_direction",), {"feed direction: not given"}),
        (("die_plate_thickness",), {"die plate: not given", "punch entry: not given"}),
        (("punch_height",), {"punch: not given", "punch entry: not given"}),
        (("pillar_spacing_width",), {"pillars: not given"}),
        (("shank_length",), {"shank length: not given"}),
        (("slot_depth",), {"flange slots: not given"}),
        (("stroke",), {"stroke"}),
    ],
)
def test_a_missing_dimension_is_not_given_in_the_view_and_listed(without, words):
    drawn = draw(a_die(*without), Style())[0]
    shown = texts(drawn.document)
    assert words <= set(shown)
    assert any(text.startswith("Not given: ") for text in shown)
    for name in without:
        if not name.startswith("pillar_spacing"):
            spoken = {"die_width": "die holder width"}.get(name, name.replace("_", " "))
            assert spoken in drawn.not_given
    if "pillar_spacing_width" in without:
        assert "pillar positions" in drawn.not_given


def test_a_complete_die_lacks_nothing():
    sheet, press = draw(a_die(), Style())
    assert (sheet.not_given, press.not_given, sheet.without_press) == ([], [], [])


def test_a_die_of_which_nothing_can_be_drawn_is_refused():
    with pytest.raises(Refused, match=r"no view can be drawn, not given: .*closed height"):
        draw(Die("D-9", {"thickness": 2.0}), Style())


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        (
            {"pillar_spacing_length": 260.0},
            "bush of pillar 1 reaches 151 mm from the middle, the punch holder only 130 mm",
        ),
        ({"punch_length": 61.0}, "the punch is 61 mm long, the opening only 60.2 mm"),
        ({"punch_width": 41.0}, "the punch is 41 mm wide, the opening only 40.24 mm"),
        (
            {"die_height": 150.0},
            "closed height 150 mm is below the sum of the plates 152 mm (die holder 40 mm + die plate 28 mm + "
            "strip 2 mm + stripper 22 mm + punch plate 24 mm + punch holder 36 mm)",
        ),
        (
            {"punch_entry": 5.0},
            "punch entry is stated as 5 mm; the heights of plates, punch and closed die make it 2 mm",
        ),
        (
            {"punch_height": 70.0},
            "the closed die leaves 8 mm between punch and die plate: the punch does not reach",
        ),
        ({"punch_height": 107.0}, "the punch enters by 29 mm, the die plate is only 28 mm thick"),
        ({"pillar_length": 183.0}, "pillars of 183 mm stand above the closed die of 182 mm"),
        (
            {"bush_height": 107.0},
            "bushes stand 107 mm below the punch holder, with 106 mm between the closed holders",
        ),
        ({"strip_width": 103.0}, "the strip of 103 mm runs 0.5 mm into pillar 1"),
        ({"slot_depth": 76.0}, "flange slots are 76 mm deep, the flange only 75 mm"),
        ({"slot_spacing": 190.0}, "flange slots reach over 208 mm, the die holder is 200 mm wide"),
        ({"bush_diameter": 28.0}, "the bush of 28 mm is not larger than the pillar of 28 mm"),
        ({"die_plate_length": 190.0, "die_plate_width": 120.0}, "pillar 1 reaches 9 mm into the die plate"),
        (
            {"opening_length": 151.0},
            "the opening of 151 mm left to right stands 13 mm over the die plate of 150 mm",
        ),
        (
            {"pillar_1_x": 1.0, "pillar_1_y": 1.0},
            "pillar positions are given twice: one by one, and by pillar spacing",
        ),
        ({"punch_diameter": 40.0}, "the punch is given twice: by its diameter, and by a length or an outline"),
        (
            {"feed_direction": "sideways"},
            "feed direction is none of: to the right, to the left, to the back, to the front",
        ),
        ({"pillars": 3.0}, "pillars must be 2 or 4, got 3"),
        ({"pillars": 2.0, "pillar_arrangement": "corners"}, "2 pillars are given and positions of 4"),
    ],
)
def test_contradictions_are_refused_with_their_figures(changed, sentence):
    with pytest.raises(Contradiction) as caught:
        draw(a_die(**changed), Style())
    assert sentence in caught.value.shown("metric")


@pytest.mark.parametrize(
    "changed",
    [
        {"pillar_spacing_length": 218.0, "pillar_offset": 0.0},  # the bush ends exactly at the edge
        {"punch_length": 60.2, "punch_width": 40.24},
        {"pillar_length": 182.0},
        {"bush_height": 106.0},
        {"strip_width": 102.0},
        {"slot_depth": 75.0},
        {"punch_height": 106.0},  # the punch enters by the whole die plate
        {"punch_height": 76.0},  # and stops exactly on the strip
        {"die_height": 152.0, "punch_height": 50.0, "pillar_length": 150.0},  # plates lie on one another
    ],
)
def test_figures_exactly_at_the_boundary_are_drawn(changed):
    kept = {"bush_height": 60.0} | changed
    assert draw(a_die(**kept), Style())


def test_contradictions_are_said_in_inches_where_inches_are_wanted():
    with pytest.raises(Contradiction) as caught:
        draw(a_die(pillar_length=203.2), Style("inch"))
    assert "pillars of 8 in stand above the closed die of 7.16536 in" in caught.value.shown("inch")


def test_a_setter_is_warned_of_pillars_that_leave_their_bushes_and_of_halves_that_fit_both_ways():
    warned = [str(note) for note in check(a_die(bush_height=40.0, pillar_offset=0.0))]
    assert "pillars leave the bushes by 26 mm at the top of the stroke" in warned
    assert "pillars stand alike from both sides: the upper half can be put on the wrong way round" in warned
    assert not check(a_die(bush_height=70.0))
    assert not check(a_die(pillar_offset=0.0, offset_pillar_diameter=25.0))
    exactly = check(a_die(bush_height=66.0))
    assert [str(note) for note in exactly] == ["pillars leave the bushes by 0 mm at the top of the stroke"]


def test_forces_are_rounded_up_and_margins_down():
    assert rounded_up(100_000.0, FORCE, "metric") == "100.0 kN"
    assert rounded_up(100_000.1, FORCE, "metric") == "100.1 kN"
    assert rounded_up(0.0900001, MASS, "metric") == "90.1 kg"
    assert rounded_down(0.009, LENGTH, "metric") == "0 mm"
    assert rounded_down(25.4 * 0.0019, LENGTH, "inch") == "0.001 in"
    assert rounded_down(1999.9, FORCE, "metric") == "1.9 kN"


def test_the_press_drawing_shows_the_die_at_its_height():
    press = draw(a_die(), Style())[1]
    shown = texts(press.document)
    assert {"let the slide down by 48 mm", "opening at the top 272 mm"} <= set(shown)
    die = extent(press.document, "DIE IN THE PRESS", "die holder")
    assert (die[1], die[3]) == pytest.approx((100, 140))
    top = extent(press.document, "DIE IN THE PRESS", "punch holder")[3]
    assert top == pytest.approx(330 - 48)


def test_without_the_press_there_is_one_drawing_and_the_reason():
    (sheet,) = draw(a_die("press_shut_height"), Style())
    assert sheet.without_press == ["press shut height"]


@pytest.mark.parametrize("projection", ["first", "third"])
def test_a_die_without_a_shank_has_none_in_its_views(projection):
    """A diameter of 0 says that there is none; it is no shank whose length is missing."""
    sheet = draw(a_die("shank_length", shank_diameter=0), Style(projection=projection))[0]
    assert not any("shank" in text for text in texts(sheet.document))
    assert not middles(sheet.document, "UPPER HALF TURNED OVER", "SHANK")


def test_the_scale_is_of_the_series_and_the_largest_that_fits():
    sheet = draw(a_die(), Style())[0]
    assert sheet.scale == 1 / 5
    assert sheet.sheet is A3
    assert draw(a_die(), Style(paper="A4"))[0].scale == 1 / 10
    assert draw(a_die(), Style(paper="A4"))[0].sheet is A4
    assert set(SCALES) == {10, 5, 2, 1, 1 / 2, 1 / 5, 1 / 10, 1 / 20, 1 / 50, 1 / 100}


def test_labels_keep_their_order_and_stay_above_the_title():
    placed = Placed(section(a_die(), "metric"), 1 / 20, A3)
    heights = [text.y for text in placed.texts]
    assert heights == sorted(heights, reverse=True)
    assert min(heights) >= placed.box[1] - 1e-9, "nothing is measured below a section"
    assert placed.texts[0].label.text == "punch holder 36"
