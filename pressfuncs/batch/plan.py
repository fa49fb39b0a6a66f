"""What is to be done with each formula: computed, compared, left alone, or not to be had; and in which order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

from pressfuncs.batch.book import Book, Cell, Run, Sheet
from pressfuncs.batch.comparison import Disagreement
from pressfuncs.batch.engine import Engine
from pressfuncs.batch.formulas import NotUnderstood, Template, Token, our_function
from pressfuncs.batch.hoist import Hoisted, Slots, hoist
from pressfuncs.batch.normalise import normalise_runs
from pressfuncs.batch.schedule import CIRCULAR, Plan, schedule
from pressfuncs.batch.spread import Dependents, Interval, Precedents, add_interval, intervals_of, split_runs
from pressfuncs.batch.tokens import XlToken
from pressfuncs.errors import CellError

VOLATILE = frozenset(("NOW", "TODAY", "RAND", "RANDBETWEEN", "RANDARRAY"))
_MOST_ASKED = 1000  # parts of a run that are asked about to find the rows that are in doubt
COMPUTED_REFERENCES = frozenset(("INDIRECT", "OFFSET"))


@dataclass
class Learned:
    """What only computing shows, kept for the next attempt."""

    failed: dict[Cell, str] = field(default_factory=dict)
    """cells that the engine could not compute, with the reason"""
    arrays: set[Cell] = field(default_factory=set)
    """cells with an argument that turned out to be more than one value"""
    areas: dict[Cell, tuple[int, int, int, int]] = field(default_factory=dict)
    """what dynamic array formulas fill now, by the cell that holds the formula"""
    distrusted: dict[Cell, Disagreement] = field(default_factory=dict)
    """ordinary formulas whose stored value the engine does not get, where that must be known from the start"""
    errors: dict[Cell, CellError] = field(default_factory=dict)
    """cells that are errors for certain, though they cannot be computed"""
    in_the_way: set[Cell] = field(default_factory=set)
    """cells that could not be computed, and were needed before those errors were known"""

    def __bool__(self) -> bool:
        """Whether anything was learned."""
        return bool(self.failed or self.arrays or self.areas or self.distrusted)

    def add(self, other: Learned) -> None:
        """Take in what another attempt showed."""
        self.failed.update(other.failed)
        self.arrays.update(other.arrays)
        self.areas.update(other.areas)
        self.distrusted.update(other.distrusted)


def make_plan(book: Book, engine: Engine, learned: Learned, everything: bool, by_columns: bool = False) -> Plan:
    """Sort the formulas of a workbook and put ours in order.

    Arguments:
        book: the workbook; its runs are normalised here
        engine: asked which functions it has
        learned: what earlier attempts showed
        everything: whether ordinary formulas are to be refreshed like ours
        by_columns: whether ordinary formulas are computed by columns, where they can be
    """
    runs = _without(_frozen_apart(normalise_runs(book), learned.failed), learned.errors)
    for run in runs:
        if run.dynamic and run.area is not None:
            run.area = _around(run.area, learned.areas.get((run.sheet, run.first, run.column)))
        _check(run, engine)
    while True:
        plan = _sort(book, runs, everything, learned, by_columns)
        troubles = _doubtful(plan, book, engine) or dict.fromkeys(schedule(plan), CIRCULAR)
        if not troubles:
            return plan
        runs = _frozen_apart(runs, troubles)


def _around(area: tuple[int, int, int, int], grown: tuple[int, int, int, int] | None) -> tuple[int, int, int, int]:
    """Return the area of a dynamic array before and after it changed its size."""
    return area if grown is None else (area[0], area[1], max(area[2], grown[2]), max(area[3], grown[3]))


def _doubtful(plan: Plan, book: Book, engine: Engine) -> dict[Cell, str]:
    """Return the cells that must be computed, and that the engine is known to get wrong."""
    found: dict[Cell, str] = {}
    known: dict[tuple[str, int, Template | None], str] = {}
    nothing = {name: Sheet(name, sheet.part, hidden_rows=sheet.hidden_rows) for name, sheet in book.sheets.items()}
    blank = replace(book, sheets=nothing)
    for run in [*plan.below, *(hoisted.run for hoisted in plan.ours), *plan.apart]:
        key = (run.sheet, run.column, run.template)
        if key in known:
            reason = known[key]
        else:
            reason = _doubt(run, book, engine)
            if run.template is None or not any(ref.rows_vary for ref in run.template.refs):
                known[key] = reason
        if reason:
            for part, why in _doubtful_rows(run, reason, book, blank, engine):
                found.update(dict.fromkeys(part.cells(), why))
    # Comparing shows a doubt, but not of a formula that may look elsewhere once ours are computed.
    loose = {cell for run in plan.loose for cell in run.cells()} if found else set()
    apart = {cell for run in plan.apart for cell in run.cells()} - loose if found else set()
    return {
        cell: reason
        for cell, reason in found.items()
        if cell not in apart or book.sheets[cell[0]].value(cell[1], cell[2]) is None
    }


def _doubt(run: Run, book: Book, engine: Engine) -> str:
    """Return why the engine is known to compute a formula otherwise than spreadsheets do; "" if it is not."""
    try:
        engine.doubt(run, book)
    except NotUnderstood as error:
        return str(error)
    return ""


def _doubtful_rows(run: Run, reason: str, book: Book, blank: Book, engine: Engine) -> Iterator[tuple[Run, str]]:
    """Yield the rows of a run that are in doubt: all of them, or those whose cells hold what is odd.

    `blank` is the book without values: what is in doubt there is so in every row.
    """
    ends = (run.first, (run.first + run.last) // 2, run.last)
    if _doubt(run, blank, engine) or all(_doubt(run.part(row, row), book, engine) for row in ends):
        yield run, reason
        return
    asked = 0
    waiting = [(run, reason)]
    while waiting:
        part, why = waiting.pop()
        if part.first == part.last or asked > _MOST_ASKED:
            yield part, why
            continue
        middle = (part.first + part.last) // 2
        for half in (part.part(middle + 1, part.last), part.part(part.first, middle)):
            asked += 1
            if why := _doubt(half, book, engine):
                waiting.append((half, why))


def _check(run: Run, engine: Engine) -> None:
    """Freeze a run that the engine cannot compute."""
    if run.frozen or run.template is None:
        return
    try:
        for token in run.template.tokens:
            if token.opens and our_function(token.text) is None and not engine.knows(token.text[:-1]):
                raise NotUnderstood(f"the engine does not have the function {token.text[:-1]}")
        hoisted = hoist(run, Slots())
        for template in hoisted.formulas:
            engine.check(engine.adapt(template).bind(run.column)(run.first))
        for ref in run.template.refs:
            ref.rectangle(run.first, run.column)
            ref.rectangle(run.last, run.column)
    except NotUnderstood as error:
        run.frozen = str(error)


def _frozen_apart(runs: list[Run], reasons: dict[Cell, str]) -> list[Run]:
    """Cut the cells with a reason out of their runs and freeze them."""
    if not reasons:
        return runs
    rows: dict[tuple[str, int], dict[int, str]] = defaultdict(dict)
    for (sheet, row, column), reason in reasons.items():
        rows[sheet, column][row] = reason
    result: list[Run] = []
    for run in runs:
        found = rows.get((run.sheet, run.column), {})
        hit = sorted(row for row in found if run.first <= row <= run.last)
        start = run.first
        for row in hit:
            if start < row:
                result.append(run.part(start, row - 1))
            single = run.part(row, row)
            single.frozen = single.frozen or found[row]
            result.append(single)
            start = row + 1
        if start <= run.last:
            result.append(run if start == run.first else run.part(start, run.last))
    return result


def _without(runs: list[Run], cells: Collection[Cell]) -> list[Run]:
    """Return the runs without some cells."""
    if not cells:
        return runs
    known = intervals_of(cells)
    result: list[Run] = []
    for run in runs:
        inside = [
            rows for rows in known.get((run.sheet, run.column), ()) if run.first <= rows[1] and rows[0] <= run.last
        ]
        edges = [(0, run.first - 1), *inside, (run.last + 1, 0)]
        result += [
            run.part(above[1] + 1, below[0] - 1) for above, below in pairwise(edges) if above[1] + 1 < below[0]
        ]
    return result


def _has_ours(run: Run) -> bool:
    return run.template is not None and run.template.has_ours


def has_computed_references(run: Run) -> bool:
    """Whether the formula refers to cells that only computing can tell."""
    return run.template is not None and bool(run.template.functions & COMPUTED_REFERENCES)


def _unsure(run: Run) -> bool:
    """Whether a formula may depend on ours, but does not say on which cells it depends."""
    if run.template is None:
        return run.area is None
    return has_computed_references(run) or any(_joins(token) for token in run.template.tokens)


def _joins(token: Token) -> bool:
    """Whether a token is, or ends in, the colon of a range with a computed end: A2:INDEX(...)."""
    if token.opens:
        return ":" in token.text and our_function(token.text) is None
    return ":" in token.text and "[" not in token.text and token.ref is None and token.subtype != XlToken.TEXT


def _unstored_array(book: Book, run: Run) -> bool:
    return run.area is not None and book.sheets[run.sheet].value(run.first, run.column) is None


def _sort(book: Book, runs: list[Run], everything: bool, learned: Learned, by_columns: bool) -> Plan:
    plan = Plan()
    whole = [(run.first, run.last) for run in runs]
    dependents = Dependents(runs)
    hindered = dependents.spread((i, whole[i]) for i, run in enumerate(runs) if run.frozen)
    due = [i for i, run in enumerate(runs) if everything or _has_ours(run)]
    if due:  # of these nobody can say what they hang on
        due += [i for i, run in enumerate(runs) if run.frozen and _unsure(run)]
    wanted = dependents.spread([*((i, whole[i]) for i in due), *dependents.of_cells(learned.errors)])
    if any(_overlap(hindered.get(i, []), rows) for i, rows in wanted.items()):
        # A computed reference may lead to a cell that is not refreshed.
        unsure = dependents.spread((i, whole[i]) for i, run in enumerate(runs) if has_computed_references(run))
        hindered, wanted = _united(hindered, unsure), _united(wanted, unsure)
    frozen_or_blocked, live = split_runs(runs, hindered)
    plan.frozen = [run for run in frozen_or_blocked if run.frozen]
    plan.blocked = [run for run in frozen_or_blocked if not run.frozen]
    plan.due = _due(frozen_or_blocked, runs, wanted)
    plan.needed = _needed(frozen_or_blocked, plan.due)

    dependents = Dependents(live)
    ours = [(i, (run.first, run.last)) for i, run in enumerate(live) if everything or _has_ours(run)]
    affected, rest = split_runs(live, dependents.spread([*ours, *dependents.of_cells(learned.errors)]))
    dependents = Dependents(rest)
    unstored, plan.apart = split_runs(
        rest,
        dependents.spread((i, (run.first, run.last)) for i, run in enumerate(rest) if _unstored_array(book, run)),
    )
    plan.unasked = unstored
    plan.apart = [part for run in plan.apart for part in _by_stored(book, run)]
    dependents = Dependents(plan.apart)
    plan.loose, _ = split_runs(
        plan.apart,
        dependents.spread(
            (i, (run.first, run.last)) for i, run in enumerate(plan.apart) if has_computed_references(run)
        ),
    )
    if by_columns and not any(has_computed_references(run) for run in live):  # those may look anywhere
        plan.sheets = frozenset(book.sheets)
    for run in [*affected, *unstored]:
        if _has_ours(run) or run.area is not None:
            plan.ours += _hoisted(run, plan, learned.arrays)
        elif plan.sheets is not None and (hoisted := hoist(run, plan.slots, sheets=plan.sheets)).direct:
            plan.ours.append(hoisted)
        else:
            plan.below.append(run)
    return plan


def _by_stored(book: Book, run: Run) -> list[Run]:
    """Cut a volatile run where the file begins or ends to store values: only those that it stores are kept."""
    if run.template is None or not run.template.functions & VOLATILE:
        return [run]
    stored = book.sheets[run.sheet].values.get(run.column, {})
    cuts = [row for row in run.rows if row == run.first or (row in stored) != (row - 1 in stored)]
    return [run.part(first, last - 1) for first, last in zip(cuts, [*cuts[1:], run.last + 1])]


def _overlap(some: list[Interval], others: list[Interval]) -> bool:
    return any(a[0] <= b[1] and b[0] <= a[1] for a in some for b in others)


def _united(some: dict[int, list[Interval]], more: dict[int, list[Interval]]) -> dict[int, list[Interval]]:
    """Return both sets of rows as one."""
    both = {number: list(rows) for number, rows in some.items()}
    for number, rows in more.items():
        for interval in rows:
            add_interval(both.setdefault(number, []), interval)
    return both


def _due(hindered: list[Run], runs: list[Run], wanted: dict[int, list[Interval]]) -> set[Cell]:
    """Return the hindered cells that ought to be refreshed."""
    if not hindered:
        return set()
    due_cells: set[Cell] = set()
    for run in split_runs(runs, wanted)[0]:
        due_cells.update(run.cells())
    return {cell for run in hindered for cell in run.cells() if cell in due_cells}


def _needed(hindered: list[Run], due: set[Cell]) -> set[Cell]:
    """Return the hindered cells that ought to be refreshed, and the frozen ones that stand in their way."""
    found = set(due)
    waiting = [i for i, run in enumerate(hindered) if any(cell in found for cell in run.cells())]
    precedents = Precedents(hindered)
    seen = set(waiting)
    while waiting:
        i = waiting.pop()
        found.update(hindered[i].cells())
        for other in precedents.of(hindered[i]) - seen:
            seen.add(other)
            waiting.append(other)
    return found


def _hoisted(run: Run, plan: Plan, arrays: set[Cell]) -> list[Hoisted]:
    """Hoist a run; row by row where it keeps an array on a scratch sheet."""
    many = bool(arrays) and any(cell in arrays for cell in run.cells())
    hoisted = hoist(run, plan.slots, many, plan.sheets)
    if hoisted.needs_single_row and run.first < run.last:
        return [hoist(run.part(row, row), plan.slots, many) for row in run.rows]
    return [hoisted]
