"""From a register to the dies that are drawn: headings, units, presses, outlines, trouble."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import pytest
from drawn_dies import FIGURES, a_die, extent

from pressfuncs.batch.assignment.fields import fields, known_headings, plain
from pressfuncs.batch.refusals import Refused
from pressfuncs.drawing.die import PRESS_FIGURES, Contradiction, Die, read_dies, read_outlines
from pressfuncs.drawing.outline import Outline, circle, read_outline, rectangle
from pressfuncs.drawing.run import DEMO
from pressfuncs.drawing.sheets import Style, draw


def register(tmp_path: Path, text: str, name: str = "dies.csv") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_headings_as_people_write_them_and_units_from_heading_or_cell(tmp_path: Path):
    path = register(
        tmp_path,
        "Die no.;Die holder length [in];Lower width (mm);Closed height;Pillar dia\n"
        "A-1;12;200;8 in;25\nA-2;1/2 in;;182;\n",
    )
    first, second = read_dies(path).dies
    assert first.numbers == pytest.approx(
        {"die_length": 304.8, "die_width": 200, "die_height": 203.2, "pillar_diameter": 25}
    )
    assert second.numbers == pytest.approx({"die_length": 12.7, "die_height": 182})
    inch = read_dies(path, system="inch").dies[0].numbers
    assert inch["pillar_diameter"] == pytest.approx(635)
    assert inch["die_width"] == pytest.approx(200)


def test_a_heading_means_one_figure_only():
    meaning: dict[str, str] = {}
    for name, headings in known_headings("drawing").items():
        for heading in (name, *headings):
            assert meaning.setdefault(plain(heading), name) == name, heading


def test_every_figure_that_a_drawing_asks_for_is_a_field():
    assert set(FIGURES) <= set(fields("drawing"))
    assert set(PRESS_FIGURES) <= set(fields("drawing"))
    assert set(PRESS_FIGURES.values()) <= set(fields("press"))
    assert set(fields("die")) < set(fields("drawing")), "one register serves both assign and draw"


def test_figures_of_the_press_come_from_its_register_where_the_row_has_none(tmp_path: Path):
    dies = register(tmp_path, "Die,Press,Closed height,Stroke\nA,gf-1,180,55\nB,GF-1,180,\nC,other,180,\n")
    presses = register(tmp_path, "Press,Shut height,Adjustment,Bolster,Stroke\nGF-1,310,60,70,80\n", "presses.csv")
    a, b, c = read_dies(dies, presses=presses).dies
    assert (a.numbers["stroke"], a.numbers["press_shut_height"]) == (55, 310)
    assert (b.numbers["stroke"], b.numbers["press_bolster"]) == (80, 70)
    assert "press_shut_height" not in c.numbers


def test_bad_rows_are_set_aside_with_a_sentence_and_never_drawn(tmp_path: Path):
    read = read_dies(register(tmp_path, "Die,Die length,Die width\nA,300,200\nB,-5,200\nA,1,2\nC,3 kg,2\n"))
    assert [die.id for die in read.dies] == ["A"]
    assert len(read.troubles) == 3
    with pytest.raises(Refused, match=r"die B, row 3: .* must be greater than 0"):
        read.die("b")
    with pytest.raises(Refused, match='there is no die "Z"; the register holds A'):
        read.die("Z")


def test_a_file_without_dies_is_refused(tmp_path: Path):
    with pytest.raises(Refused, match="holds no die register"):
        read_dies(register(tmp_path, "a,b\n1,2\n"))


def test_the_demo_register_holds_sixty_dies_some_of_them_awkward():
    read = read_dies(DEMO)
    assert len(read.dies) == 60
    assert read.troubles == []
    offset = [die.id for die in read.dies if die.given("pillar_offset") == 8]
    assert offset == ["D-503"]
    assert sum("die_height" not in die.numbers for die in read.dies) == 2


def test_pillars_stand_where_the_register_says():
    def places(**changed: float | str) -> list[tuple[float, float]]:
        die = a_die("pillar_offset", **changed)
        return [(pillar.x, pillar.y) for pillar in die.pillars]

    assert places() == [(-95, -65), (95, -65), (95, 65), (-95, 65)]
    assert places(pillar_offset=8) == [(-95, -65), (95, -65), (103, 65), (-95, 65)]
    assert places(pillars=2) == places(pillar_arrangement="back") == [(95, 65), (-95, 65)]
    assert places(pillar_arrangement="middle") == [(95, 0), (-95, 0)]
    assert places(pillar_arrangement="diagonal", pillar_offset=5) == [(100, 65), (-95, -65)]
    odd = a_die(offset_pillar_diameter=30).pillars
    assert [pillar.diameter for pillar in odd] == [28, 28, 30, 28]


def test_punch_entry_and_height_follow_from_each_other():
    assert a_die().punch_entry == pytest.approx(2)
    assert a_die("punch_height", punch_entry=2).punch_height == pytest.approx(80)
    assert a_die("punch_height").punch_height is None
    assert a_die("die_height", punch_entry=3).punch_entry == 3


def drawing_of_outlines(path: Path, inches: bool = False) -> None:
    """Write a DXF with a stadium of lines and arcs, a plate of one polyline, a circle, and something open."""
    document = ezdxf.new()
    document.units = 1 if inches else 4
    k = 1 / 25.4 if inches else 1.0
    space = document.modelspace()

    def on(layer: str) -> dict[str, str]:
        return {"layer": layer}

    space.add_line((20 * k, -10 * k), (-20 * k, -10 * k), dxfattribs=on("PUNCH"))
    space.add_arc((20 * k, 0), 10 * k, -90, 90, dxfattribs=on("PUNCH"))
    space.add_line((-20 * k, 10 * k), (20 * k, 10 * k), dxfattribs=on("PUNCH"))
    space.add_arc((-20 * k, 0), 10 * k, 90, 270, dxfattribs=on("PUNCH"))
    corners = [(-60 * k, -40 * k), (60 * k, -40 * k), (60 * k, 40 * k), (-60 * k, 40 * k)]
    space.add_lwpolyline(corners, close=True, dxfattribs=on("Plate"))
    space.add_circle((5 * k, 0), 35 * k, dxfattribs=on("HOLE"))
    space.add_line((0, 0), (10 * k, 0), dxfattribs=on("OPEN"))
    space.add_line((10 * k, 0.5 * k), (0, 0), dxfattribs=on("OPEN"))
    document.saveas(path)


@pytest.mark.parametrize("inches", [False, True])
def test_outlines_are_read_from_layers_whatever_the_units_of_the_file(tmp_path: Path, inches: bool):
    path = tmp_path / "outlines.dxf"
    drawing_of_outlines(path, inches)
    punch = read_outline(path, "punch", 1.0)
    assert punch.box == pytest.approx((-30, -10, 30, 10), abs=0.005)
    assert punch.across(0.0) == [pytest.approx((-30, 30), abs=0.005)]
    hole = read_outline(path, "HOLE", 1.0)
    assert hole.radius == pytest.approx(35)
    assert hole.middle == pytest.approx((5, 0))
    assert read_outline(path, "plate", 1.0).length == pytest.approx(120)


def test_outlines_take_the_place_of_lengths_and_widths_in_the_drawing(tmp_path: Path):
    drawing_of_outlines(tmp_path / "outlines.dxf")
    without = ("punch_length", "punch_width", "punch_x", "opening_length", "opening_width")
    die = a_die(*without, outline_file="outlines.dxf", punch_layer="PUNCH", opening_layer="HOLE")
    read_outlines(die, tmp_path, "metric")
    drawn = draw(die, Style())[0]
    assert drawn.not_given == []
    assert extent(drawn.document, "UPPER HALF TURNED OVER", "punch") == pytest.approx((-30, -10, 30, 10), abs=0.01)
    assert extent(drawn.document, "DIE PLAN", "opening") == pytest.approx((-30, -35, 40, 35), abs=0.01)


def test_outlines_that_do_not_agree_with_the_register_are_refused(tmp_path: Path):
    drawing_of_outlines(tmp_path / "o.dxf")
    die = a_die(outline_file="o.dxf", punch_layer="PUNCH")
    with pytest.raises(Contradiction, match="punch width is 40 mm in the register and 20 mm on layer PUNCH"):
        read_outlines(die, tmp_path, "metric")


def test_a_punch_outline_that_runs_out_of_the_opening_is_refused(tmp_path: Path):
    """Each size of the square is below that of the circle; its corners still stand out."""
    die = Die("X", {"die_length": 200.0, "die_width": 200.0, "opening_diameter": 50.0})
    die.outlines["punch"] = rectangle(48.0, 48.0)
    with pytest.raises(Contradiction, match="the outline of the punch runs out of the outline of the opening"):
        draw(die, Style())


@pytest.mark.parametrize(
    ("file", "layer", "words"),
    [
        ("outlines.dxf", "OPEN", r"not one closed line: there is a gap of 0\.5 mm"),
        ("outlines.dxf", "none", 'has no lines on a layer "none"; its layers are HOLE, OPEN, PUNCH, Plate'),
        ("missing.dxf", "PUNCH", "cannot be read"),
        ("text.dxf", "PUNCH", "cannot be read|is no sound DXF file"),
    ],
)
def test_outlines_that_cannot_be_used_are_refused(tmp_path: Path, file: str, layer: str, words: str):
    drawing_of_outlines(tmp_path / "outlines.dxf")
    (tmp_path / "text.dxf").write_text("no drawing\n" * 5)
    with pytest.raises(Refused, match=words):
        read_outline(tmp_path / file, layer, 1.0)


def test_a_circle_is_as_wide_as_its_diameter_and_cut_where_it_is():
    round_one = circle(50.0, 10.0, -5.0)
    assert round_one.length == pytest.approx(50, abs=0.005)
    ((left, right),) = round_one.across(10.0)
    assert right - left == pytest.approx(2 * math.sqrt(25**2 - 15**2), abs=0.01)
    assert round_one.turned_over().middle == pytest.approx((-10, -5))
    assert Outline(rectangle(4, 2).points).holds((2.0, 1.0))
    assert not rectangle(4, 2).holds((2.1, 0.0))
