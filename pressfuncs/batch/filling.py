"""Giving the engine a workbook: stored values, and the formulas that it is to compute."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from itertools import pairwise
from typing import Any

from pressfuncs.batch.book import Book, Cell, Run
from pressfuncs.batch.engine import Engine
from pressfuncs.batch.formulas import LAST_ROW, Template
from pressfuncs.batch.hoist import Hoisted, Slot, movable
from pressfuncs.batch.intersection import may_spill
from pressfuncs.batch.plan import COMPUTED_REFERENCES, VOLATILE
from pressfuncs.batch.schedule import Plan
from pressfuncs.batch.spread import add_interval, columns_of, covered
from pressfuncs.batch.values import Values


class Filling:
    """Fills the engine for one attempt; a formula never goes where a value was, since the engine loses some."""

    def __init__(
        self,
        book: Book,
        engine: Engine,
        plan: Plan,
        apart: list[Run],
        distrusted: Collection[Cell],
        known: Values,
    ) -> None:
        """Note what is to be filled in.

        Arguments:
            book: the workbook
            engine: an empty engine
            plan: what is done with each formula
            apart: of `plan.apart`, the formulas that the engine computes
            distrusted: cells that keep their stored value in place of their formula
            known: values that were computed already
        """
        self.book = book
        self.engine = engine
        self.plan = plan
        self.apart = apart
        self.distrusted = distrusted
        self.known = known
        self.owned = self._owned()
        """rows of columns whose values only the engine knows, as stretches in order"""
        self._seen = self._seen_columns()
        self.array_scratches: dict[int, Slot] = {}
        """where array formulas apart from ours are computed, by the id of their run"""

    def fill(self) -> None:
        """Give the engine every sheet: stored values, then the formulas that it computes."""
        for name in [*self.book.sheets, *self.plan.slots.sheets]:
            self.engine.add_sheet(name)
        formulas = [
            part
            for run in [*self.plan.below, *(run for run in self.apart if not self.kept(run))]
            for part in self.trusted(run)
            if part.area is None
        ]
        remaining = [h.run for h in self.plan.ours if h.rest is not None and h.array_slot is None]
        self.fill_values([*formulas, *remaining])
        for run in formulas:
            self.set_formula(run)
        if self.plan.loose:  # until ours are computed, these look at what is stored
            for run in remaining:
                texts = [_as_formula(self.book.sheets[run.sheet].value(row, run.column)) for row in run.rows]
                self.engine.set_formulas(run.sheet, run.first, run.column, texts)
        for hoisted in self.plan.ours:
            for source in hoisted.scratches:
                self.set_scratch(source.template, source.slot, hoisted.run)
            if hoisted.array_slot is not None and hoisted.rest is not None:
                self.set_scratch(hoisted.rest, hoisted.array_slot, hoisted.run)
        for run in self.apart:
            if run.area is not None and run.template is not None and not self.is_volatile(run):
                slot = self.array_scratches[id(run)] = self.plan.slots.array()
                self.engine.add_sheet(slot.sheet)
                self.set_scratch(Template(movable(run.template.tokens, run)), slot, run)

    def kept(self, run: Run) -> bool:
        """Whether a formula apart from ours keeps its stored value, since it has another one at any moment."""
        return self.is_volatile(run) and self.stored(run)

    def trusted(self, run: Run) -> list[Run]:
        """Return the parts of a run without the cells whose stored value is known to be another one."""
        if not self.distrusted:
            return [run]
        rows = [row for row in run.rows if (run.sheet, row, run.column) in self.distrusted]
        edges = [run.first - 1, *rows, run.last + 1]
        return [run.part(low + 1, high - 1) for low, high in pairwise(edges) if low + 1 < high]

    def fill_values(self, formulas: list[Run]) -> None:
        """Write what the file stores, but not where a formula is going to be written."""
        spans: dict[tuple[str, int], list[Run]] = defaultdict(list)
        for run in formulas:
            spans[run.sheet, run.column].append(run)
        known: dict[str, set[int]] = defaultdict(set)
        for name, column in self.known.columns:
            known[name].add(column)
        for sheet in self.book.sheets.values():
            columns = known[sheet.name].union(sheet.values)
            for column in filter(lambda column: self.feeds(sheet.name, column), sorted(columns)):
                rows = sheet.values.get(column, {}) | self.known.columns.get((sheet.name, column), {})
                taken = {row for run in spans[sheet.name, column] for row in run.rows}
                free = {row: value for row, value in rows.items() if row not in taken} if taken else rows
                for first, values in _stretches(free):
                    self.engine.set_values(sheet.name, first, column, values)

    def feeds(self, sheet: str, column: int) -> bool:
        """Whether the engine needs the values of a column, since formulas refer to them or stand among them."""
        return self._seen is None or (sheet, column) in self._seen or (sheet, column) in self.owned

    def _owned(self) -> dict[tuple[str, int], list[tuple[int, int]]]:
        owned: dict[tuple[str, int], list[tuple[int, int]]] = defaultdict(list)
        for run in [*self.plan.below, *self.apart, *(h.run for h in self.plan.ours if not known_to_us(h))]:
            r1, c1, r2, c2 = covered(run)
            for column in range(c1, c2 + 1):
                add_interval(owned[run.sheet, column], (r1, r2))
        return owned

    def _seen_columns(self) -> set[tuple[str, int]] | None:
        """Return the columns that formulas of the engine refer to; None if that cannot be said."""
        given = [(run, run.template) for run in [*self.plan.below, *self.apart]]
        for hoisted in self.plan.ours:
            given += [(hoisted.run, template) for template in hoisted.formulas]
        seen: set[tuple[str, int]] = set()
        for run, template in given:
            if template is None:
                continue
            if template.functions & COMPUTED_REFERENCES:
                return None
            if any(token.is_range and token.ref is None for token in template.tokens):
                return None
            for ref in template.refs:
                sheet = ref.sheet or run.sheet
                first, last = columns_of(ref, run)
                seen.update((sheet, column) for column in range(first, last + 1))
        return seen

    def set_formula(self, run: Run, template: Template | None = None) -> None:
        """Write the formula of a run, or another one, into its cells."""
        template = template or run.template
        assert template is not None
        write = self.engine.adapt(template).bind(run.column)
        self.engine.set_formulas(run.sheet, run.first, run.column, [write(row) for row in run.rows])

    def set_scratch(self, template: Template, slot: Slot, run: Run) -> None:
        """Write a scratch formula: down the slot's column, or in the first cell of the slot's sheet."""
        write = self.engine.adapt(template).bind(run.column)
        texts = [write(row) for row in run.rows]
        if not slot.array and may_spill(template):  # occupied cells around it: an array then says so
            self.engine.set_values(slot.sheet, run.first, slot.column + 1, [0.0] * len(texts))
            if run.last < LAST_ROW:
                self.engine.set_values(slot.sheet, run.last + 1, slot.column, [0.0])
        self.engine.set_formulas(slot.sheet, 1 if slot.array else run.first, slot.column, texts)

    def is_volatile(self, run: Run) -> bool:
        """Whether the formula gives another value each time."""
        return run.template is not None and bool(run.template.functions & VOLATILE)

    def stored(self, run: Run) -> bool:
        """Whether the file stores values for the run."""
        return self.book.sheets[run.sheet].value(run.first, run.column) is not None


def known_to_us(hoisted: Hoisted) -> bool:
    """Whether the values of its cells are never computed by the engine."""
    return hoisted.direct and hoisted.run.area is None


def _stretches(rows: dict[int, Any]) -> Iterator[tuple[int, list[Any]]]:
    """Yield (first row, values) for each stretch of rows without a gap."""
    first = 0
    values: list[Any] = []
    for row in sorted(rows):
        if values and row != first + len(values):
            yield first, values
            values = []
        if not values:
            first = row
        values.append(rows[row])
    if values:
        yield first, values


def _as_formula(value: Any) -> str:
    """Return a formula (without "=") that gives a stored value."""
    if value is None:
        return '""'
    if isinstance(value, bool):
        return str(value).upper()
    return '"' + value.replace('"', '""') + '"' if isinstance(value, str) else repr(value)
