"""What is said after an assignment: a short table for people, plain data for programs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from pressfuncs._version import __version__
from pressfuncs.batch.assignment.ranking import STATUSES, Assignment, Pair, shown
from pressfuncs.batch.assignment.registers import Register
from pressfuncs.batch.report import CAUTION
from pressfuncs.functions._checks import CHECKS, NOT_SUITABLE
from pressfuncs.quantities import FORCE, PART_RATE

MOST = 12
"""Dies in the table for people; the workbook and JSON hold all."""


@dataclass(frozen=True)
class Best:
    """A die and the press that is ranked first for it; None where a figure is not known."""

    die: str
    press: str
    status: str
    utilisation: float | None
    parts_per_hour: float | None
    cost: float | None


def best(result: Assignment) -> Iterator[Best]:
    """Yield the best press of each die that has one."""
    for pair in result.ranked():
        if pair.rank == 1:
            yield Best(
                die=result.dies.ids[pair.die],
                press=result.presses.ids[pair.press],
                status=pair.status,
                utilisation=shown(pair.utilisation, 1.0),
                parts_per_hour=shown(pair.part_rate, PART_RATE.factor("metric")),
                cost=shown(pair.cost, 1.0),
            )


def dies_by_status(result: Assignment) -> dict[str, list[str]]:
    """Return the dies by the status of their best press."""
    found: dict[str, list[str]] = {status: [] for status in STATUSES}
    for i, die in enumerate(result.dies.ids):
        found[STATUSES[int(result.status[i].min())] if len(result.presses) else NOT_SUITABLE].append(die)
    return found


def summary(result: Assignment, most: int = MOST) -> Iterator[str]:
    """Yield a short table: the best press of each die, the dies that have none, and how much has problems."""
    by_status = dies_by_status(result)
    counts = ", ".join(f"{len(dies)} {status}" for status, dies in by_status.items())
    sizes = _number(len(result.dies), "die", "dies"), _number(len(result.presses), "press", "presses")
    yield f"{', '.join(sizes)}: {counts}"
    rows: list[tuple[str, ...]] = []
    for entry in best(result):
        if len(rows) == most:
            break
        rows.append(
            (
                *(entry.die, entry.press, entry.status),
                "" if entry.utilisation is None else f"{math.ceil(round(entry.utilisation * 100, 6))} %",
                "" if entry.parts_per_hour is None else f"{math.floor(round(entry.parts_per_hour, 6))}",
                "" if entry.cost is None else f"{math.ceil(round(entry.cost * 1e4, 6)) / 1e4:.4f}",
            )
        )
    if rows:
        yield from _aligned([("die", "best press", "status", "used", "parts/h", "cost a part"), *rows])
    more = sum(map(len, by_status.values())) - len(by_status[NOT_SUITABLE]) - len(rows)
    if more:
        yield f"and {more} more dies"
    without = by_status[NOT_SUITABLE]
    if without:
        yield f"no press takes: {', '.join(without[:most])}{' ...' if len(without) > most else ''}"
    for label, count in result.open_checks().items():
        yield f"not checked on the best press of {_number(count, 'die', 'dies')}: {label}"
    yield from result.profile.words("metric")
    troubles = len(result.dies.troubles) + len(result.presses.troubles)
    if troubles:
        yield f"{troubles} rows or columns have problems and are not used, or not fully: see the sheet Problems"


def notices(registers: Iterable[Register], most: int = MOST) -> Iterator[str]:
    """Yield what to know of the columns of the registers, a line a column: not used, not known, read from text."""
    lines = []
    for register in registers:
        name = f"{register.kind} register"
        for trouble in register.troubles:
            if trouble.place.startswith("column"):
                lines.append(f"{name}, {trouble.place}: {trouble.sentence}")
        for heading, near in register.unknown.items():
            if near:
                cure = f'if it is meant, write "{near}", or map the heading with --fields'
                lines.append(f'{name}, column "{heading}": not known and not used; nearest is "{near}": {cure}')
        for heading, (count, first) in register.as_text.items():
            cells = f"{count} numbers that are" if count > 1 else "a number that is"
            lines.append(f'{name}, column "{heading}": {cells} stored as text, first {first}, read as a number')
        without = [heading for heading, near in register.unknown.items() if not near]
        if without:
            lines.append(f"{name}, columns that no check knows: {', '.join(without)}")
    yield from lines[:most]
    if len(lines) > most:
        yield f"and {len(lines) - most} more, see the sheet Problems and the sheets as read"


def _number(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"


def _aligned(rows: list[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    for row in rows:
        left = [cell.ljust(width) for cell, width in zip(row[:3], widths)]
        right = [cell.rjust(width) for cell, width in zip(row[3:], widths[3:])]
        yield "  ".join(left + right).rstrip()


def as_dict(result: Assignment, system: str) -> dict[str, Any]:
    """Return the ranking, what fails and the problems as plain data, in shown units."""
    dies, presses = result.dies, result.presses
    found: dict[str, dict[str, Any]] = {die: {"die": die, "ranked": [], "failing": []} for die in dies.ids}
    for pair in result.ranked():
        found[dies.ids[pair.die]]["ranked"].append(_entry(result, pair, system))
    for pair in result.failing():
        found[dies.ids[pair.die]]["failing"].append(_entry(result, pair, system))
    return {
        "version": __version__,
        "units": {check.name: check.kind.unit(system) for check in CHECKS} | {"capacity": FORCE.unit(system)},
        "load_limits": dict(
            zip(presses.ids, (shown(limit, 1.0) for limit in result.supply["load_limit"].tolist()))
        ),
        "declared": result.profile.words(system),
        "caution": CAUTION,
        "dies": list(found.values()),
        "problems": [vars(trouble) for trouble in [*dies.troubles, *presses.troubles]],
    }


def _entry(result: Assignment, pair: Pair, system: str) -> dict[str, Any]:
    margins = {check.name: shown(margin, check.kind.factor(system)) for check, margin in zip(CHECKS, pair.margins)}
    return {
        "press": result.presses.ids[pair.press],
        "rank": pair.rank or None,
        "status": pair.status,
        "capacity": shown(pair.capacity, FORCE.factor(system)),
        "utilisation": shown(pair.utilisation, 1.0),
        "parts_per_hour": shown(pair.part_rate, PART_RATE.factor(system)),
        "cost": shown(pair.cost, 1.0),
        "margins": margins,
        "verdict": pair.verdict(system),
        "failing": [check.label for check in pair.failed],
        "not_checked": [check.label for check in pair.unchecked],
        "declared": [check.label for check in pair.declared],
        "not_applying": [check.label for check in pair.not_applying],
    }
