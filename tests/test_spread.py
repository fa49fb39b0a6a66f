"""What hangs on what: row intervals against a count cell by cell."""

import itertools
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pressfuncs.batch import spread
from pressfuncs.batch.book import Run
from pressfuncs.batch.formulas import Ref, Template, Token, parse
from pressfuncs.batch.spread import Dependents, Precedents, order, rows_that_see, split_runs

rows = st.integers(1, 12)
offsets = st.integers(-4, 4)


@st.composite
def refs(draw: st.DrawFn, column: int | None = None) -> Ref:
    fixed1, fixed2 = draw(st.booleans()), draw(st.booleans())
    first = draw(rows if fixed1 else offsets)
    last = draw(rows if fixed2 else offsets)
    number = column if column is not None else draw(st.integers(1, 4))
    return Ref(None, first, number, last, number, (fixed1, True, fixed2, True))


def run_of(column: int, first: int, last: int, *found: Ref) -> Run:
    return Run("S", column, first, last, Template(tuple(Token("OPERAND", "RANGE", "", ref) for ref in found)))


def seen(ref: Ref, row: int, column: int) -> set[int]:
    edges = (ref.row1 if ref.fixed[0] else row + ref.row1, ref.row2 if ref.fixed[2] else row + ref.row2)
    return set(range(min(edges), max(edges) + 1))


@given(refs(column=1), rows, st.integers(0, 8), rows, st.integers(0, 5))
def test_rows_that_see_is_what_counting_gives(ref: Ref, first: int, more: int, top: int, height: int) -> None:
    run = run_of(2, first + 4, first + 4 + more, ref)
    target = (top, top + height)
    counted = [row for row in run.rows if seen(ref, row, 2) & set(range(target[0], target[1] + 1))]
    found = rows_that_see(ref, run, target)
    if found is None:
        assert counted == []
    else:
        assert counted == list(range(found[0], found[1] + 1))


@st.composite
def books(draw: st.DrawFn) -> list[Run]:
    found = []
    for column in range(1, 5):
        first = draw(st.integers(5, 8))
        last = first + draw(st.integers(0, 6))
        found.append(run_of(column, first, last, *draw(st.lists(refs(), max_size=3))))
    return found


def closure(runs: list[Run], start: set[tuple[int, int]]) -> set[tuple[int, int]]:
    """Follow references cell by cell."""
    reached = set(start)
    while True:
        more = {
            (row, run.column)
            for run in runs
            for row in run.rows
            if (row, run.column) not in reached
            and run.template is not None
            and any((r, ref.column1) in reached for ref in run.template.refs for r in seen(ref, row, run.column))
        }
        if not more:
            return reached
        reached |= more


def dependents_by(heights: tuple[int, ...], runs: list[Run]) -> Dependents:
    """Return the index that keeps references of these heights apart."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(spread, "_HEIGHTS", heights)
        return Dependents(runs)


@pytest.mark.parametrize("heights", [spread._HEIGHTS, (1, 2, 4), ()])
@settings(max_examples=300)
@given(books(), st.integers(0, 3))
def test_spread_reaches_every_dependent_cell(heights: tuple[int, ...], runs: list[Run], number: int) -> None:
    seed = runs[number]
    reached = dependents_by(heights, runs).spread([(number, (seed.first, seed.last))])
    inside, outside = split_runs(runs, reached)
    got = {(row, run.column) for run in inside for row in run.rows}
    want = closure(runs, {(row, seed.column) for row in seed.rows})
    assert want <= got
    assert len(got) + sum(len(run.rows) for run in outside) == sum(len(run.rows) for run in runs)
    relative_only = all(
        run.template is None or all(not any(ref.fixed[::2]) for ref in run.template.refs) for run in runs
    )
    if relative_only and not any(number in Precedents(runs).of(run) for number, run in enumerate(runs)):
        assert got == want


@given(books())
def test_precedents_are_the_runs_whose_cells_are_met(runs: list[Run]) -> None:
    precedents = Precedents(runs)
    for run in runs:
        met = {
            number
            for number, other in enumerate(runs)
            for row in run.rows
            for ref in (run.template.refs if run.template else ())
            if ref.column1 == other.column and seen(ref, row, run.column) & set(other.rows)
        }
        assert met <= precedents.of(run)


@given(st.integers(1, 9).flatmap(lambda n: st.lists(st.sets(st.integers(0, n - 1)), min_size=n, max_size=n)))
def test_order_puts_what_is_needed_first(graph: list[set[int]]) -> None:
    groups = order(graph)
    assert sorted(itertools.chain(*groups)) == list(range(len(graph)))
    place = {node: number for number, group in enumerate(groups) for node in group}
    for node, needs in enumerate(graph):
        assert all(place[other] <= place[node] for other in needs)
    reach = [set(needs) for needs in graph]
    for _ in graph:
        for needs in reach:
            needs |= {further for near in list(needs) for further in reach[near]}
    for first, second in itertools.combinations(range(len(graph)), 2):
        together = second in reach[first] and first in reach[second]
        assert (place[first] == place[second]) == together


def test_thousands_of_runs_of_one_row_are_not_looked_at_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = 2000
    runs = [Run("Dies", 2, row, row, parse(f"$A${row}*2", row, 2)) for row in range(1, rows + 1)]
    runs += [
        Run("Dies", 3, row, row, parse(f"SUM($B${max(1, row - 9)}:$B${row})", row, 3)) for row in range(1, rows)
    ]
    dependents = Dependents(runs)
    looked = 0

    def counted(*given: Any) -> Any:
        nonlocal looked
        looked += 1
        return rows_that_see(*given)

    monkeypatch.setattr(spread, "rows_that_see", counted)
    reached = dependents.spread_from_cells(("Dies", row, 1) for row in range(1, rows + 1))
    assert len(reached) == len(runs)
    assert looked < 100 * rows
