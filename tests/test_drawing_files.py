"""Drawings as files: the DXF measures what the register says, and every picture of it is sound and readable."""

from __future__ import annotations

import io
import re
import zlib
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pytest
from drawn_dies import a_die, extent, measurements, middles, reopened, texts
from drawn_marks import overlaps, segments, text_boxes
from PIL import Image

from pressfuncs.drawing.canvas import Stroke
from pressfuncs.drawing.die import Contradiction, Die, read_dies
from pressfuncs.drawing.pen import LAYERS
from pressfuncs.drawing.render import DOTS_PER_INCH, marks_of, rendered
from pressfuncs.drawing.run import DEMO
from pressfuncs.drawing.sheets import Drawn, Style, draw

WITHIN = 0.01  # mm
CONTRADICTORY = {"D-533", "D-538"}
STYLES = [Style(), Style(paper="A4"), Style("inch", "third")]


@cache
def demo_dies() -> list[Die]:
    return read_dies(DEMO).dies


def drawn_demo(style: Style, every: int = 1) -> list[tuple[Die, Drawn]]:
    """Return each or every so-many'th demo die with its drawings."""
    found = []
    for die in demo_dies()[::every]:
        if die.id in CONTRADICTORY:
            with pytest.raises(Contradiction):
                draw(die, style)
        else:
            found += [(die, drawn) for drawn in draw(die, style)]
    return found


@pytest.mark.parametrize("unit", ["metric", "inch"])
def test_dxf_read_back_measures_what_the_register_says(unit: str, tmp_path: Path):
    """Every demo die, from its file: outlines, positions and dimensions within 0.01 mm."""
    k = 1.0 if unit == "metric" else 25.4
    measured = 0
    for die, drawn in drawn_demo(Style(unit)):
        document = reopened(rendered(drawn, ".dxf"), tmp_path)
        assert document.units == (4 if unit == "metric" else 1)
        n = die.numbers
        expected = {}
        if drawn.name == "die sheet":
            for block, layer, names in (
                ("DIE PLAN", "die holder", ("die_length", "die_width")),
                ("DIE PLAN", "die plate", ("die_plate_length", "die_plate_width")),
                ("DIE PLAN", "opening", ("opening_length", "opening_width")),
                ("DIE PLAN", "opening", ("opening_diameter", "opening_diameter")),
                ("UPPER HALF TURNED OVER", "punch holder", ("upper_die_length", "upper_die_width")),
                ("UPPER HALF TURNED OVER", "punch", ("punch_length", "punch_width")),
                ("UPPER HALF TURNED OVER", "punch", ("punch_diameter", "punch_diameter")),
                ("FRONT VIEW", "die holder", ("die_length", "die_holder_thickness")),
                ("FRONT VIEW", "punch holder", ("upper_die_length", "punch_holder_thickness")),
                ("FRONT VIEW", "shank", ("shank_diameter", "shank_length")),
                ("SIDE VIEW", "die holder", ("die_width", "die_holder_thickness")),
            ):
                if all(name in n for name in names) and has_edges(document, block, layer):
                    left, bottom, right, top = extent(document, block, layer)
                    expected[block, layer, *names] = [(right - left, n[names[0]]), (top - bottom, n[names[1]])]
            places = [(p.x, p.y) for p in die.pillars if p.diameter is not None]
            if "die_width" in n:
                found = middles(document, "DIE PLAN", "PILLAR")
                expected["pillars"] = [
                    (a, b) for one, other in zip(sorted(found), sorted(places)) for a, b in zip(one, other)
                ]
                assert len(found) == len(places)
            if "die_height" in n and has_edges(document, "FRONT VIEW", "punch holder"):
                expected["closed"] = [(extent(document, "FRONT VIEW", "punch holder")[3], n["die_height"])]
        for pairs in expected.values():
            for found_size, size in pairs:
                assert found_size * k == pytest.approx(size, abs=WITHIN), (die.id, expected)
                measured += 1
        given = [*n.values(), n.get("stroke", 0.0) + n.get("die_height", 0.0), *spreads(die)]
        for size in measurements(document):
            assert min(abs(size * k - figure) for figure in given) <= WITHIN, (die.id, size * k)
            measured += 1
    assert measured > 1500


def has_edges(document, block: str, layer: str) -> bool:
    try:
        extent(document, block, layer)
    except ValueError:
        return False
    return True


def spreads(die: Die) -> list[float]:
    """Return how far apart pillars stand, along and across."""
    places = [(p.x, p.y) for p in die.pillars]
    return [abs(a[axis] - b[axis]) for a in places for b in places for axis in (0, 1)]


def test_dxf_has_no_faults_and_layers_and_blocks_have_trade_names(tmp_path: Path):
    blocks = set()
    for _, drawn in drawn_demo(Style()):
        document = reopened(rendered(drawn, ".dxf"), tmp_path)
        auditor = document.audit()
        assert (auditor.errors, auditor.fixes) == ([], [])
        assert {layer.dxf.name for layer in document.layers} - {"0", "Defpoints"} == {name for name, _ in LAYERS}
        named = [block.name for block in document.blocks if not block.name.startswith("*")]
        blocks |= {name for name in named if not name.startswith("_")}  # arrow heads
        used = {entity.dxf.layer for block in document.blocks for entity in block}
        assert used <= {"0", "Defpoints", *(name for name, _ in LAYERS)}
    trade = (
        r"(DIE PLAN|UPPER HALF TURNED OVER|FRONT VIEW|SIDE VIEW|SECTION|DIE IN THE PRESS|SHANK BEHIND|LOAD CENTRE)"
    )
    sheet = r"(SHEET FRAME|TITLE BLOCK|NOTES|PROJECTION SYMBOL)"
    parts = r"(PILLAR [\d.]+|BUSH ([\d.]+|not given)|FLANGE SLOT (LEFT|RIGHT))"
    assert blocks
    assert [name for name in blocks if not re.fullmatch(f"{trade}|{sheet}|{parts}", name)] == []


def test_kinds_of_line_follow_the_part(tmp_path: Path):
    document = reopened(rendered(draw(a_die(), Style())[0], ".dxf"), tmp_path)
    front = document.blocks.get("FRONT VIEW")
    assert {e.dxf.linetype for e in front if e.dxf.layer == "pillars"} == {"CONTINUOUS", "hidden edge"}
    assert {e.dxf.linetype for e in front if e.dxf.layer == "centre lines"} == {"centre line"}
    plan = document.blocks.get("DIE PLAN")
    assert {e.dxf.linetype for e in plan.query("LINE") if e.dxf.layer == "strip" and len(e.dxf.linetype) > 6} >= {
        "adjacent part"
    }
    wide = {e.dxf.lineweight for e in plan if e.dxf.layer == "die plate"}
    thin = {e.dxf.lineweight for e in plan if e.dxf.layer == "centre lines"}
    assert (wide, thin) == ({50}, {25})


@pytest.mark.parametrize("style", STYLES, ids=["auto", "A4", "inch"])
def test_no_text_is_crossed_overlapped_or_off_the_sheet(style: Style):
    drawings = drawn_demo(style, every=1 if style == Style() else 3)
    assert len(drawings) > 30
    for die, drawn in drawings:
        assert overlaps(drawn) == [], (die.id, drawn.name)


def test_the_overlap_check_finds_what_it_is_for():
    drawn = draw(a_die(), Style())[0]
    assert overlaps(drawn) == []
    box = text_boxes(marks_of(drawn))[0]
    k = 1 / drawn.scale
    drawn.document.modelspace().add_line(
        ((box[0] - 1) * k, (box[1] + 1) * k), ((box[2] + 1) * k, (box[3] - 1) * k)
    )
    assert overlaps(drawn) != []


@pytest.mark.parametrize("style", STYLES, ids=["auto", "A4", "inch"])
def test_dimensions_stay_readable_when_the_sheet_is_printed_on_a4(style: Style):
    for _, drawn in drawn_demo(style, every=3):
        shrunk = min(1.0, 297.0 / max(drawn.sheet.width, drawn.sheet.height))
        paper = drawn.scale * (1.0 if style.system == "metric" else 25.4)
        (height,) = {
            d.dxf.dimtxt * d.dxf.dimscale * paper
            for d in drawn.document.dimstyles
            if d.dxf.name == "shop dimension"
        }
        assert height * shrunk >= 2.47


def test_pdf_is_one_page_of_the_sheet_with_a_sound_table_of_places():
    drawn = draw(a_die(), Style())[0]
    data = rendered(drawn, ".pdf")
    assert data.startswith(b"%PDF-1.4")
    box = [float(word) for word in re.search(rb"/MediaBox \[(.*?)\]", data)[1].split()]
    assert box == pytest.approx([0, 0, 420 * 72 / 25.4, 297 * 72 / 25.4], abs=0.001)
    table = int(re.search(rb"startxref\n(\d+)", data)[1])
    places = [int(line[:10]) for line in data[table:].split(b"\n")[3:7]]
    assert [data[place : place + 7] for place in places] == [b"%d 0 obj" % number for number in (1, 2, 3, 4)]
    stream = re.search(rb"/Length (\d+).*?stream\n", data, re.DOTALL)
    content = zlib.decompress(data[stream.end() : stream.end() + int(stream[1])])
    assert content.count(b" S") + content.count(b" f") == len(marks_of(drawn))
    assert rendered(drawn, ".pdf") == data


def test_svg_is_well_formed_and_as_large_as_the_sheet():
    drawn = draw(a_die(), Style())[0]
    root = ElementTree.fromstring(rendered(drawn, ".svg"))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("420mm", "297mm", "0 0 420 297")
    paths = root.findall("{http://www.w3.org/2000/svg}path")
    assert len(paths) == len(marks_of(drawn))
    for path, mark in zip(paths, marks_of(drawn)):
        x, y = mark.steps[0][1][0]
        start = re.match(r"M([\d.-]+) ([\d.-]+)", path.get("d", ""))
        assert (float(start[1]), float(start[2])) == pytest.approx((x, 297 - y), abs=0.001), "y runs down in SVG"


def test_png_shows_the_lines_where_they_are():
    drawn = draw(a_die(), Style())[0]
    picture = Image.open(io.BytesIO(rendered(drawn, ".png")))
    k = DOTS_PER_INCH / 25.4
    assert picture.size == (round(420 * k), round(297 * k))
    seen = 0
    wide = [mark for mark in marks_of(drawn) if isinstance(mark, Stroke) and mark.width > 0.4]
    for x1, y1, x2, y2 in segments([mark for mark in wide if "c" not in dict(mark.steps)]):  # straight ones
        x, y = round((x1 + x2) / 2 * k), round((297 - (y1 + y2) / 2) * k)
        if 1 < x < picture.width - 2 and 1 < y < picture.height - 2:
            seen += 1
            assert min(picture.crop((x - 1, y - 1, x + 2, y + 2)).tobytes()) < 64
    assert seen > 50
    shades = picture.histogram()
    assert 0.005 < sum(shades[:128]) / sum(shades) < 0.1


def test_drawings_of_the_same_die_are_the_same():
    for suffix in (".svg", ".pdf", ".png"):
        assert len({rendered(draw(a_die(), Style())[0], suffix) for _ in range(2)}) == 1


def test_a_long_name_is_written_smaller_and_then_cut():
    shown = texts(draw(a_die(part="A cover with a very long name " * 6), Style())[0].document)
    assert any(text.startswith("A cover with") and text.endswith("…") for text in shown)
