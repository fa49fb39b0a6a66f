"""The presses and the sheet materials of the die register: what is typed in, and what follows from it."""

from __future__ import annotations

from pressfuncs.build.templates.columns import Column
from pressfuncs.quantities import ENERGY, FORCE, LENGTH, MASS, PRESSURE, STRESS, STROKE_RATE, TORQUE

LENGTHS, FORCES, SHARE = "0.0", "#,##0.0", "0.00"
ABOVE_0, FROM_0, AT_MOST_1, FROM_0_TO_1 = (0.0, None), (0.0, 1e9), (0.0, 1.0), (0.0, 1.0)
DRIVES = '"crank top drive,crank underdrive,hydraulic"'
FRAMES = '"C-frame,straight side,column"'
_BASES = '"tensile strength,material table,certificate"'
CRANK_SIDE = 'IF(ISNUMBER(SEARCH("underdrive",[@Drive])),"under","top")'
LIMIT_NOTE = "Share of the capacity that may be used; blank: 0.8 in a closed frame, 0.6 in a C-frame."
IS_HYDRAULIC = 'ISNUMBER(SEARCH("hydraulic",{}))'


def needs(formula: str, *columns: str) -> str:
    """Return a formula that stays blank where one of the columns is: a check without its figures is not made."""
    blanks = ",".join(f'{column}=""' for column in columns)
    return f'IF(OR({blanks}),"",{formula})'


def length(
    name: str, group: str, field: str, between: tuple[float, float | None] = FROM_0, note: str = ""
) -> Column:
    """Return an input column of lengths."""
    width = max(8, min(11, 2 + max(map(len, name.split()))))
    return Column(name, group, width, LENGTHS, LENGTH, field=field, between=between, note=note)


def press_columns() -> list[Column]:
    """Return the columns of the press table."""
    return [*_press(), *_drives(), *_room(), *_limits(), *_follows()]


def _press() -> list[Column]:
    frame = "Press"
    return [
        Column("Press", frame, 10, field="press"),
        Column(
            *("Drive", frame, 17),
            field="drive",
            choices=DRIVES,
            note="An underdrive press has its crank below the bed: above its rated height it gives less.",
        ),
        Column("Frame", frame, 13, field="frame", choices=FRAMES),
        Column(
            *("Load limit", frame, 8, SHARE),
            unit="share",
            field="load_limit",
            between=AT_MOST_1,
            note=LIMIT_NOTE,
        ),
        Column("Force on the plate", frame, 10, "#,##0", FORCE, field="plate_force", between=ABOVE_0),
        length("Stroke", frame, "stroke", ABOVE_0),
        Column("Lowest rate", frame, 12, "0", STROKE_RATE, field="least_strokes", between=ABOVE_0),
        Column("Highest rate", frame, 12, "0", STROKE_RATE, field="most_strokes", between=ABOVE_0),
    ]


def _drives() -> list[Column]:
    crank, oil = "Mechanical presses", "Hydraulic presses"
    note = (
        "Height above the bottom of the stroke from which down the press gives the force on its plate. "
        "Plate or manual; never a guess."
    )
    return [
        length("Rated height", crank, "rated_height", ABOVE_0, note),
        length("Rod", crank, "rod", ABOVE_0),
        Column("Flywheel energy", crank, 10, "#,##0", ENERGY, field="flywheel_energy", between=ABOVE_0),
        Column("Slowdown", crank, 10, SHARE, unit="share", field="slowdown", between=AT_MOST_1),
        length("Bore of a cylinder", oil, "bore", ABOVE_0),
        Column("Pressure at the cylinder", oil, 11, "0", PRESSURE, field="pressure", between=ABOVE_0),
        Column("Cylinders", oil, 10, "0", field="cylinders", between=(1.0, 12.0), whole=True),
        Column("Efficiency", oil, 10, SHARE, unit="share", field="efficiency", between=AT_MOST_1),
    ]


def _room() -> list[Column]:
    room = "Room for the die"
    note = (
        "From the bed (not the bolster) to the slide, stroke down, adjustment up. On a hydraulic press: "
        "with the lower stop at its highest."
    )
    return [
        length("Shut height", room, "shut_height", ABOVE_0, note),
        length("Slide adjustment", room, "adjustment"),
        length("Bolster", room, "bolster"),
        length(
            "Spacers", room, "most_spacer", note="Most height of spacers and parallels that may go in; 0 for none."
        ),
        length("Bed length", room, "bed_length", ABOVE_0),
        length("Bed width", room, "bed_width", ABOVE_0),
        length("Clamping length", room, "clamping_length", note="Room for clamps at each end; 0 for none."),
        length("Clamping width", room, "clamping_width", note="Room for clamps at each side; 0 for none."),
        length("Slide length", room, "slide_length", ABOVE_0),
        length("Slide width", room, "slide_width", ABOVE_0),
        length(
            "Overhang", room, "overhang", note="How far the upper die may stand out over the slide on each side."
        ),
        length("Shank bore", room, "shank_bore", ABOVE_0),
    ]


def _limits() -> list[Column]:
    limits = "Limits of the maker"
    return [
        Column("Allowed moment", limits, 10, "#,##0", TORQUE, field="allowed_moment", between=ABOVE_0),
        Column(
            *("Snap-through limit", limits, 10, "#,##0", FORCE),
            field="snap_through",
            between=ABOVE_0,
            note="Reverse load that the press takes; blank: a tenth of the force on the plate.",
        ),
        Column("Max die weight", limits, 10, "#,##0", MASS, field="mass_limit", between=ABOVE_0),
        Column("Max upper weight", limits, 10, "#,##0", MASS, field="upper_mass_limit", between=ABOVE_0),
    ]


def _follows() -> list[Column]:
    capacity = "What follows"
    oil = "PF_HYDRAULIC_CAPACITY([@Bore of a cylinder],[@Pressure at the cylinder],[@Cylinders],[@Efficiency])"
    crank = "PF_MECHANICAL_CAPACITY([@Force on the plate],[@Rated height],[@Stroke],[@Rod],{height},[@Crank])"
    at = f'IF([@Drive kind]="hydraulic",MIN({oil},[@Force on the plate]),{crank})'
    limit = 'IF([@Frame]="",PF_LOAD_LIMIT(),PF_LOAD_LIMIT([@Frame]))'
    snap = "PF_SNAP_THROUGH_LIMIT([@Force on the plate])"
    return [
        Column(
            *("Drive kind", capacity, 12),
            formula=f'IF({IS_HYDRAULIC.format("[@Drive]")},"hydraulic","mechanical")',
        ),
        Column("Crank", capacity, 8, formula=f'IF([@Drive kind]="hydraulic","",{CRANK_SIDE})'),
        Column(
            "Limit used", capacity, 8, SHARE, unit="share", formula=f'IF([@Load limit]="",{limit},[@Load limit])'
        ),
        Column(
            *("Energy per stroke", capacity, 10, "#,##0", ENERGY),
            formula=needs("PF_USABLE_ENERGY([@Flywheel energy],[@Slowdown])", "[@Flywheel energy]", "[@Slowdown]"),
        ),
        Column(
            *("Reverse load limit", capacity, 10, "#,##0", FORCE),
            formula=f'IF([@Snap-through limit]="",{snap},[@Snap-through limit])',
        ),
        Column("At the bottom", capacity, 11, FORCES, FORCE, formula=at.format(height="0")),
        Column("At half stroke", capacity, 11, FORCES, FORCE, formula=at.format(height="[@Stroke]/2")),
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
        Column("Shear to tensile", sheet, 11, SHARE, unit="ratio", field="ratio", between=AT_MOST_1),
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
