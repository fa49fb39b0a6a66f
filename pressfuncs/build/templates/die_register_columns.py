"""The columns of the die register's tables that are typed in, and those of its materials."""

from __future__ import annotations

from typing import get_args

from pressfuncs.build.templates.columns import Column
from pressfuncs.build.templates.die_register_results import result_columns, result_in_words
from pressfuncs.build.templates.press_columns import ABOVE_0, AT_MOST_1, DATA_ROW, FROM_0, PRESSES
from pressfuncs.functions.cutting_shear import ShearContour
from pressfuncs.quantities import DURATION, FORCE, LENGTH, MASS, STRESS, STROKE_RATE

DIES, MATERIALS = "Dies", "Materials"
_LENGTH, _FORCE, _SHARE = "0.0", "#,##0.0", "0.00"
_ANY = (-1e6, 1e6)
_OPERATIONS = '"blanking,piercing,compound,progressive,trimming,shearing off,forming"'
_BASES = '"tensile strength,material table,certificate"'
_CONTOURS = f'"{",".join(get_args(ShearContour))}"'


def _below(sheet: str, letter: str, rows: int) -> str:
    """Return the range of a list to choose from: a column of another table."""
    return f"{sheet}!${letter}${DATA_ROW}:${letter}${DATA_ROW + rows - 1}"


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
        Column("Shear to tensile", sheet, 11, _SHARE, unit="ratio", field="ratio", between=AT_MOST_1),
        Column("Certified shear strength", sheet, 13, "0", STRESS, field="certificate", between=ABOVE_0),
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
    return [*_die(), *_cut(materials), *_forces(), *_size(), *_run(presses), *result_columns()]


def _die() -> list[Column]:
    return [
        Column("Die", "Die", 8, field="die"),
        Column("Part", "Die", 21, field="part"),
        Column("Result", "Die", 16, formula=result_in_words()),
    ]


def _cut(materials: int) -> list[Column]:
    group = "Sheet and cut"
    return [
        Column("Operation", group, 12, field="operation", choices=_OPERATIONS),
        Column("Material", group, 25, field="material", choices=_below(MATERIALS, "A", materials)),
        Column("Thickness", group, 10, "0.00", LENGTH, field="thickness", between=ABOVE_0),
        Column(
            "Cut length",
            group,
            10,
            _LENGTH,
            LENGTH,
            field="cut_length",
            between=FROM_0,
            note="All edges cut in the same stroke, holes included; 0 for a die that cuts nothing.",
        ),
        Column(
            "Penetration",
            group,
            11,
            _SHARE,
            unit="share",
            field="penetration",
            between=AT_MOST_1,
            note="Share of the thickness at which the sheet breaks through, upper end; blank: 1, which takes most "
            "energy and lets shear lower the peak least.",
        ),
        Column(
            "Edge allowance",
            group,
            10,
            _SHARE,
            unit="share",
            field="edge_allowance",
            between=AT_MOST_1,
            note="Share by which worn edges raise the cutting force; blank: 0.3.",
        ),
        Column(
            "Shear height",
            group,
            9,
            _LENGTH,
            LENGTH,
            field="shear_height",
            between=FROM_0,
            note="How high the shear ground on punch or die rises: the cut begins that much higher.",
        ),
        Column(
            "Shear contour",
            group,
            18,
            field="shear_contour",
            choices=_CONTOURS,
            note="What is cut along the shear, and whether the shear rises one way or as a roof. Blank: the shear "
            "lowers nothing.",
        ),
        Column(
            "Sheared length",
            group,
            9,
            _LENGTH,
            LENGTH,
            field="sheared_length",
            between=ABOVE_0,
            note="Rectangle: the side along which the shear rises.",
        ),
        Column(
            "Sheared width",
            group,
            9,
            _LENGTH,
            LENGTH,
            field="sheared_width",
            between=ABOVE_0,
            note="Rectangle: the side across the shear.",
        ),
    ]


def _forces() -> list[Column]:
    group = "Other forces; 0 for none"
    return [
        Column("Stripper", group, 9, field="stripper", choices='"spring,fixed,none"'),
        Column("Stripping", group, 10, _SHARE, unit="share", field="stripping_share", between=AT_MOST_1),
        Column(
            "Ejection share",
            group,
            9,
            _SHARE,
            field="ejection_share",
            between=AT_MOST_1,
            note="Force to push one slug or blank through the die, as a share of the cutting force.",
        ),
        Column(
            "Slugs",
            group,
            7,
            "0",
            field="slugs",
            between=FROM_0,
            whole=True,
            note="Slugs or blanks that stand above each other in the land of the die; 0 if none stay there.",
        ),
        Column(
            "Forming force",
            group,
            9,
            _FORCE,
            FORCE,
            field="forming_force",
            between=FROM_0,
            note="Bends, draws, coining in the same stroke. With one, the working height must be given.",
        ),
        Column(
            "Pad force",
            group,
            9,
            _FORCE,
            FORCE,
            field="pad_force",
            between=FROM_0,
            note="Pads, springs, cushion and blank holders that the slide works against.",
        ),
        Column(
            "Working height",
            group,
            9,
            _LENGTH,
            LENGTH,
            field="working_height",
            between=FROM_0,
            note="Height above the bottom of the stroke where the force begins. Blank on a die that only cuts: "
            "thickness, punch entry and shear.",
        ),
        Column(
            "Reverse share",
            group,
            9,
            _SHARE,
            field="reverse_share",
            between=AT_MOST_1,
            note="Share of the cutting force that springs back when the sheet breaks, measured or estimated.",
        ),
    ]


def _size() -> list[Column]:
    group = "Size of the die"

    def length(name: str, field: str, between: tuple[float, float | None], note: str = "") -> Column:
        return Column(name, group, 9, _LENGTH, LENGTH, field=field, between=between, note=note)

    return [
        length(
            "Die height",
            "die_height",
            ABOVE_0,
            "Shut height of the die: top of the upper plate to bottom of the lower plate, die closed.",
        ),
        length("Lower length", "lower_length", ABOVE_0),
        length("Lower width", "lower_width", ABOVE_0),
        length("Upper length", "upper_length", ABOVE_0),
        length("Upper width", "upper_width", ABOVE_0),
        length(
            "Punch entry",
            "punch_entry",
            FROM_0,
            "How far the last edge of the punch stands in the die at the bottom of the stroke.",
        ),
        length("Part height", "part_height", FROM_0, "What must come out between the open halves."),
        length("Lift", "lift", FROM_0, "How far strip or part is lifted; 0 for none."),
        length(
            "Stroke needed",
            "stroke_needed",
            ABOVE_0,
            "Least stroke, if the die wants more than punch entry, part and lift together.",
        ),
        length("Load centre", "load_centre", _ANY, "From the middle of the die, left or right; 0: in the middle."),
        Column("Die weight", group, 8, "#,##0", MASS, field="mass", between=ABOVE_0),
        Column("Upper weight", group, 8, "#,##0", MASS, field="upper_mass", between=ABOVE_0),
        length("Shank diameter", "shank_diameter", FROM_0, "0 if it has none."),
    ]


def _run(presses: int) -> list[Column]:
    group = "Press and run"
    return [
        Column("Press", group, 10, field="press", choices=_below(PRESSES, "A", presses)),
        Column(
            "Kind wanted",
            group,
            12,
            field="kind_wanted",
            choices='"mechanical,hydraulic"',
            note="If only one will do; blank if either will.",
        ),
        Column("Stroke rate", group, 12, "0", STROKE_RATE, field="stroke_rate", between=ABOVE_0),
        Column("Parts per stroke", group, 8, "0.0", field="parts_per_stroke", between=ABOVE_0),
        Column("Efficiency", group, 10, _SHARE, unit="share", field="efficiency", between=AT_MOST_1),
        Column("Setup", group, 8, "0.0", DURATION, field="setup", between=FROM_0),
        Column("Quantity", group, 10, "#,##0", unit="parts", field="quantity", between=(1.0, 1e9), whole=True),
    ]
