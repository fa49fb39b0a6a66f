"""The columns of the die register that follow: forces, energy, a margin for every check, and a verdict."""

from __future__ import annotations

from pressfuncs.build.templates.columns import Column, unless_blank
from pressfuncs.build.templates.press_columns import HYDRAULIC, capacity
from pressfuncs.functions._checks import CHECKS, NOT_SUITABLE, PARTLY, Check
from pressfuncs.quantities import DURATION, ENERGY, FORCE, LENGTH, PART_RATE, STRESS, STROKE_RATE

PAGES = ("Die height", "Press row", "Force margin", "Good parts")
"""Columns that begin a new page on paper."""

_LENGTH, _FORCE, _WHOLE = "0.0", "#,##0.0", "#,##0"
_MARGIN, _WHOLE_MARGIN = '+0.0;-0.0" !";0.0', '+#,##0;-#,##0" !";0'
_PENETRATION = 'IF([@Penetration]="",1,[@Penetration])'
_ONLY_CUTS = "AND([@Cut length]>0,[@Forming force]=0,[@Pad force]=0)"


def margin_name(check: Check) -> str:
    """Return the name of the column with the margin of a check."""
    return f"{check.name.replace('_', ' ').capitalize()} margin"


def result_in_words() -> str:
    """Return the formula of the short result, by the beginning of the verdict."""

    def begins(words: str) -> str:
        return f'LEFT([@Verdict],{len(words)})="{words}"'

    return (
        f'IF(ISERROR([@Verdict]),"ERROR",IF({begins(NOT_SUITABLE)},"NO, {NOT_SUITABLE}",'
        f'IF({begins(PARTLY)},"{PARTLY}","yes, on paper")))'
    )


def result_columns() -> list[Column]:
    """Return the columns that are looked up or computed."""
    return [*_looked_up(), *_force(), *_at_that_height(), *_margins(), *_output(), *_verdict()]


def _of_press(name: str) -> str:
    """Return the formula that fetches a figure of the assigned press."""
    return f"INDEX(Presses[{name}],[@Press row])"


def _looked_up() -> list[Column]:
    found = "Looked up"
    highest = _of_press("Highest rate")
    return [
        Column("Press row", found, 7, "0", looked_up=True, formula="MATCH([@Press],Presses[Press],0)"),
        Column("Drive kind", found, 17, looked_up=True, formula=f'{_of_press("Drive")}&""'),
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
            formula=unless_blank([highest], f"MIN([@Stroke rate],{highest})"),
        ),
    ]


def _force() -> list[Column]:
    group = "Force of the stroke"
    cut = "PF_DULL_EDGE_FORCE(PF_SHEARING_FORCE([@Cut length],[@Thickness],[@Shear strength]),"
    cut += 'IF([@Edge allowance]="",0.3,[@Edge allowance]))'
    cut = unless_blank(["[@Cut length]", "[@Thickness]", "[@Shear strength]"], f"IF([@Cut length]=0,0,{cut})")
    relieved = (
        f"PF_RELIEVED_SHEARING_FORCE([@Square edges],[@Thickness],{_PENETRATION},[@Shear height],[@Shear contour]"
    )
    sizes = ["[@Sheared length]", "[@Sheared width]"]
    of_rectangle = f'IF(OR({sizes[0]}="",{sizes[1]}=""),[@Square edges],{relieved},{",".join(sizes)}))'
    relieved = f'IF(LEFT([@Shear contour],9)="rectangle",{of_rectangle},{relieved}))'
    as_square = 'OR([@Square edges]=0,[@Shear height]=0,[@Shear contour]="")'
    parts = [
        f"[@{name}]"
        for name in ("Peak of the cut", "Stripping force", "Ejection force", "Forming force", "Pad force")
    ]
    whole = unless_blank(parts, f"PF_STROKE_FORCE({','.join(parts)})")
    limit = _of_press("Limit used")
    return [
        Column("Square edges", group, 10, _FORCE, FORCE, formula=cut),
        Column(
            "Peak of the cut",
            group,
            10,
            _FORCE,
            FORCE,
            formula=unless_blank(["[@Square edges]"], f"IF({as_square},[@Square edges],{relieved})"),
        ),
        Column("Stripping force", group, 10, _FORCE, FORCE, formula=_stripping()),
        Column("Ejection force", group, 10, _FORCE, FORCE, formula=_ejection()),
        Column("Whole stroke", group, 10, _FORCE, FORCE, formula=whole),
        Column(
            "Required capacity",
            group,
            10,
            _FORCE,
            FORCE,
            formula=unless_blank(["[@Whole stroke]"], f"PF_REQUIRED_CAPACITY([@Whole stroke],{limit})"),
        ),
    ]


def _stripping() -> str:
    """Return the formula of what the slide works against: a fixed stripper holds the strip on its way up only."""
    share = "IF([@Stripping]=0,0,PF_STRIPPING_FORCE([@Square edges],[@Stripping]))"
    share = unless_blank(["[@Square edges]", "[@Stripping]"], share)
    return f'IF(OR([@Stripper]="fixed",[@Stripper]="none",[@Square edges]=0),0,{share})'


def _ejection() -> str:
    share = "IF([@Ejection share]*[@Slugs]=0,0,PF_EJECTION_FORCE([@Square edges],[@Ejection share],[@Slugs]))"
    return f"IF([@Square edges]=0,0,{unless_blank(['[@Square edges]', '[@Ejection share]', '[@Slugs]'], share)})"


def _work(force: str) -> str:
    """Return the formula of the energy that a force takes from where the die begins to work down to the bottom."""
    return f"IF({force}*[@Force begins at]=0,0,PF_DRAWING_ENERGY({force},[@Force begins at],1,0))"


def _at_that_height() -> list[Column]:
    group = "Press at that height"
    # A die that forms as well begins to work where its maker says; the height is never guessed.
    by_cut = "[@Thickness]+[@Shear height]+[@Punch entry]"
    figures = ["[@Thickness]", "[@Punch entry]", "[@Forming force]", "[@Cut length]"]
    by_cut = unless_blank(figures, f'IF(OR([@Forming force]>0,[@Cut length]=0),"",{by_cut})')
    begins = f'IF([@Working height]="",{by_cut},[@Working height])'
    cutting = f"PF_CUTTING_ENERGY([@Square edges],[@Thickness],{_PENETRATION})"
    energy = (
        f"IF({_ONLY_CUTS},{cutting}+{_work('([@Stripping force]+[@Ejection force])')},{_work('[@Whole stroke]')})"
    )
    usable, lowest, highest = map(_of_press, ("Usable energy", "Lowest rate", "Highest rate"))
    slower = f"IF({lowest}>={highest},1,([@Rate run]/{highest})^2)"
    given = unless_blank([usable, lowest, "[@Rate run]"], f"{usable}*{slower}")
    return [
        Column(
            "Force begins at",
            group,
            10,
            _LENGTH,
            LENGTH,
            formula=begins,
        ),
        Column(
            "Capacity",
            group,
            10,
            _FORCE,
            FORCE,
            formula=unless_blank(["[@Force begins at]"], capacity(_of_press, "[@Force begins at]")),
        ),
        Column(
            "Utilisation",
            group,
            10,
            "0%",
            formula=unless_blank(
                ["[@Whole stroke]", "[@Capacity]"], "PF_UTILISATION([@Whole stroke],[@Capacity])"
            ),
        ),
        Column(
            "Energy at most",
            group,
            10,
            _WHOLE,
            ENERGY,
            formula=unless_blank(["[@Whole stroke]", "[@Force begins at]"], energy),
            note="What a die that only cuts takes. Of others: the whole force down to the bottom, which is more.",
        ),
        Column(
            "Energy of the press",
            group,
            10,
            _WHOLE,
            ENERGY,
            formula=f'IF([@Drive kind]="{HYDRAULIC}","",{given})',
            note="The energy of a flywheel goes with its speed squared.",
        ),
        Column("Closing", group, 27, formula=_closing(), wrapped=True),
    ]


def _closing() -> str:
    figures = ["[@Die height]", *map(_of_press, ("Shut height", "Adjustment", "Bolster"))]
    return unless_blank(figures, f"PF_CLOSED_HEIGHT_FIT({','.join(figures)},0)")


def _margin_formulas() -> dict[str, str]:
    """Return the formula of each check by its name; "" where a figure is missing or the check does not apply."""
    here = {
        name: f"[@{name}]" for name in ("Die height", "Whole stroke", "Capacity", "Force begins at", "Stroke rate")
    }
    die, whole, given, begins, rate = here.values()
    stroke, shut, bolster, bore = map(_of_press, ("Stroke", "Shut height", "Bolster", "Shank bore"))
    adjustment, spacer, lowest = map(_of_press, ("Adjustment", "Spacer", "Lowest rate"))
    limit, moment, reverse = map(_of_press, ("Limit used", "Allowed moment", "Reverse load limit"))
    heaviest, heaviest_upper, overhang = map(_of_press, ("Mass limit", "Upper mass limit", "Overhang"))
    bed = [*map(_of_press, ("Bed length", "Bed width")), "[@Lower length]", "[@Lower width]"]
    bed += map(_of_press, ("Clamping length", "Clamping width"))
    slide, upper = [*map(_of_press, ("Slide length", "Slide width"))], ["[@Upper length]", "[@Upper width]"]
    face = ",".join([*(f"{side}+2*{overhang}" for side in slide), *upper])
    room = ["[@Punch entry]", "[@Part height]", "[@Lift]"]
    opening = f"PF_PART_CLEARANCE_MARGIN({stroke},[@Punch entry]+[@Part height],[@Lift])"
    energy = ["[@Energy at most]", "[@Energy of the press]"]
    at_most = f"AND({energy[0]}>{energy[1]},NOT({_ONLY_CUTS}))"
    springs = "PF_SNAP_THROUGH_FORCE([@Peak of the cut],[@Reverse share])"
    drive = f'([@Kind wanted]="{HYDRAULIC}")=([@Drive kind]="{HYDRAULIC}")'
    centre = "[@Load centre]+0"  # Calc hands a bare cell that holds 0 on as it does a blank one
    formulas = {
        "force": ([whole, given, limit], f"PF_FORCE_MARGIN({whole},{given},{limit})"),
        "working_height": ([begins, stroke], f"{stroke}-{begins}"),
        "energy": (energy, f'IF({at_most},"",PF_ENERGY_MARGIN({",".join(energy)}))'),
        "snap_through": (
            ["[@Peak of the cut]", "[@Reverse share]", reverse],
            f'IF([@Peak of the cut]=0,"",{reverse}-{springs})',
        ),
        "closed_height": ([die, shut, bolster], f"PF_CLOSED_HEIGHT_MARGIN({die},{shut},{bolster},0)"),
        "adjustment": (
            [die, shut, adjustment, spacer, bolster],
            f"PF_ADJUSTMENT_MARGIN({die},{shut},{adjustment}+{spacer},{bolster},0)",
        ),
        "opening": ([stroke, *room], opening),
        "stroke": ([stroke, *room], f"{stroke}-MAX([@Stroke needed],{'+'.join(room)})"),
        "bed": (bed, f"PF_BED_MARGIN({','.join(bed)})"),
        "slide_face": ([*slide, *upper], f"PF_SLIDE_FACE_MARGIN({face},0,0)"),
        "off_centre": (
            [whole, "[@Load centre]", moment],
            f"PF_OFF_CENTRE_MARGIN({whole},{centre},{moment})",
        ),
        "mass": (["[@Die weight]", heaviest], f"{heaviest}-[@Die weight]"),
        "upper_mass": (["[@Upper weight]", heaviest_upper], f"{heaviest_upper}-[@Upper weight]"),
        "shank": (
            ["[@Shank diameter]", bore],
            f'IF([@Shank diameter]=0,"",PF_SHANK_MARGIN({bore},[@Shank diameter]))',
        ),
        "rate": ([rate, lowest], f"{rate}-{lowest}"),
        "kind": (["[@Kind wanted]", "[@Drive kind]"], f"IF({drive},0,-1)"),
    }
    return {name: unless_blank(*of) for name, of in formulas.items()}


def _margins() -> list[Column]:
    formulas = _margin_formulas()
    return [
        Column(
            margin_name(check),
            "Margins: what is left; ! less than 0",
            11,
            _MARGIN if check.kind in (LENGTH, FORCE) else _WHOLE_MARGIN,
            check.kind if check.kind.has_unit else None,
            formula=formulas[check.name],
        )
        for check in CHECKS
    ]


def _output() -> list[Column]:
    output = "Output"
    parts = ["[@Rate run]", "[@Parts per stroke]", "[@Efficiency]"]
    run = ["[@Quantity]", "[@Good parts]", "[@Setup]"]
    return [
        Column(
            "Good parts",
            output,
            9,
            _WHOLE,
            PART_RATE,
            formula=unless_blank(parts, f"PF_STROKE_RATE_THROUGHPUT({','.join(parts)},0)"),
        ),
        Column("Run", output, 9, "0.0", DURATION, formula=unless_blank(run, f"PF_RUN_TIME({','.join(run)},0,0)")),
    ]


def _verdict() -> list[Column]:
    group = "Verdict"
    # What a die and its press do not ask for is declared, and the verdict names it.
    asked_for = {
        "energy": f'[@Drive kind]="{HYDRAULIC}"',
        "snap_through": "[@Square edges]=0",
        "shank": 'AND([@Shank diameter]<>"",[@Shank diameter]=0)',
        "kind": '[@Kind wanted]=""',
    }
    names = "&".join(f'IF({test},"{name} ","")' for name, test in asked_for.items())
    declared = f'SUBSTITUTE(TRIM({names})," ",", ")'
    margins = ",".join(f"[@{margin_name(check)}]" for check in CHECKS)
    return [
        Column("Not asked for", group, 22, formula=declared, wrapped=True),
        Column("Verdict", group, 62, wrapped=True, formula=f"PF_PRESS_VERDICT({margins},[@Not asked for])"),
    ]
