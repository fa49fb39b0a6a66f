"""The dies of the die register: what is typed in, the force of the stroke, and a margin for every check."""

from __future__ import annotations

from pressfuncs.build.templates.columns import Column
from pressfuncs.build.templates.die_register_presses import (
    ABOVE_0,
    AT_MOST_1,
    FORCES,
    FROM_0,
    FROM_0_TO_1,
    LENGTHS,
    SHARE,
    length,
    needs,
)
from pressfuncs.functions._checks import CHECKS, Check
from pressfuncs.quantities import (
    DURATION,
    ENERGY,
    FORCE,
    LENGTH,
    MASS,
    NUMBER,
    PART_RATE,
    STRESS,
    STROKE_RATE,
)

DIES, PRESSES, MATERIALS = "Dies", "Presses", "Materials"
FIRST_ROW = 4
"""Row of the band over each table; the headings are two rows below."""
DATA_ROW = FIRST_ROW + 3

_OPERATIONS = '"blanking,piercing,compound,progressive,trimming,shearing off"'
_CONTOURS = '"any,straight,round one way,round roof"'
_DECIMALS = {LENGTH: "0.0", FORCE: "0.0", NUMBER: "0", STROKE_RATE: "0"}
_ANY = (-1e6, 1e6)
_ROOM = [check.name for check in CHECKS].index("bed")
_HEIGHTS = "Checks of force and height: what is left"
FIRST_OF_ROOM = CHECKS[_ROOM]
"""The check with which the second group of margins begins, on a page of its own."""


def _below(sheet: str, letter: str, rows: int) -> str:
    """Return the range of a list to choose from: a column of another table."""
    return f"{sheet}!${letter}${DATA_ROW}:${letter}${DATA_ROW + rows - 1}"


def _of_press(name: str) -> str:
    """Return the formula that fetches a figure of the assigned press."""
    return f"INDEX(Presses[{name}],[@Press row])"


def margin_name(check: Check) -> str:
    """Return the heading of a check's margin.

    >>> margin_name(CHECKS[0])
    'Force margin'
    """
    return f"{check.name.replace('_', ' ').capitalize()} margin"


def die_columns(presses: int, materials: int) -> list[Column]:
    """Return the columns of the die table, which choose from so many presses and materials."""
    return [
        *_die(),
        *_sheet(materials),
        *_other_forces(),
        *_size(),
        *_run(presses),
        *_looked_up(),
        *_force(),
        *_checks(),
        *_output(),
    ]


def _die() -> list[Column]:
    die, begins = "Die", 'LEFT([@Verdict],{})="{}"'
    return [
        Column("Die", die, 8, field="die"),
        Column("Part", die, 21, field="part"),
        Column(
            *("Result", die, 16),
            formula=f'IF(ISERROR([@Verdict]),"ERROR",IF({begins.format(12, "not suitable")},'
            f'"NO, not suitable",IF({begins.format(6, "partly")},"partly checked","yes, on paper")))',
        ),
    ]


def _sheet(materials: int) -> list[Column]:
    sheet = "Sheet and cut"
    return [
        Column("Operation", sheet, 12, field="operation", choices=_OPERATIONS),
        Column("Material", sheet, 25, field="material", choices=_below(MATERIALS, "A", materials)),
        Column("Thickness", sheet, 10, "0.00", LENGTH, field="thickness", between=ABOVE_0),
        length("Cut length", sheet, "cut_length", ABOVE_0),
        Column(
            *("Edge allowance", sheet, 10, SHARE),
            unit="share",
            field="edge_allowance",
            between=FROM_0_TO_1,
            note="Share by which worn edges raise the cutting force; blank: 0.3.",
        ),
        Column(
            *("Penetration", sheet, 11, SHARE),
            unit="share",
            field="penetration",
            between=AT_MOST_1,
            note="Share of the thickness at which the sheet breaks through; blank: all of it, the safe side.",
        ),
        length("Shear height", sheet, "shear_height", note="How high the shear ground on punch or die rises."),
        Column(
            *("Shear contour", sheet, 14),
            field="shear_contour",
            choices=_CONTOURS,
            note="What the shear rises over. Where it is blank, shear lowers nothing.",
        ),
        Column("Reverse share", sheet, 9, SHARE, unit="share", field="reverse_share", between=FROM_0_TO_1),
    ]


def _other_forces() -> list[Column]:
    other = "Other forces of the stroke, 0 for none"
    return [
        Column("Stripper", other, 9, field="stripper", choices='"spring,fixed,none"'),
        Column("Stripping share", other, 10, SHARE, unit="share", field="stripping_share", between=FROM_0_TO_1),
        Column("Ejection share", other, 9, SHARE, unit="share", field="ejection_share", between=FROM_0_TO_1),
        Column("Slugs in the die", other, 9, "0", field="slugs", between=(0.0, 100.0), whole=True),
        Column("Forming force", other, 9, FORCES, FORCE, field="forming_force", between=FROM_0),
        Column("Pad force", other, 9, FORCES, FORCE, field="pad_force", between=FROM_0),
    ]


def _size() -> list[Column]:
    size = "Size of the die"
    entry = (
        "How far the last edge of the punch stands in the die at the bottom of the stroke. The cut begins above "
        "the bottom by this, the shear height and the thickness."
    )
    height = "Shut height of the die: top of the upper plate to bottom of the lower plate, die closed."
    return [
        length("Punch entry", size, "punch_entry", note=entry),
        length("Die height", size, "die_height", ABOVE_0, height),
        length("Lower length", size, "lower_length", ABOVE_0),
        length("Lower width", size, "lower_width", ABOVE_0),
        length("Upper length", size, "upper_length", ABOVE_0),
        length("Upper width", size, "upper_width", ABOVE_0),
        length("Part height", size, "part_height"),
        length("Lift", size, "lift", note="How far strip or part is lifted to be fed or taken out; 0 for none."),
        length("Load centre", size, "load_centre", _ANY, "From the middle of the die; less than 0 to the left."),
        Column("Die weight", size, 8, "#,##0", MASS, field="mass", between=ABOVE_0),
        Column("Upper weight", size, 8, "#,##0", MASS, field="upper_mass", between=ABOVE_0),
        length("Shank", size, "shank", note="Diameter of the shank; 0 if the die has none."),
    ]


def _run(presses: int) -> list[Column]:
    run = "Press and run"
    return [
        Column("Press", run, 10, field="press", choices=_below(PRESSES, "A", presses)),
        Column(
            *("Kind wanted", run, 12),
            field="kind_wanted",
            choices='"hydraulic,mechanical"',
            note="Blank where the die runs on either.",
        ),
        Column("Stroke rate", run, 12, "0", STROKE_RATE, field="stroke_rate", between=ABOVE_0),
        Column("Parts per stroke", run, 8, "0.0", field="parts_per_stroke", between=ABOVE_0),
        Column("Efficiency", run, 10, SHARE, unit="share", field="efficiency", between=AT_MOST_1),
        Column("Setup", run, 8, "0.0", DURATION, field="setup", between=FROM_0),
        Column("Quantity", run, 10, "#,##0", unit="parts", field="quantity", between=(1.0, 1e9), whole=True),
    ]


def _looked_up() -> list[Column]:
    found = "Looked up"
    return [
        Column("Press row", found, 7, "0", looked_up=True, formula="MATCH([@Press],Presses[Press],0)"),
        Column("Drive kind", found, 12, looked_up=True, formula=_of_press("Drive kind")),
        Column("Limit used", found, 8, SHARE, unit="share", looked_up=True, formula=_of_press("Limit used")),
        Column(
            *("Energy of the press", found, 10, "#,##0", ENERGY),
            looked_up=True,
            formula=_of_press("Energy per stroke"),
        ),
        Column(
            *("Reverse load limit", found, 10, "#,##0", FORCE),
            looked_up=True,
            formula=_of_press("Reverse load limit"),
        ),
        Column(
            *("Shear strength", found, 10, "0", STRESS),
            looked_up=True,
            formula="INDEX(Materials[Shear strength],MATCH([@Material],Materials[Material],0))",
        ),
        Column(
            *("Rate run", found, 12, "0", STROKE_RATE),
            looked_up=True,
            formula=f"MIN([@Stroke rate],{_of_press('Highest rate')})",
        ),
    ]


def _force() -> list[Column]:
    force, press = "Force of the stroke", "Press at that height"
    sharp = "PF_SHEARING_FORCE([@Cut length],[@Thickness],[@Shear strength])"
    depth = 'IF([@Penetration]="",1,[@Penetration])'
    sheared = f"PF_RELIEVED_SHEARING_FORCE([@Square edges],[@Thickness],{depth},[@Shear height],[@Shear contour])"
    spring = needs("PF_STRIPPING_FORCE([@Square edges],[@Stripping share])", "[@Stripping share]")
    pushed = (
        "IF(OR([@Slugs in the die]=0,[@Ejection share]=0),0,"
        "PF_EJECTION_FORCE([@Square edges],[@Ejection share],[@Slugs in the die]))"
    )
    parts = ("[@Peak of the cut]", "[@Stripping force]", "[@Ejection force]", "[@Forming force]", "[@Pad force]")
    springs = "[@Stripping force]+[@Ejection force]"
    cut = f"PF_CUTTING_ENERGY([@Square edges],[@Thickness],{depth})"
    held = f"IF({springs}=0,0,PF_CUTTING_ENERGY({springs},[@Cut begins at],1))"
    whole = "PF_CUTTING_ENERGY([@Whole stroke],[@Cut begins at],1)"
    oil = ",".join(map(_of_press, ("Bore of a cylinder", "Pressure at the cylinder", "Cylinders", "Efficiency")))
    crank = ",".join(map(_of_press, ("Force on the plate", "Rated height", "Stroke", "Rod")))
    capacity = (
        f'IF([@Drive kind]="hydraulic",MIN(PF_HYDRAULIC_CAPACITY({oil}),{_of_press("Force on the plate")}),'
        f"PF_MECHANICAL_CAPACITY({crank},[@Cut begins at],{_of_press('Crank')}))"
    )
    return [
        Column(
            *("Square edges", force, 10, FORCES, FORCE),
            formula=f'PF_DULL_EDGE_FORCE({sharp},IF([@Edge allowance]="",0.3,[@Edge allowance]))',
        ),
        Column(
            *("Peak of the cut", force, 10, FORCES, FORCE),
            formula=f'IF([@Shear contour]="",[@Square edges],{sheared})',
        ),
        Column(
            *("Stripping force", force, 10, FORCES, FORCE),
            formula=f'IF([@Stripper]="","",IF([@Stripper]="spring",{spring},0))',
        ),
        Column(
            *("Ejection force", force, 10, FORCES, FORCE),
            formula=needs(pushed, "[@Slugs in the die]", "[@Ejection share]"),
        ),
        Column(
            *("Whole stroke", force, 10, FORCES, FORCE),
            formula=needs(f"PF_STROKE_FORCE({','.join(parts)})", *parts[1:]),
        ),
        Column(
            *("Required capacity", force, 10, FORCES, FORCE),
            formula=needs("PF_REQUIRED_CAPACITY([@Whole stroke],[@Limit used])", "[@Whole stroke]"),
        ),
        Column(
            *("Reverse load", force, 10, FORCES, FORCE),
            formula=needs("PF_SNAP_THROUGH_FORCE([@Peak of the cut],[@Reverse share])", "[@Reverse share]"),
        ),
        Column("Cut begins at", press, 10, LENGTHS, LENGTH, formula="[@Thickness]+[@Shear height]+[@Punch entry]"),
        Column(
            *("Energy per stroke", press, 10, "#,##0", ENERGY),
            formula=needs(f"IF([@Forming force]+[@Pad force]=0,{cut}+{held},{whole})", "[@Whole stroke]"),
        ),
        Column("Capacity", press, 10, FORCES, FORCE, formula=capacity),
        Column(
            *("Utilisation", press, 10, "0%"),
            formula=needs("PF_UTILISATION([@Whole stroke],[@Capacity])", "[@Whole stroke]"),
        ),
    ]


def _margins() -> dict[str, str]:
    """Return the formula of each check's margin; blank where a figure is, or where the check does not apply."""

    def less(most: str, wanted: str) -> str:
        return needs(f"{_of_press(most)}-{wanted}", _of_press(most), wanted)

    def of(function: str, *arguments: str) -> str:
        given = [argument for argument in arguments if argument != "0"]
        return needs(f"PF_{function}({','.join(arguments)})", *given)

    low, high = _of_press("Lowest rate"), _of_press("Highest rate")
    slower = f"IF({low}>={high},1,([@Rate run]/{high})^2)"
    energy = "[@Energy of the press]"
    room = ("[@Punch entry]", "[@Part height]", "[@Lift]")
    heights = ("[@Die height]", _of_press("Shut height"))
    clamps = (_of_press("Clamping length"), _of_press("Clamping width"))
    beds, lower = (_of_press("Bed length"), _of_press("Bed width")), ("[@Lower length]", "[@Lower width]")
    slides, overhang = (_of_press("Slide length"), _of_press("Slide width")), _of_press("Overhang")
    upper = ("[@Upper length]", "[@Upper width]")
    opening = f"PF_TOOL_OPENING({_of_press('Stroke')},[@Punch entry])"
    reach = f"{_of_press('Slide adjustment')}+{_of_press('Spacers')}"
    return {
        "force": of("FORCE_MARGIN", "[@Whole stroke]", "[@Capacity]", "[@Limit used]"),
        "working_height": less("Stroke", "[@Cut begins at]"),
        "energy": 'IF([@Drive kind]="hydraulic","",'
        + needs(f"PF_ENERGY_MARGIN([@Energy per stroke],{energy}*{slower})", "[@Energy per stroke]", energy, low)
        + ")",
        "snap_through": needs("[@Reverse load limit]-[@Reverse load]", "[@Reverse load limit]", "[@Reverse load]"),
        "closed_height": of("CLOSED_HEIGHT_MARGIN", *heights, _of_press("Bolster"), "0"),
        "adjustment": needs(
            f"PF_ADJUSTMENT_MARGIN({','.join(heights)},{reach},{_of_press('Bolster')},0)",
            *("[@Die height]", _of_press("Bolster"), _of_press("Spacers")),
        ),
        "opening": needs(f"PF_PART_CLEARANCE_MARGIN({opening},[@Part height],[@Lift])", *room),
        "stroke": needs(f"{_of_press('Stroke')}-({'+'.join(room)})", *room),
        "bed": of("BED_MARGIN", *beds, *lower, *clamps),
        "slide_face": needs(
            f"PF_SLIDE_FACE_MARGIN({'+2*{0},'.join(slides)}+2*{{0}},{','.join(upper)},0,0)".format(overhang),
            *(*slides, overhang, *upper),
        ),
        "off_centre": needs(
            f"PF_OFF_CENTRE_MARGIN([@Whole stroke],[@Load centre]+0,{_of_press('Allowed moment')})",
            *("[@Whole stroke]", "[@Load centre]", _of_press("Allowed moment")),
        ),
        "mass": less("Max die weight", "[@Die weight]"),
        "upper_mass": less("Max upper weight", "[@Upper weight]"),
        "shank": 'IF([@Shank]=0,"",' + of("SHANK_MARGIN", _of_press("Shank bore"), "[@Shank]") + ")",
        "rate": needs(f"[@Stroke rate]-{low}", "[@Stroke rate]", low),
        "kind": 'IF(OR([@Kind wanted]="",[@Kind wanted]=[@Drive kind]),0,-1)',  # blank: either will do
    }


def _checks() -> list[Column]:
    formulas = _margins()
    columns = []
    for check in CHECKS:
        decimals = _DECIMALS.get(check.kind, "#,##0")
        shown = f'+{decimals};-{decimals}" !";{decimals}'
        kind = None if check.kind is NUMBER else check.kind
        group = _HEIGHTS if CHECKS.index(check) < _ROOM else "Checks of room, load and run: what is left"
        columns.append(Column(margin_name(check), group, 11, shown, kind, formula=formulas[check.name]))
    return columns


def _output() -> list[Column]:
    output = "Output"
    margins = ",".join(f"[@{margin_name(check)}]" for check in CHECKS)
    declared = 'IF([@Drive kind]="hydraulic","energy,","")&IF(AND([@Shank]<>"",[@Shank]=0),"shank","")'
    return [
        Column(
            *("Good parts", output, 9, "#,##0", PART_RATE),
            formula="PF_STROKE_RATE_THROUGHPUT([@Rate run],[@Parts per stroke],[@Efficiency],0)",
        ),
        Column("Run", output, 9, "0.0", DURATION, formula="PF_RUN_TIME([@Quantity],[@Good parts],[@Setup],0,0)"),
        Column("Verdict", "Verdict", 78, wrapped=True, formula=f"PF_PRESS_VERDICT({margins},{declared})"),
    ]
