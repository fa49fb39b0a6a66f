"""What hangs on what: from some cells to all cells that depend on them, and the order to compute in.

Works on runs and row intervals, not on cells, so that a filled-down column costs as much as one cell.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator
from operator import itemgetter

from pressfuncs.batch.book import Cell, Run
from pressfuncs.batch.formulas import LAST_ROW, Ref

Interval = tuple[int, int]
Place = tuple[str, int]
"""A column of a sheet."""
_HEIGHTS = (1, 16, 256, 4096)  # rows that references touch, by which they are kept apart
_WIDE = 64  # references over more columns than this are kept in one list a sheet


def covered(run: Run) -> tuple[int, int, int, int]:
    """Return the rectangle of cells whose values a run gives: row1, column1, row2, column2."""
    return run.area if run.area is not None else (run.first, run.column, run.last, run.column)


def rows_that_see(ref: Ref, run: Run, target: Interval) -> Interval | None:
    """Return the rows of a run whose reference meets the target rows (columns are the caller's care)."""
    low, high = run.first, run.last
    top, bottom = (ref.row1, ref.fixed[0]), (ref.row2, ref.fixed[2])
    if top[1] == bottom[1]:
        first, last = sorted((top[0], bottom[0]))
        if not top[1]:
            low, high = max(low, target[0] - last), min(high, target[1] - first)
        elif first > target[1] or last < target[0]:
            return None
    else:  # $A$1:A5 or A5:$A$9: grows or shrinks with the row, from the fixed edge
        fixed, offset = (top[0], bottom[0]) if top[1] else (bottom[0], top[0])
        if fixed < target[0]:
            low = max(low, target[0] - offset)
        elif fixed > target[1]:
            high = min(high, target[1] - offset)
    return (low, high) if low <= high else None


def columns_of(ref: Ref, run: Run) -> Interval:
    """Return the first and last column of a reference as seen from a run."""
    c1 = ref.column1 if ref.fixed[1] else run.column + ref.column1
    c2 = ref.column2 if ref.fixed[3] else run.column + ref.column2
    return (c1, c2) if c1 <= c2 else (c2, c1)


def rows_of(ref: Ref, run: Run) -> Interval:
    """Return the first and last row that a reference touches over all rows of a run."""
    edges = []
    for row in (run.first, run.last):
        edges.append(ref.row1 if ref.fixed[0] else row + ref.row1)
        edges.append(ref.row2 if ref.fixed[2] else row + ref.row2)
    return max(1, min(edges)), min(LAST_ROW, max(edges))


class _Watchers:
    """References that touch one column, found by the rows they touch: a register may hold thousands of runs.

    They are kept by height, so that those which touch some rows begin not far above them.
    """

    def __init__(self) -> None:
        self._heights = _HEIGHTS
        self._levels: list[list[tuple[int, int, Ref]]] = [[] for _ in _HEIGHTS]  # first row, run number, reference
        self._firsts: list[list[int]] = []
        self._tall: list[tuple[int, Ref]] = []

    def add(self, rows: Interval, number: int, ref: Ref) -> None:
        level = bisect_left(self._heights, rows[1] - rows[0] + 1)
        if level < len(self._heights):
            self._levels[level].append((rows[0], number, ref))
        else:
            self._tall.append((number, ref))

    def sort(self) -> None:
        for level in self._levels:
            level.sort(key=lambda entry: entry[:2])
        self._firsts = [[first for first, _, _ in level] for level in self._levels]

    def near(self, rows: Interval) -> Iterator[tuple[int, Ref]]:
        """Yield (run number, reference) for all that may touch some rows."""
        yield from self._tall
        for height, firsts, level in zip(self._heights, self._firsts, self._levels):
            if level:
                start = bisect_left(firsts, rows[0] - height + 1)
                yield from (entry[1:] for entry in level[start : bisect_right(firsts, rows[1])])


class Dependents:
    """Finds the runs whose references meet some cells."""

    def __init__(self, runs: list[Run]) -> None:
        """Index every reference of every run by the columns it names, and by the rows."""
        self.runs = runs
        self._narrow: dict[tuple[str, int], _Watchers] = defaultdict(_Watchers)
        self._wide: dict[str, list[tuple[Ref, int]]] = defaultdict(list)
        self._own: dict[int, list[Ref]] = defaultdict(list)
        for number, run in enumerate(runs):
            for ref in run.template.refs if run.template is not None else ():
                sheet = ref.sheet or run.sheet
                c1, c2 = columns_of(ref, run)
                if c2 - c1 < _WIDE:
                    rows = rows_of(ref, run)
                    for column in range(c1, c2 + 1):
                        self._narrow[sheet, column].add(rows, number, ref)
                else:
                    self._wide[sheet].append((ref, number))
                if sheet == run.sheet and c1 <= run.column <= c2 and not (ref.fixed[0] and ref.fixed[2]):
                    self._own[number].append(ref)
        for watchers in self._narrow.values():
            watchers.sort()

    def of(self, sheet: str, rows: Interval, columns: Interval) -> Iterator[tuple[int, Interval]]:
        """Yield (run number, rows) for everything that refers to a rectangle, directly."""
        for column in range(columns[0], columns[1] + 1):
            watchers = self._narrow.get((sheet, column))
            for number, ref in watchers.near(rows) if watchers is not None else ():
                rows_hit = rows_that_see(ref, self.runs[number], rows)
                if rows_hit is not None:
                    yield number, self._along(number, rows_hit)
        for ref, number in self._wide.get(sheet, ()):
            c1, c2 = columns_of(ref, self.runs[number])
            if c1 <= columns[1] and c2 >= columns[0]:
                rows_hit = rows_that_see(ref, self.runs[number], rows)
                if rows_hit is not None:
                    yield number, self._along(number, rows_hit)

    def _along(self, number: int, rows: Interval) -> Interval:
        """Follow a run that refers to its own earlier (or later) rows to its end."""
        low, high = rows
        run = self.runs[number]
        for ref in self._own[number]:
            offsets = [o for o, fixed in ((ref.row1, ref.fixed[0]), (ref.row2, ref.fixed[2])) if not fixed]
            if min(offsets) < 0 or ref.fixed[0]:
                high = run.last
            if max(offsets) > 0 or ref.fixed[2]:
                low = run.first
        return low, high

    def spread(self, seeds: Iterable[tuple[int, Interval]]) -> dict[int, list[Interval]]:
        """Return run number -> rows, for the seeds and everything that depends on them, directly or not."""
        reached: dict[int, list[Interval]] = {}
        waiting = list(seeds)
        while waiting:
            number, rows = waiting.pop()
            for new in add_interval(reached.setdefault(number, []), rows):
                r1, c1, r2, c2 = covered(self.runs[number])
                area = new if self.runs[number].area is None else (r1, r2)
                waiting += self.of(self.runs[number].sheet, area, (c1, c2))
        return reached

    def of_cells(self, cells: Iterable[Cell]) -> Iterator[tuple[int, Interval]]:
        """Yield (run number, rows) for everything that refers to some cells, directly."""
        for (sheet, column), stretches in intervals_of(cells).items():
            for rows in stretches:
                yield from self.of(sheet, rows, (column, column))

    def spread_from_cells(self, cells: Iterable[Cell]) -> dict[int, list[Interval]]:
        """Return run number -> rows for everything that depends on some cells, directly or not."""
        return self.spread(self.of_cells(cells))


def intervals_of(cells: Iterable[Cell]) -> dict[Place, list[Interval]]:
    """Return the rows of some cells by column, as stretches in order."""
    rows: dict[Place, list[int]] = defaultdict(list)
    for sheet, row, column in cells:
        rows[sheet, column].append(row)
    found: dict[Place, list[Interval]] = {}
    for place, numbers in rows.items():
        stretches = found[place] = []
        for row in sorted(numbers):
            if stretches and row <= stretches[-1][1] + 1:
                stretches[-1] = (stretches[-1][0], row)
            else:
                stretches.append((row, row))
    return found


def add_interval(intervals: list[Interval], new: Interval) -> list[Interval]:
    """Add rows to a sorted list of disjoint intervals; return what was not in it before."""
    start = end = bisect_left(intervals, new[0] - 1, key=itemgetter(1))  # those before do not even touch it
    fresh: list[Interval] = []
    low, (top, bottom) = new[0], new
    while end < len(intervals) and intervals[end][0] <= new[1] + 1:
        first, last = intervals[end]
        if low < first:
            fresh.append((low, first - 1))
        low = max(low, last + 1)
        top, bottom = min(top, first), max(bottom, last)
        end += 1
    if low <= new[1]:
        fresh.append((low, new[1]))
    if fresh:
        intervals[start:end] = [(top, bottom)]
    return fresh


def split_runs(runs: list[Run], reached: dict[int, list[Interval]]) -> tuple[list[Run], list[Run]]:
    """Cut runs at the borders of the intervals; return (runs inside them, runs outside)."""
    inside: list[Run] = []
    outside: list[Run] = []
    for number, run in enumerate(runs):
        row = run.first
        for first, last in reached.get(number, ()):
            if row < first:
                outside.append(run.part(row, first - 1))
            inside.append(run if (first, last) == (run.first, run.last) else run.part(first, last))
            row = last + 1
        if row == run.first:
            outside.append(run)
        elif row <= run.last:
            outside.append(run.part(row, run.last))
    return inside, outside


class Precedents:
    """Finds the runs that a run's references meet."""

    def __init__(self, runs: list[Run]) -> None:
        """Index the runs by the columns they fill."""
        self.runs = runs
        by_column: dict[tuple[str, int], list[tuple[int, int, int]]] = defaultdict(list)
        for number, run in enumerate(runs):
            r1, c1, r2, c2 = covered(run)
            for column in range(c1, c2 + 1):
                by_column[run.sheet, column].append((r1, r2, number))
        self._by_column = {place: sorted(spans) for place, spans in by_column.items()}
        self._columns: dict[str, list[int]] = defaultdict(list)
        for sheet, column in sorted(self._by_column):
            self._columns[sheet].append(column)

    def of_ref(self, ref: Ref, run: Run) -> Iterator[int]:
        """Yield the numbers of the runs that a reference of `run` meets, over all its rows."""
        sheet = ref.sheet or run.sheet
        c1, c2 = columns_of(ref, run)
        r1, r2 = rows_of(ref, run)
        columns = self._columns.get(sheet, [])
        start = bisect_right(columns, c1 - 1)
        for column in columns[start : bisect_right(columns, c2)]:
            spans = self._by_column[sheet, column]
            i = bisect_right(spans, (r1, -1, -1))
            while i > 0 and spans[i - 1][1] >= r1:
                i -= 1
            while i < len(spans) and spans[i][0] <= r2:
                if spans[i][1] >= r1:
                    yield spans[i][2]
                i += 1

    def of(self, run: Run) -> set[int]:
        """Return the numbers of the runs that `run` refers to, directly."""
        refs = run.template.refs if run.template is not None else ()
        return {number for ref in refs for number in self.of_ref(ref, run)}


def order(graph: list[set[int]]) -> list[list[int]]:
    """Return the groups of nodes in an order in which each depends on earlier groups only.

    `graph[n]` are the nodes that n depends on. A group of more than one node, or of one that depends on
    itself, is a circle (Tarjan's strongly connected components, without recursion).
    """
    index: dict[int, int] = {}
    low: dict[int, int] = {}
    on_stack: set[int] = set()
    stack: list[int] = []
    groups: list[list[int]] = []
    for root in range(len(graph)):
        if root in index:
            continue
        work = [(root, iter(graph[root]))]
        index[root] = low[root] = len(index)
        stack.append(root)
        on_stack.add(root)
        while work:
            node, successors = work[-1]
            for successor in successors:
                if successor not in index:
                    index[successor] = low[successor] = len(index)
                    stack.append(successor)
                    on_stack.add(successor)
                    work.append((successor, iter(graph[successor])))
                    break
                if successor in on_stack:
                    low[node] = min(low[node], index[successor])
            else:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[node])
                if low[node] == index[node]:
                    group = []
                    while True:
                        member = stack.pop()
                        on_stack.discard(member)
                        group.append(member)
                        if member == node:
                            break
                    groups.append(group)
    return groups
