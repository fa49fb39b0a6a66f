"""The columns of the die register's three tables: what is typed in, what is looked up, what is computed."""

from __future__ import annotations

from pressfuncs.build.templates.columns import Column
from pressfuncs.quantities import DURATION, FORCE, LENGTH, PART_RATE, PRESSURE, STRESS, STROKE_RATE

DIES, PRESSES, MATERIALS = "Dies", "Presses", "Materials"
FIRST_ROW = 4
"""Row of the band over each table; the headings are two rows below."""
DATA_ROW = FIRST_ROW + 3
LOAD_LIMIT = "Load_limit"
"""Name of the cell that holds the share of a capacity that may be used."""

_LENGTH, _FORCE, _SHARE, _WHOLE, _MARGIN = "0.0", "#,##0.0", "0.00", "#,##0", '+0.0;-0.0" !";0.0'
_ABOVE_0, _FROM_0, _AT_MOST_1 = (0.0, None), (0.0, 100_000.0), (0.0, 1.0)
_KINDS = '"gap frame,straight side,hydraulic"'
_OPERATIONS = '"blanking,piercing,compound,progressive,trimming,shearing off"'
_BASES = '"tensile strength,material table,certificate"'


def _below(sheet: str, letter: str, rows: int) -> str:
    """Return the range of a list to choose from: a column of another table."""
    return f"{sheet}!${letter}${DATA_ROW}:${letter}${DATA_ROW + rows - 1}"


def _of_press(name: str) -> str:
    """Return the formula that fetches a figure of the assigned press."""
    return f"INDEX(Presses[{name}],[@Press row])"


def press_columns() -> list[Column]:
    """Return the columns of the press table."""
    frame, crank, oil, room = "Press", "Mechanical presses", "Hydraulic presses", "Room for the die"
    hydraulic = (
        "PF_HYDRAULIC_CAPACITY([@Bore of a cylinder],[@Pressure at the cylinder],[@Cylinders],[@Efficiency])"
    )
    mechanical = "PF_MECHANICAL_CAPACITY([@Force on the plate],[@Rated height],[@Stroke],[@Rod],{height})"
    capacity = f'IF([@Kind]="hydraulic",MIN({hydraulic},[@Force on the plate]),{mechanical})'
    return [
        Column("Press", frame, 10, field="press"),
        Column("Kind", frame, 13, field="kind", choices=_KINDS),
        Column("Force on the plate", frame, 10, "#,##0", FORCE, field="plate_force", between=_ABOVE_0),
        Column("Stroke", frame, 8, _LENGTH, LENGTH, field="stroke", between=_ABOVE_0),
        Column("Highest rate", frame, 12, "0", STROKE_RATE, field="most_strokes", between=_ABOVE_0),
        Column(
            "Rated height",
            crank,
            9,
            _LENGTH,
            LENGTH,
            field="rated_height",
            between=_ABOVE_0,
            note="Height above the bottom of the stroke from which down the press gives the force on its plate. "
            "Plate or manual; never a guess.",
        ),
        Column("Rod", crank, 8, _LENGTH, LENGTH, field="rod", between=_ABOVE_0),
        Column("Bore of a cylinder", oil, 11, _LENGTH, LENGTH, field="bore", between=_ABOVE_0),
        Column("Pressure at the cylinder", oil, 11, "0", PRESSURE, field="pressure", between=_ABOVE_0),
        Column("Cylinders", oil, 10, "0", field="cylinders", between=(1.0, 12.0), whole=True),
        Column("Efficiency", oil, 10, _SHARE, unit="share", field="efficiency", between=_AT_MOST_1),
        Column(
            "Shut height",
            room,
            9,
            _LENGTH,
            LENGTH,
            field="shut_height",
            between=_ABOVE_0,
            note="From the bed (not the bolster) to the slide, stroke down, adjustment up. On a hydraulic press: "
            "with the lower stop at its highest.",
        ),
        Column("Slide adjustment", room, 11, _LENGTH, LENGTH, field="adjustment", between=_FROM_0),
        Column("Bolster", room, 9, _LENGTH, LENGTH, field="bolster", between=_FROM_0),
        Column("Bed length", room, 9, _LENGTH, LENGTH, field="bed_length", between=_ABOVE_0),
        Column("Bed width", room, 9, _LENGTH, LENGTH, field="bed_width", between=_ABOVE_0),
        Column("Slide length", room, 9, _LENGTH, LENGTH, field="slide_length", between=_ABOVE_0),
        Column("Slide width", room, 9, _LENGTH, LENGTH, field="slide_width", between=_ABOVE_0),
        Column("At the bottom", "Capacity", 11, _FORCE, FORCE, formula=capacity.format(height="0")),
        Column("At half stroke", "Capacity", 11, _FORCE, FORCE, formula=capacity.format(height="[@Stroke]/2")),
    ]


def material_columns() -> list[Column]:
    """Return the columns of the material table."""
    sheet, strength = "Material", "Strength"
    tensile = 'PF_MATERIAL([@Material],"tensile_strength")'
    table = 'PF_MATERIAL([@Material],"shear_strength")'
    estimated = "PF_SHEAR_STRENGTH_FROM_TENSILE([@Tensile strength],[@Shear to tensile])"
    figure = 'IF([@Taken from]="material table","shear_strength","tensile_strength")'
    return [
        Column("Material", sheet, 28, field="material"),
        Column("Taken from", sheet, 18, field="basis", choices=_BASES),
        Column("Shear to tensile", sheet, 11, _SHARE, unit="ratio", field="ratio", between=_AT_MOST_1),
        Column("Certified shear strength", sheet, 13, "0", STRESS, field="certificate", between=_ABOVE_0),
        Column(
            "Tensile strength",
            strength,
            12,
            "0",
            STRESS,
            formula=f'IF([@Taken from]="tensile strength",{tensile},"")',
        ),
        Column(
            "Shear strength",
            strength,
            12,
            "0",
            STRESS,
            formula=f'IF([@Taken from]="material table",{table},'
            f'IF([@Taken from]="tensile strength",{estimated},[@Certified shear strength]))',
        ),
        Column(
            "Source",
            strength,
            78,
            wrapped=True,
            formula='IF([@Taken from]="certificate","certificate of the coil",'
            f"PF_MATERIAL_SOURCE([@Material],{figure}))",
        ),
    ]


def die_columns(presses: int, materials: int) -> list[Column]:
    """Return the columns of the die table, which choose from so many presses and materials."""
    return [*_die_inputs(presses, materials), *_die_force(), *_die_room(), *_die_output()]


def _die_inputs(presses: int, materials: int) -> list[Column]:
    die, sheet, strip, size, run = "Die", "Sheet and cut", "Stripping", "Size of the die", "Press and run"
    begins = 'LEFT([@Verdict],{})="{}"'
    return [
        Column("Die", die, 8, field="die"),
        Column("Part", die, 21, field="part"),
        Column(
            "Result",
            die,
            16,
            formula=f'IF(ISERROR([@Verdict]),"ERROR",IF({begins.format(12, "not suitable")},'
            f'"NO, not suitable",IF({begins.format(6, "partly")},"partly checked","yes, on paper")))',
        ),
        Column("Operation", sheet, 12, field="operation", choices=_OPERATIONS),
        Column("Material", sheet, 25, field="material", choices=_below(MATERIALS, "A", materials)),
        Column("Thickness", sheet, 10, "0.00", LENGTH, field="thickness", between=_ABOVE_0),
        Column("Cut length", sheet, 10, _LENGTH, LENGTH, field="cut_length", between=_ABOVE_0),
        Column(
            "Penetration",
            sheet,
            11,
            _SHARE,
            unit="share",
            field="penetration",
            between=_AT_MOST_1,
            note="Share of the thickness at which the sheet breaks through; needed only where a relief is given.",
        ),
        Column("Shear relief", sheet, 9, _LENGTH, LENGTH, field="relief", between=_FROM_0),
        Column("Stripper", strip, 9, field="stripper", choices='"spring,fixed"'),
        Column("Stripping", strip, 10, _SHARE, unit="share", field="stripping_share", between=_AT_MOST_1),
        Column(
            "Punch entry",
            size,
            9,
            _LENGTH,
            LENGTH,
            field="punch_entry",
            between=_FROM_0,
            note="How far the last edge of the punch stands in the die at the bottom of the stroke. The cut "
            "begins above the bottom by this, the shear relief and the thickness.",
        ),
        Column(
            "Die height",
            size,
            9,
            _LENGTH,
            LENGTH,
            field="die_height",
            between=_ABOVE_0,
            note="Shut height of the die: top of the upper plate to bottom of the lower plate, die closed.",
        ),
        Column("Lower length", size, 9, _LENGTH, LENGTH, field="lower_length", between=_ABOVE_0),
        Column("Lower width", size, 9, _LENGTH, LENGTH, field="lower_width", between=_ABOVE_0),
        Column("Upper length", size, 9, _LENGTH, LENGTH, field="upper_length", between=_ABOVE_0),
        Column("Upper width", size, 9, _LENGTH, LENGTH, field="upper_width", between=_ABOVE_0),
        Column("Press", run, 10, field="press", choices=_below(PRESSES, "A", presses)),
        Column("Stroke rate", run, 12, "0", STROKE_RATE, field="stroke_rate", between=_ABOVE_0),
        Column("Parts per stroke", run, 8, "0.0", field="parts_per_stroke", between=_ABOVE_0),
        Column("Efficiency", run, 10, _SHARE, unit="share", field="efficiency", between=_AT_MOST_1),
        Column("Setup", run, 8, "0.0", DURATION, field="setup", between=_FROM_0),
        Column("Quantity", run, 10, _WHOLE, unit="parts", field="quantity", between=(1.0, 1e9), whole=True),
    ]


def _die_force() -> list[Column]:
    found, force, press = "Looked up", "Force of the stroke", "Press at that height"
    relieved = 'PF_RELIEVED_SHEARING_FORCE([@Square edges],[@Thickness],[@Penetration],[@Shear relief],"straight")'
    hydraulic = ",".join(
        map(_of_press, ("Bore of a cylinder", "Pressure at the cylinder", "Cylinders", "Efficiency"))
    )
    mechanical = ",".join(map(_of_press, ("Force on the plate", "Rated height", "Stroke", "Rod")))
    capacity = (
        f'IF([@Press kind]="hydraulic",MIN(PF_HYDRAULIC_CAPACITY({hydraulic}),{_of_press("Force on the plate")}),'
        f"PF_MECHANICAL_CAPACITY({mechanical},[@Cut begins at]))"
    )
    return [
        Column("Press row", found, 7, "0", looked_up=True, formula="MATCH([@Press],Presses[Press],0)"),
        Column("Press kind", found, 12, looked_up=True, formula=_of_press("Kind")),
        Column(
            "Shear strength",
            found,
            10,
            "0",
            STRESS,
            looked_up=True,
            formula="INDEX(Materials[Shear strength],MATCH([@Material],Materials[Material],0))",
        ),
        Column(
            "Rate run",
            found,
            12,
            "0",
            STROKE_RATE,
            looked_up=True,
            formula=f"MIN([@Stroke rate],{_of_press('Highest rate')})",
        ),
        Column(
            "Square edges",
            force,
            10,
            _FORCE,
            FORCE,
            formula="PF_SHEARING_FORCE([@Cut length],[@Thickness],[@Shear strength])",
        ),
        Column(
            "Peak of the cut",
            force,
            10,
            _FORCE,
            FORCE,
            formula=f'IF([@Shear relief]="",[@Square edges],{relieved})',
        ),
        Column(
            "Stripping force",
            force,
            10,
            _FORCE,
            FORCE,
            formula="PF_STRIPPING_FORCE([@Square edges],[@Stripping])",
        ),
        Column(
            "Whole stroke",
            force,
            10,
            _FORCE,
            FORCE,
            formula='PF_STROKE_FORCE([@Peak of the cut],IF([@Stripper]="spring",[@Stripping force],0),0,0,0)',
        ),
        Column(
            "Required capacity",
            force,
            10,
            _FORCE,
            FORCE,
            formula=f"PF_REQUIRED_CAPACITY([@Whole stroke],{LOAD_LIMIT})",
        ),
        Column("Cut begins at", press, 10, _LENGTH, LENGTH, formula="[@Thickness]+[@Shear relief]+[@Punch entry]"),
        Column("Capacity", press, 10, _FORCE, FORCE, formula=capacity),
        Column("Utilisation", press, 10, "0%", formula="PF_UTILISATION([@Whole stroke],[@Capacity])"),
        Column(
            "Force margin",
            press,
            11,
            _MARGIN,
            FORCE,
            formula=f"PF_FORCE_MARGIN([@Whole stroke],[@Capacity],{LOAD_LIMIT})",
        ),
    ]


def _die_room() -> list[Column]:
    room = "Room for the die"
    heights = f"[@Die height],{_of_press('Shut height')}"
    adjusted = f"{heights},{_of_press('Slide adjustment')},{_of_press('Bolster')},0"
    bed = f"{_of_press('Bed length')},{_of_press('Bed width')},[@Lower length],[@Lower width],0,0"
    slide = f"{_of_press('Slide length')},{_of_press('Slide width')},[@Upper length],[@Upper width],0,0"
    return [
        Column("Closed height", room, 27, formula=f"PF_CLOSED_HEIGHT_FIT({adjusted})", wrapped=True),
        Column(
            "Height margin",
            room,
            10,
            _MARGIN,
            LENGTH,
            formula=f"PF_CLOSED_HEIGHT_MARGIN({heights},{_of_press('Bolster')},0)",
        ),
        Column("Adjustment margin", room, 11, _MARGIN, LENGTH, formula=f"PF_ADJUSTMENT_MARGIN({adjusted})"),
        Column("Bed margin", room, 10, _MARGIN, LENGTH, formula=f"PF_BED_MARGIN({bed})"),
        Column("Slide margin", room, 10, _MARGIN, LENGTH, formula=f"PF_SLIDE_FACE_MARGIN({slide})"),
    ]


def _die_output() -> list[Column]:
    output = "Output"
    margins = "[@Force margin],,,,[@Height margin],[@Adjustment margin],,,[@Bed margin],[@Slide margin]"
    return [
        Column(
            "Good parts",
            output,
            9,
            _WHOLE,
            PART_RATE,
            formula="PF_STROKE_RATE_THROUGHPUT([@Rate run],[@Parts per stroke],[@Efficiency],0)",
        ),
        Column("Run", output, 9, "0.0", DURATION, formula="PF_RUN_TIME([@Quantity],[@Good parts],[@Setup],0,0)"),
        Column("Verdict", "Verdict", 58, wrapped=True, formula=f"PF_PRESS_VERDICT({margins})"),
    ]
