"""The order in which our calls are made: each as soon as the engine has what it needs, all of a step together."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from pressfuncs.batch.book import Cell, Run
from pressfuncs.batch.formulas import Ref
from pressfuncs.batch.hoist import Hoisted, Nested, Scratch, Slots, hoist
from pressfuncs.batch.spread import Precedents, order

CIRCULAR = "it is part of a circular reference"


@dataclass
class Plan:
    """The runs of a workbook by what is done with them; a cell is in one of the lists."""

    ours: list[Hoisted] = field(default_factory=list)
    """formulas with calls of ours, array formulas that must be computed, and ordinary ones that are computed by
    columns: hoisted"""
    below: list[Run] = field(default_factory=list)
    """ordinary formulas that depend on ours, directly or not"""
    apart: list[Run] = field(default_factory=list)
    """ordinary formulas that do not depend on ours: compared with what the file stores"""
    frozen: list[Run] = field(default_factory=list)
    """formulas that cannot be computed here; `run.frozen` says why"""
    blocked: list[Run] = field(default_factory=list)
    """formulas that depend on a frozen one"""
    due: set[Cell] = field(default_factory=set)
    """frozen and blocked cells that ought to be refreshed"""
    needed: set[Cell] = field(default_factory=set)
    """frozen and blocked cells that ought to be refreshed, or that a cell to be refreshed depends on"""
    loose: list[Run] = field(default_factory=list)
    """of `apart`: formulas with computed references (INDIRECT, OFFSET) and what depends on them; only
    computing shows whether they depend on ours"""
    unasked: list[Run] = field(default_factory=list)
    """of those computed: array formulas apart from ours, computed only because nothing is stored for them"""
    sheets: frozenset[str] | None = None
    """the sheets that formulas computed by columns may refer to; None if there are to be none"""
    slots: Slots = field(default_factory=Slots)
    steps: list[list[Action]] = field(default_factory=list)

    @property
    def runs(self) -> list[Run]:
        """All runs of it."""
        hoisted = [hoisted.run for hoisted in self.ours]
        return [*hoisted, *self.below, *self.apart, *self.frozen, *self.blocked]


@dataclass(frozen=True)
class Action:
    """One piece of a step: call number `call` of a hoisted run, or (None) fetch the result of its array."""

    hoisted: Hoisted
    call: int | None


def schedule(plan: Plan) -> list[Cell]:
    """Put the calls into steps; return the cells of a circle if there is one."""
    while True:
        hoisted_by_run = {id(hoisted.run): hoisted for hoisted in plan.ours}
        runs = [*(hoisted.run for hoisted in plan.ours), *plan.below]
        precedents = Precedents(runs)
        graph = [precedents.of(run) for run in runs]
        groups = order(graph)
        circles = [
            group
            for group in groups
            if (len(group) > 1 or group[0] in graph[group[0]])
            and any(id(runs[number]) in hoisted_by_run for number in group)
        ]
        if not circles:
            break
        members = {number for group in circles for number in group}
        if _to_the_engine(plan, {id(runs[number]) for number in members}):
            continue
        if all(runs[number].first == runs[number].last for number in members):
            return [cell for number in members for cell in runs[number].cells()]
        _explode(plan, runs, members)
    _Steps(plan, runs, precedents, hoisted_by_run).build(groups)
    return []


def _to_the_engine(plan: Plan, members: set[int]) -> bool:
    """Leave ordinary formulas of a circle to the engine, which goes cell by cell; say whether there are any."""
    ordinary = [hoisted for hoisted in plan.ours if hoisted.ordinary and id(hoisted.run) in members]
    plan.ours = [hoisted for hoisted in plan.ours if not (hoisted.ordinary and id(hoisted.run) in members)]
    plan.below += [hoisted.run for hoisted in ordinary]
    return bool(ordinary)


def _explode(plan: Plan, runs: list[Run], members: set[int]) -> None:
    """Cut runs that refer to each other into rows: a running total is no circle, row by row."""
    ours: list[Hoisted] = []
    below: list[Run] = []
    count = len(plan.ours)
    for number, run in enumerate(runs):
        if number not in members:
            if number < count:
                ours.append(plan.ours[number])
            else:
                below.append(run)
        elif number < count:
            arrays = plan.ours[number].arrays
            ours += [hoist(run.part(row, row), plan.slots, arrays) for row in run.rows]
        else:
            below += [run.part(row, row) for row in run.rows]
    plan.ours, plan.below = ours, below


class _Steps:
    """Gives every call the earliest step at which all its arguments are there.

    Step k runs our calls, after evaluation k - 1 of the engine and before evaluation k. `ready[n]` is the
    step in which run n gets its value, if our call gives it, else the evaluation that gives it.
    """

    def __init__(
        self, plan: Plan, runs: list[Run], precedents: Precedents, hoisted_by_run: dict[int, Hoisted]
    ) -> None:
        self.plan = plan
        self.runs = runs
        self.precedents = precedents
        self.hoisted_by_run = hoisted_by_run
        self.ready: dict[int, int] = {}
        self.at_once: set[int] = set()  # runs whose value is there in the step itself
        self.steps: dict[int, list[Action]] = defaultdict(list)

    def build(self, groups: list[list[int]]) -> None:
        for group in groups:
            if len(group) > 1:  # ordinary formulas that refer to each other's rows: the engine orders them
                last = max((self.evaluation(ref, n, group) for n in group for ref in self.refs(n)), default=0)
                self.ready.update(dict.fromkeys(group, last))
                continue
            number = group[0]
            hoisted = self.hoisted_by_run.get(id(self.runs[number]))
            if hoisted is None:
                self.ready[number] = max((self.evaluation(r, number, group) for r in self.refs(number)), default=0)
            else:
                self.place(number, hoisted)
        if self.steps:
            self.plan.steps = [self.steps.get(k, []) for k in range(1, max(self.steps) + 1)]

    def refs(self, number: int) -> tuple[Ref, ...]:
        template = self.runs[number].template
        return template.refs if template is not None else ()

    def evaluation(self, ref: Ref, number: int, group: list[int]) -> int:
        """Return the evaluation after which the engine has the value of a reference."""
        found = self.precedents.of_ref(ref, self.runs[number])
        return max((self.ready[n] for n in found if n not in group), default=0)

    def step_for(self, ref: Ref, number: int) -> int:
        """Return the first step in which a reference can be an argument as it stands."""
        found = self.precedents.of_ref(ref, self.runs[number])
        return max((self.ready[n] + (n not in self.at_once) for n in found), default=1)

    def place(self, number: int, hoisted: Hoisted) -> None:
        at: list[int] = []
        for index, call in enumerate(hoisted.calls):
            step = max([1, *(self.source_step(source, number, at) for source in call.sources)])
            at.append(step)
            self.steps[step].append(Action(hoisted, index))
        if hoisted.direct:
            self.ready[number] = at[-1]
            self.at_once.add(number)
            return
        assert hoisted.rest is not None
        evaluation = max(
            [
                *(self.evaluation(ref, number, [number]) for ref in hoisted.rest.refs),
                *(at[i] for i in hoisted.rest_calls),
            ],
            default=0,
        )
        if hoisted.array_slot is None:
            self.ready[number] = evaluation
        else:
            self.ready[number] = evaluation + 1
            self.at_once.add(number)
            self.steps[evaluation + 1].append(Action(hoisted, None))

    def source_step(self, source: object, number: int, at: list[int]) -> int:
        if isinstance(source, Ref):
            return self.step_for(source, number)
        if isinstance(source, Nested):
            return at[source.call]
        if isinstance(source, Scratch):
            refs = [self.evaluation(ref, number, [number]) for ref in source.template.refs]
            return max([0, *refs, *(at[i] for i in source.calls)]) + 1
        return 1
