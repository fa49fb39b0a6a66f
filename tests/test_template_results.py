"""The figures of the templates against plain functions and plain arithmetic, as they come and after changes."""

from __future__ import annotations

import math
from pathlib import Path

import openpyxl
import pytest
from forms import changed, filled
from openpyxl.utils import range_boundaries

from pressfuncs import functions
from pressfuncs.templates import template_path

KN, BAR, JOULE, HOUR, KG = 1e3, 0.1, 1e3, 3600.0, 1e-3


def test_press_capacity_gives_what_the_functions_give():
    form = filled("press_capacity")
    thickness, cut = form("Die: Sheet thickness"), form("Die: Cut length")
    force = functions.shearing_force(cut, thickness, form("Die: Shear strength"))
    force = functions.dull_edge_force(force, form("Die: Edge allowance"))
    forming, pads = form("Die: Forming force") * KN, form("Die: Pads and cushion") * KN
    springs = functions.stripping_force(force, form("Die: Stripping, of the cut")) + pads
    assert [form("Work of the die: Force", stage) for stage in range(3)] == pytest.approx(
        [force / KN, forming / KN, springs / KN]
    )
    begins = [
        form(f"Die: {what} above bottom")
        for what in ("Cutting begins", "Forming begins", "Springs and pads begin")
    ]
    demand = [force + springs, forming + springs, springs]
    assert [form("Work of the die: All that acts where it begins", stage) * KN for stage in range(3)] == (
        pytest.approx(demand)
    )
    energy = functions.cutting_energy(force, thickness, form("Die: Penetration"))
    energy += functions.drawing_energy(forming, begins[1], 1, 0) + functions.drawing_energy(
        springs, begins[2], 1, 0
    )
    for press in range(3):
        plate = form("Presses: Rated force", press) * KN
        limit = form("Presses: Load limit", press) or functions.load_limit(form("Presses: Frame", press))
        assert form("Result: Limit used", press) == limit
        if form("Presses: Drive", press) == "hydraulic":
            oil = functions.hydraulic_capacity(
                form("Presses: Bore", press),
                form("Presses: Pressure", press) * BAR,
                form("Presses: Cylinders", press),
                form("Presses: Efficiency", press),
            )
            capacities = [min(oil, plate)] * 3
        else:
            crank = [form(f"Presses: {name}", press) for name in ("Rated height", "Stroke", "Rod")]
            capacities = [functions.mechanical_capacity(plate, *crank, height) for height in begins]
            usable = functions.usable_energy(
                form("Presses: Flywheel energy", press) * JOULE, form("Presses: Slowdown", press)
            )
            usable *= (form("Die: Stroke rate") / form("Presses: Highest rate", press)) ** 2
            assert form("Result: Energy margin", press) * JOULE == pytest.approx(usable - energy)
        margin = min(capacity * limit - need for capacity, need in zip(capacities, demand))
        assert form("Result: Smallest force margin", press) * KN == pytest.approx(margin)
        assert form("Result: Force and energy", press).startswith("NO, force") == (margin < 0)


def test_a_press_that_is_strong_enough_on_its_plate_may_still_fail_where_the_die_works():
    form = filled("press_capacity")
    need = form("Work of the die: All that acts where it begins")
    assert form("Presses: Rated force") > need > form("Result: Capacity where cutting begins")
    assert form("Result: Force and energy") == "NO, force"


def test_the_demand_curve_has_the_corners_of_the_three_stages_and_the_curve_of_each_press_its_bend():
    form = filled("press_capacity")
    sheet = openpyxl.load_workbook(template_path("press_capacity.xlsx"), data_only=True)["Curves"]
    corners = [(sheet.cell(row, 3).value, sheet.cell(row, 4).value) for row in range(6, 18)]
    assert corners == sorted(corners, key=lambda corner: -corner[0])
    assert max(force for _, force in corners) == pytest.approx(
        form("Work of the die: All that acts where it begins")
    )
    assert corners[0][1] == corners[-1][1] == 0
    for press, column in enumerate((5, 7)):
        points = [(sheet.cell(row, column).value, sheet.cell(row, column + 1).value) for row in range(6, 46)]
        assert (points[1][0], points[1][1]) == pytest.approx(
            (
                form("Presses: Rated height", press),
                form("Presses: Rated force", press) * form("Result: Limit used", press),
            )
        )
        assert points[2][1] < points[1][1]
        assert [x for x, _ in points] == sorted(x for x, _ in points)


def test_a_press_column_may_stay_blank(tmp_path):
    form, outcome = changed(tmp_path, "press_capacity", {"Presses: Drive": None}, column=2)
    assert outcome.failing == []
    assert form("Result: Force and energy", 2) in (None, "")
    assert form("Result: Force and energy", 1) == "both enough"


@pytest.mark.parametrize("name", ["Die: Forming force", "Die: Pads and cushion", "Die: Slugs in the die"])
def test_a_blank_of_the_die_is_not_known_and_no_press_is_enough(tmp_path, name):
    form, _ = changed(tmp_path, "press_capacity", {name: None})
    assert {form("Result: Force and energy", press) for press in range(3)} == {"not known"}


def test_the_energy_of_a_crank_press_without_a_flywheel_is_not_known(tmp_path):
    form, outcome = changed(tmp_path, "press_capacity", {"Presses: Flywheel energy": None}, column=1)
    assert outcome.failing == []
    assert form("Result: Force and energy", 1) == "energy not known"


def test_an_underdrive_press_may_give_less_than_one_driven_from_the_top(tmp_path):
    top = filled("press_capacity")("Result: Capacity where cutting begins", 1)
    form, _ = changed(tmp_path, "press_capacity", {"Presses: Drive": "underdrive crank"}, column=1)
    assert form("Result: Capacity where cutting begins", 1) < 0.95 * top
    form, _ = changed(tmp_path, "press_capacity", {"Presses: Drive": "knuckle or link"}, column=1)
    assert form("Result: Force and energy", 1) == "not known"


def test_a_slide_that_never_comes_so_high_gives_nothing_there(tmp_path):
    form, outcome = changed(tmp_path, "press_capacity", {"Presses: Stroke": 40}, column=1)
    assert outcome.failing == []
    assert form("Result: Capacity where cutting begins", 1) == 0
    assert form("Result: Force and energy", 1) == "NO, force"


def test_strip_layout_gives_what_the_functions_give():
    form = filled("strip_layout")
    thickness, size, rows = (
        form("Blank and sheet: Sheet thickness"),
        form("Blank and sheet: Blank, across the strip"),
        3,
    )
    bridge = functions.bridge_width(thickness)
    pitch, width = functions.feed_pitch(80, bridge), functions.staggered_strip_width(80, bridge, bridge, rows, 0)
    area = functions.round_blank_area(80, 20)
    density = functions.material("DC01", "density")
    length = functions.coil_length(1300, 508, thickness, 1)
    gross = functions.gross_mass(pitch, width, thickness, density, rows)
    per_coil = functions.parts_per_coil(length, pitch, rows, 4000)
    expected = {
        "Strip: Bridge": bridge,
        "Strip: Pitch": pitch,
        "Strip: Strip width": width,
        "Strip: Area of the blank": area,
        "Strip: Utilisation of the strip": functions.strip_utilisation(area, pitch, width, rows),
        "Strip: Net mass of a blank": functions.blank_mass(area, thickness, density) / KG,
        "Strip: Gross mass of a blank": gross / KG,
        "Coils: Parts per coil": per_coil,
        "Coils: Coils needed": functions.coils_needed(60000, per_coil, 0.01),
        "Coils: Mass of a full coil": functions.coil_mass(1300, 508, width, density) / KG,
        "Coils: Strip to order": functions.mass_to_order(60000, gross, 0.01, 4000 / length) / KG,
    }
    assert size == 80
    assert {name: form(name) for name in expected} == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize(
    ("changes", "pitch", "width"),
    [
        ({"Layout: Layout": "straight rows", "Layout: Rows across the strip": 2}, 81.8, 2 * 80 + 3 * 1.8),
        ({"Layout: Bridge by rule": "own", "Layout: Own bridge": 3, "Layout: Rows across the strip": 1}, 83, 86),
        ({"Layout: Bridge by rule": "stepped", "Layout: Rows across the strip": 1}, 81.5, 83),
    ],
)
def test_other_layouts_have_the_pitch_and_width_that_arithmetic_gives(tmp_path, changes, pitch, width):
    form, outcome = changed(tmp_path, "strip_layout", changes)
    assert outcome.failing == []
    assert (form("Strip: Pitch"), form("Strip: Strip width")) == pytest.approx((pitch, width))


def drawing_points(path: Path, column: int) -> list[tuple[float, float]]:
    sheet = openpyxl.load_workbook(path, data_only=True)["Drawing"]
    line = (column - 7) // 4
    return [(sheet.cell(row, column).value, sheet.cell(row, 23 + line).value) for row in range(10, 39)]


def test_the_strip_is_drawn_to_scale_and_no_two_blanks_touch(tmp_path):
    path = template_path("strip_layout.xlsx")
    form = filled("strip_layout")
    scale = openpyxl.load_workbook(path, data_only=True)["Drawing"]["C7"].value
    blanks = [drawing_points(path, column) for column in range(7, 7 + 12)]
    centres = []
    for points in blanks:
        xs, ys = zip(*points)
        assert max(xs) - min(xs) == pytest.approx(80 * scale)
        assert max(ys) - min(ys) == pytest.approx(80 * scale)
        centres.append(((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2))
    gaps = [math.dist(a, b) / scale for i, a in enumerate(centres) for b in centres[:i]]
    assert min(gaps) == pytest.approx(80 + form("Strip: Bridge"))
    assert all(0 <= value <= 1 for points in blanks for point in points for value in point)


def test_a_blank_that_cannot_be_staggered_or_rounded_is_told(tmp_path):
    form, _ = changed(tmp_path, "strip_layout", {"Blank and sheet: Blank, across the strip": 90})
    assert form("Strip: Check") == "discs only"
    changes = {"Layout: Layout": "straight rows", "Blank and sheet: Radius of its corners": 41}
    form, _ = changed(tmp_path, "strip_layout", changes)
    assert form("Strip: Check") == "radius too large"


def test_quote_gives_what_the_functions_give_and_counts_scrap_once():
    form = filled("quote")
    scrap, lot = form("Press: Scrap, of the parts"), form("Tool, order and price: Lot size, good parts")
    density = functions.material("DC04", "density")
    gross = functions.gross_mass(96, 124, 1.2, density, 1)
    net = functions.blank_mass(8900, 1.2, density)
    material = functions.material_cost(gross, 1.1 / KG, net, 0.22 / KG)
    rate = functions.stroke_rate_throughput(50 / 60, 1, 0.72, 0)
    press = functions.press_cost(rate, 48 / HOUR, 34 / HOUR, 0.5)
    good = 1 - scrap
    setup = 1.5 * 90 / math.ceil(lot / good)
    tool = (21000 + math.ceil(200000 / 60000) * 450) / math.ceil(200000 / good)
    cost = (material + press + setup + tool + 0.03) / good
    assert form("One good part of the lot, money: Piece cost") == pytest.approx(cost)
    assert form("One good part of the lot, money: Price to quote") == pytest.approx(cost / 0.85)
    shares = ("Material", "Press and operators", "Setting up", "Tool", "Other", "Margin")
    assert sum(form(f"One good part of the lot, money: {share}") for share in shares) == pytest.approx(cost / 0.85)
    at = [
        form("Quantity breaks, money for one good part: Lot size, good parts", column) for column in range(6)
    ].index(lot)
    assert form("Quantity breaks, money for one good part: Price to quote", at) == pytest.approx(cost / 0.85)


def test_larger_lots_are_never_dearer_and_their_shares_add_up():
    form = filled("quote")
    prices = [form("Quantity breaks, money for one good part: Price to quote", column) for column in range(6)]
    assert prices == sorted(prices, reverse=True)
    for column, price in enumerate(prices):
        shares = ("Material and press", "Setting up", "Tool", "Other", "Margin")
        assert sum(
            form(f"Quantity breaks, money for one good part: {share}", column) for share in shares
        ) == pytest.approx(price)


def test_at_break_even_the_income_has_just_passed_the_cost():
    form = filled("quote")
    quantity = form("Break-even: Break-even")
    fixed, variable = form("Break-even: Tool and its upkeep"), form("Break-even: One more good part")
    price = form("One good part of the lot, money: Price to quote")
    assert (quantity - 1) * (price - variable) < fixed <= quantity * (price - variable)


def test_die_setup_gives_what_arithmetic_gives():
    form = filled("die_setup")
    left = 450 - 110 - 286
    forces, along = [48, 165, 60, 85, 60, 0], [-250, -150, -40, 60, 200, 0]
    across = [0, 40, -30, 15, 0, 0]
    x, y = (sum(f * place for f, place in zip(forces, places)) / sum(forces) for places in (along, across))
    expected = {
        "Height: Height margin": left,
        "Height: Adjustment margin": 90 - left,
        "Height: Let the slide down by": left,
        "Height: Opening at the top": 450 + 130 - 110 - left,
        "Height: Part clearance margin": 130 - 12 - 38 - 15,
        "Room and load: Bed margin": min(1300 - 640 - 120, 750 - 420 - 120),
        "Room and load: Slide margin": min(1200 - 600 - 120, 650 - 380 - 120),
        "Room and load: Sum of the forces": sum(forces),
        "Room and load: Load centre, to the right": x,
        "Room and load: Load centre, to the back": y,
        "Room and load: Best place, to the right": -x,
        "Room and load: Best place, to the back": -y,
        "Room and load: Moment margin, left to right": 60000 - sum(forces) * abs(x),
        "Room and load: Moment margin, front to back": 30000 - sum(forces) * abs(y),
    }
    assert {name: form(name) for name in expected} == pytest.approx(expected)
    assert form("Verdict and signatures: Verdict").startswith(
        "partly checked: 6 checks passed; not checked: force"
    )


@pytest.mark.parametrize(
    ("height", "fit", "down", "verdict"),
    [
        (340, "fits", 0, "partly checked"),
        (250, "fits", 90, "partly checked"),
        (341, "too tall by 1 mm", "does not close", "not suitable: closed height short by 1 mm"),
        (
            249,
            "too short",
            "does not close",
            "not suitable: slide adjustment and spacers short by 1 mm",
        ),
    ],
)
def test_a_die_exactly_as_high_as_the_press_fits_and_one_more_does_not(tmp_path, height, fit, down, verdict):
    form, outcome = changed(tmp_path, "die_setup", {"Die: Die height": height})
    assert outcome.failing == []
    assert form("Height: Let the slide down by") == down
    assert form("Height: Closed height").startswith(fit)
    assert form("Verdict and signatures: Verdict").startswith(verdict)


def test_what_was_checked_elsewhere_is_named_by_the_verdict_and_nothing_else_counts_as_checked(tmp_path):
    form, outcome = changed(
        tmp_path, "die_setup", {"Verdict and signatures: Checked elsewhere, by name": "force, mass"}
    )
    assert outcome.failing == []
    verdict = form("Verdict and signatures: Verdict")
    assert verdict.startswith("partly checked: 6 checks passed; not checked: working height")
    assert verdict.endswith("; declared, not checked: force at the working height, mass of the die")


def test_a_die_off_the_middle_has_less_room_and_loads_the_guides_from_another_place(tmp_path):
    middle = filled("die_setup")
    form, outcome = changed(tmp_path, "die_setup", {"In the press: Die moved to the right": 200})
    assert outcome.failing == []
    assert middle("Room and load: Bed margin") == 210
    assert form("Room and load: Bed margin") == 1300 - 400 - 640 - 120
    place = 200 + form("Room and load: Load centre, to the right")
    margin = 60000 - form("Room and load: Sum of the forces") * place
    assert form("Room and load: Moment margin, left to right") == pytest.approx(margin)


def test_stacks_of_the_press_and_of_the_die_in_it_are_equally_high():
    sheet = openpyxl.load_workbook(template_path("die_setup.xlsx"), data_only=True)["Drawing"]
    press, die = ([sheet.cell(row, column).value for column in range(2, 8)] for row in (6, 7))
    assert sum(press) == sum(die) == 450
    assert die[4] == 286


def test_press_register_gives_what_the_functions_give():
    formulas = openpyxl.load_workbook(template_path("press_register.xlsx"))
    values = openpyxl.load_workbook(template_path("press_register.xlsx"), data_only=True)["Presses"]
    c1, r1, c2, r2 = range_boundaries(formulas["Presses"].tables["Presses"].ref)
    headings = [values.cell(r1, column).value for column in range(c1, c2 + 1)]
    assert r2 - r1 == 8
    for row in range(r1 + 1, r2 + 1):
        press = dict(zip(headings, (values.cell(row, column).value for column in range(c1, c2 + 1))))
        plate, stroke = press["Rated force, kN"] * KN, press["Stroke, mm"]
        limit = press["Load limit, share"] or functions.load_limit(press["Frame"])
        assert press["Limit used, share"] == limit
        heights = {
            "At the bottom, kN": 0,
            "At a quarter of the stroke, kN": stroke / 4,
            "At half stroke, kN": stroke / 2,
        }
        for heading, height in heights.items():
            if press["Drive"] == "hydraulic":
                oil = functions.hydraulic_capacity(
                    press["Bore, mm"], press["Pressure, bar"] * BAR, press["Cylinders"], press["Efficiency, share"]
                )
                capacity = min(oil, plate)
            else:
                drive = "under" if press["Drive"] == "underdrive crank" else "top"
                capacity = functions.mechanical_capacity(
                    plate, press["Rated height, mm"], stroke, press["Rod, mm"], height, drive
                )
            assert press[heading] * KN == pytest.approx(capacity), press["Press"]
        assert press["Highest die, mm"] - press["Lowest die, no spacer, mm"] == press["Adjustment, mm"]
        reverse = press["Snap through, kN"] or plate * 0.1 / KN
        assert press["Reverse load limit, kN"] == pytest.approx(reverse)
