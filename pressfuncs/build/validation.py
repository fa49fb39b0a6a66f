"""Generator of docs/validation.md: every golden case with what is published and what pressfuncs gives."""

from __future__ import annotations

from dataclasses import dataclass

from pressfuncs import units
from pressfuncs.build import cases, functions_index
from pressfuncs.build.cases import Case
from pressfuncs.edge.call import compute, read_call, result_kind, shown
from pressfuncs.errors import PressError
from pressfuncs.registry import FUNCTIONS

HEADER = """\
# Validation

Generated. Every golden case of [cases.csv](../tests/cases.csv): what the source says and what pressfuncs gives.
The tests run each case through the plain call, the edge, the command line and a recalculated workbook, and hold it
to its tolerance, which is as wide as the source rounds and no wider.

A case proves the arithmetic of a formula, and where its source is strong, the formula. It does not prove that the
formula fits your die: planning figures only, verify on the machine's plate and the maker's capacity curve.

## How far each case was checked
"""

NOISE = 1e-9
"""A relative deviation below this is the rounding of floats."""


@dataclass(frozen=True)
class Answer:
    """What pressfuncs gives for a case, and how far it is off, in words."""

    text: str
    deviation: str


def render() -> str:
    """Return the text of docs/validation.md."""
    functions_index.enter_all()
    chapters: dict[str, list[Case]] = {}
    for case in cases.read(Case):
        chapters.setdefault(case.spec.chapter, []).append(case)
    lines = [HEADER, "| status | what it means |", "|---|---|"]
    lines += [f"| {status} | {meaning} |" for status, meaning in cases.STATUSES.items()]
    lines += ["", "## Cases by chapter and status", "", *_summary(chapters)]
    lines += ["", "## Known traps", "", *_traps(chapters)]
    for chapter, those in chapters.items():
        lines += ["", f"## {chapter}", "", *_table(those)]
    return "\n".join(lines) + "\n"


def _summary(chapters: dict[str, list[Case]]) -> list[str]:
    """Return the table of counts; a function without any case is named below it."""
    headings = [*cases.STATUSES, "all", "of these refusals", "functions"]
    lines = [_row(["chapter", *headings]), _row(["---"] * (1 + len(headings)))]
    sums = [0] * len(headings)
    for chapter, those in chapters.items():
        counts = [sum(case.status == status for case in those) for status in cases.STATUSES]
        counts += [len(those), sum(case.error is not None for case in those), len({c.function for c in those})]
        sums = [one + other for one, other in zip(sums, counts, strict=True)]
        lines.append(_row([chapter, *map(str, counts)]))
    lines.append(_row(["**all**", *(f"**{number}**" for number in sums)]))
    tried = {case.function for those in chapters.values() for case in those}
    untried = sorted(set(FUNCTIONS) - tried)
    if untried:
        lines += ["", f"Without a case here: {', '.join(f'`{name}`' for name in untried)}."]
    return lines


def _traps(chapters: dict[str, list[Case]]) -> list[str]:
    """Return the table of cases with a wrong answer that is in print or in use."""
    lines = [
        "Wrong numbers that are in print, or that a usual slip gives. The tests fail if pressfuncs gives one.",
        "",
        _row(["case", "function", "wrong", "right", "pressfuncs", "source", "why"]),
        _row(["---"] * 7),
    ]
    for those in chapters.values():
        for case in those:
            if case.wrong:
                unit = f" {case.unit}" if case.unit else ""
                wrong, right, ours = case.wrong + unit, _expected(case), answer(case).text
                lines.append(_row([case.id, f"`{case.function}`", wrong, right, ours, case.source, case.note]))
    return lines


def _table(those: list[Case]) -> list[str]:
    lines = [
        _row(
            ["case", "function and arguments", "expected", "pressfuncs", "deviation", "status", "source", "note"]
        ),
        _row(["---"] * 8),
    ]
    for case in those:
        ours = answer(case)
        note = ". ".join(part for part in (f"trap: not {case.wrong}" if case.wrong else "", case.note) if part)
        asked = f"`{case.function}`: {case.arguments}" if case.arguments else f"`{case.function}`"
        lines.append(
            _row([case.id, asked, _expected(case), ours.text, ours.deviation, case.status, case.source, note])
        )
    return lines


def _expected(case: Case) -> str:
    if case.error is not None:
        return f"refused ({case.error.__name__})"
    return f"{case.expected} {case.unit}".rstrip()


def answer(case: Case) -> Answer:
    """Return what pressfuncs gives for a case; of a refusal the sentence."""
    try:
        system, values = read_call(case.spec, case.cells())
        result = compute(case.spec, values)
        value = shown(case.spec, result, values, system)
    except PressError as error:
        return Answer(f"refused: {error.sentence('metric')}", "")
    if case.spec.columns is not None:
        rows = [[f"{cell:.10g}" for cell in row] for row in value]
        wanted = [row.split(cases.SERIES.strip()) for row in case.expected.split(cases.ROWS.strip())]
        pairs = [pair for row, texts in zip(rows, wanted, strict=True) for pair in zip(row, texts, strict=True)]
        worst = max(_off(float(found), float(text)) for found, text in pairs)
        return Answer(cases.ROWS.join(cases.SERIES.join(row) for row in rows), _deviation(worst))
    if case.is_text:
        return Answer(value, "none" if value == case.expected else "another text")
    kind = result_kind(case.spec, values)
    found = value * kind.factor(system)
    if case.unit:
        found /= units.factor(case.unit, kind.dimension)
    off = _off(found, float(case.expected))
    digits = format(found + 0.0, ".7g")
    return Answer(f"{digits} {case.unit}".rstrip(), _deviation(off))


def _off(found: float, expected: float) -> float:
    """Return the relative deviation; the absolute one from an expected 0."""
    return abs(found - expected) / (abs(expected) or 1.0)


def _deviation(off: float) -> str:
    return "none" if off < NOISE else f"{off:.1e}"


def _row(cells: list[str]) -> str:
    return "| " + " | ".join(" ".join(cell.replace("|", "\\|").split()) for cell in cells) + " |"
