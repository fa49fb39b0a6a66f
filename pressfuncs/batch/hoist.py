"""Taking our calls out of formulas, so that any engine can do the rest.

`=IF(B2="","",PF_X(B2*25.4,C2)&" kN")` becomes one `Call` with two arguments (a scratch formula `B2*25.4` and
the cell C2) and the ordinary formula `=IF(B2="","",<scratch cell>&" kN")`. Array formulas of any kind are taken
out whole in the same way: they are computed on a sheet of their own and their results put back as values.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace
from itertools import count

from pressfuncs.batch.book import Run
from pressfuncs.batch.columnwise import ColumnFormula, column_formula
from pressfuncs.batch.formulas import (
    LAST_COLUMN,
    NotUnderstood,
    Ref,
    Template,
    Token,
    arguments_of,
    call_end,
    function_name,
    move_to_sheet,
    our_spec,
    quote_sheet,
)
from pressfuncs.batch.intersection import ONE_VALUE, may_spill
from pressfuncs.batch.tokens import XlToken
from pressfuncs.errors import CellError
from pressfuncs.registry import FunctionSpec

SCRATCH = "pressfuncs scratch"
NOWHERE = "pressfuncs nowhere"
"""A sheet that stays empty: ROW() on a scratch sheet becomes the row of a cell of it."""
_SLOTS_A_SHEET = LAST_COLUMN // 2 - 1  # every other column, so that an array beside a slot is noticed


@dataclass(frozen=True)
class Slot:
    """A place on a scratch sheet: a column used row by row, or a whole sheet for an array."""

    sheet: str
    column: int
    array: bool = False

    @property
    def token(self) -> Token:
        """The reference to this slot from a formula in the same row; to the first cell of an array."""
        if self.array:
            return Token(
                XlToken.OPERAND, XlToken.RANGE, self.sheet, Ref(self.sheet, 1, 1, 1, 1, (True,) * 4, True)
            )
        ref = Ref(self.sheet, 0, self.column, 0, self.column, (False, True, False, True), True)
        return Token(XlToken.OPERAND, XlToken.RANGE, self.sheet, ref)


class Slots:
    """Hands out slots."""

    def __init__(self) -> None:
        """Start with none."""
        self._numbers = count()
        self._shared: dict[tuple[str, int, int], Slot] = {}
        self.sheets: dict[str, None] = {NOWHERE: None}

    def column(self) -> Slot:
        """Return a new scratch column; the one to its right stays free."""
        sheet, column = divmod(next(self._numbers), _SLOTS_A_SHEET)
        return self._on(f"{SCRATCH} {sheet}", 2 * column + 1, False)

    def shared(self, hoisted: Hoisted) -> Slot:
        """Return a scratch column that the formulas of a column share, each in its rows: engines mind many."""
        key = hoisted.run.sheet, hoisted.run.column, hoisted.shared
        hoisted.shared += 1
        if key not in self._shared:
            self._shared[key] = self.column()
        return self._shared[key]

    def array(self) -> Slot:
        """Return a new scratch sheet for one array."""
        return self._on(f"{SCRATCH} array {next(self._numbers)}", 1, True)

    def _on(self, sheet: str, column: int, array: bool) -> Slot:
        self.sheets[sheet] = None
        return Slot(sheet, column, array)


@dataclass(frozen=True)
class Scratch:
    """An ordinary formula that the engine computes in a slot, for use as an argument."""

    template: Template
    slot: Slot
    calls: tuple[int, ...]  # the calls whose results it uses


@dataclass(frozen=True)
class Constant:
    """An argument written in the formula itself; None where it is omitted."""

    value: float | str | bool | CellError | None


@dataclass(frozen=True)
class Nested:
    """An argument that is the result of an earlier call of the same formula."""

    call: int


Source = Constant | Ref | Nested | Scratch


@dataclass
class Call:
    """One of our calls: where each argument comes from, and the slot for its result if a formula needs it.

    An ordinary formula, or a part of one, that can be computed by columns is a call too.
    """

    spec: FunctionSpec | ColumnFormula
    sources: list[Source]
    slot: Slot | None = None
    array: bool = False  # whether its result may be more than one cell


@dataclass
class Hoisted:
    """A run with its calls taken out, inner ones first.

    `rest` is the ordinary formula that remains; None if the last call is the whole formula. For an array
    formula `rest` stands in the slot `array_slot` and its result is put back as values.
    """

    run: Run
    calls: list[Call] = field(default_factory=list)
    rest: Template | None = None
    rest_calls: tuple[int, ...] = ()
    array_slot: Slot | None = None
    arrays: bool = False
    shared: int = 0
    """how many shared scratch columns it has"""
    sheets: Collection[str] | None = None
    """the sheets that ordinary parts may refer to if they are to be computed by columns"""

    @property
    def ordinary(self) -> bool:
        """Whether it is an ordinary formula, computed by columns."""
        return self.run.area is None and self.run.template is not None and not self.run.template.has_ours

    @property
    def needs_single_row(self) -> bool:
        """Whether it keeps an array on a scratch sheet, which serves one cell only."""
        slots = [*(call.slot for call in self.calls), *(source.slot for source in self.scratches)]
        return self.array_slot is not None or any(slot is not None and slot.array for slot in slots)

    @property
    def scratches(self) -> Iterator[Scratch]:
        """The scratch formulas of its arguments."""
        for call in self.calls:
            yield from (source for source in call.sources if isinstance(source, Scratch))

    @property
    def formulas(self) -> list[Template]:
        """The ordinary formulas in it: those of arguments, and what remains."""
        return [source.template for source in self.scratches] + ([self.rest] if self.rest is not None else [])

    @property
    def direct(self) -> bool:
        """Whether the value of the cell is the result of the last call."""
        return self.rest is None and bool(self.calls)


def hoist(run: Run, slots: Slots, arrays: bool = False, sheets: Collection[str] | None = None) -> Hoisted:
    """Take our calls out of a normalised run.

    Arguments:
        run: the run
        slots: where scratch formulas and results go
        arrays: whether every argument that is a formula may turn out to be more than one cell
        sheets: the sheets of the workbook if ordinary parts are computed by columns, where they can be

    Raises:
        NotUnderstood: a name is spelled like ours but is no function of the library, or is called where only
            the engine knows the value of an argument.
    """
    assert run.template is not None
    hoisted = Hoisted(run, arrays=arrays, sheets=sheets)
    tokens, used = _replace_calls(run.template.tokens, hoisted, slots)
    whole = _sole_call(run.template.tokens)
    if whole and hoisted.calls:
        hoisted.calls[-1].slot = None
        return hoisted
    if _add_column_formula(tokens, used, hoisted) is not None:
        return hoisted
    if run.area is not None:
        hoisted.array_slot = slots.array()
        tokens = movable(tokens, run)
    hoisted.rest = Template(tokens)
    hoisted.rest_calls = used
    return hoisted


def _add_column_formula(tokens: tuple[Token, ...], used: tuple[int, ...], hoisted: Hoisted) -> int | None:
    """Add an ordinary formula, in which the results of some calls stand in their slots, as a call by columns."""
    calls = [hoisted.calls[number] for number in used]
    if hoisted.sheets is None or hoisted.run.area is not None or hoisted.arrays or any(c.array for c in calls):
        return None
    slots = {call.slot.token.ref: number for call, number in zip(calls, used) if call.slot is not None}
    template = Template(tokens)
    sheets = {ref.sheet for ref in template.refs if ref.sheet and (ref in slots or ref.sheet in hoisted.sheets)}
    formula = column_formula(template, sheets)
    if formula is None:
        return None
    for call in calls:
        call.slot = None
    sources: list[Source] = [Nested(slots[ref]) if ref in slots else ref for ref in formula.refs]
    hoisted.calls.append(Call(formula, sources))
    return len(hoisted.calls) - 1


def _sole_call(tokens: tuple[Token, ...]) -> bool:
    """Whether the formula is one of our calls and nothing else."""
    plain = [token for token in tokens if token.kind != XlToken.WSPACE]
    return (
        bool(plain)
        and plain[0].opens
        and our_spec(plain[0].text) is not None
        and call_end(tuple(plain), 0) == len(plain) - 1
    )


def _replace_calls(
    tokens: tuple[Token, ...], hoisted: Hoisted, slots: Slots
) -> tuple[tuple[Token, ...], tuple[int, ...]]:
    """Return the tokens with each of our calls replaced by its slot, and the calls used."""
    out: list[Token] = []
    used: list[int] = []
    i = 0
    while i < len(tokens):
        token = tokens[i]
        spec = our_spec(token.text) if token.opens else None
        if spec is None:
            out.append(token)
            i += 1
            continue
        end = call_end(tokens, i)
        number = _add_call(spec, tokens, i, end, hoisted, slots)
        call = hoisted.calls[number]
        if call.slot is None:
            call.slot = slots.array() if call.array else slots.shared(hoisted)
        out.append(call.slot.token)
        used.append(number)
        i = end + 1
    return tuple(out), tuple(used)


def _add_call(
    spec: FunctionSpec, tokens: tuple[Token, ...], start: int, end: int, hoisted: Hoisted, slots: Slots
) -> int:
    sources = [_source(argument, hoisted, slots) for argument in arguments_of(tokens, start, end)]
    array = any(
        _many(source, hoisted)
        for i, source in enumerate(sources)
        if not spec.variadic and not (i < len(spec.arguments) and spec.arguments[i].whole)
    )
    hoisted.calls.append(Call(spec, sources, array=array or spec.columns is not None))
    return len(hoisted.calls) - 1


def _many(source: Source, hoisted: Hoisted) -> bool:
    """Whether an argument may be more than one cell."""
    if isinstance(source, Ref):
        return not source.single
    if isinstance(source, Nested):
        return hoisted.calls[source.call].array
    return isinstance(source, Scratch) and source.slot.array


def _source(tokens: tuple[Token, ...], hoisted: Hoisted, slots: Slots) -> Source:
    constant = _constant(tokens)
    if constant is not None:
        return constant
    if len(tokens) == 1 and tokens[0].ref is not None:
        return tokens[0].ref
    if _sole_call(tokens):
        spec = our_spec(tokens[0].text)
        assert spec is not None
        return Nested(_add_call(spec, tokens, 0, len(tokens) - 1, hoisted, slots))
    if any(token.is_range and token.ref is None for token in tokens):
        raise NotUnderstood("a PF function is given a variable of LET or LAMBDA")
    replaced, used = _replace_calls(tokens, hoisted, slots)
    by_columns = _add_column_formula(replaced, used, hoisted)
    if by_columns is not None:
        return Nested(by_columns)
    template = Template(movable(replaced, hoisted.run))
    array = hoisted.run.area is not None or hoisted.arrays or _may_be_array(replaced)
    if array:
        slot = slots.array()
    else:  # what may spill has occupied cells around it
        slot = slots.column() if may_spill(template) else slots.shared(hoisted)
    return Scratch(template, slot, used)


def movable(tokens: tuple[Token, ...], run: Run) -> tuple[Token, ...]:
    """Return the tokens of a formula so that they mean the same on any sheet and in any column.

    Raises:
        NotUnderstood: the formula asks where it stands in a way that cannot be answered for it.
    """
    out: list[Token] = []
    closing: list[int] = []
    for i, token in enumerate(tokens):
        name = function_name(token.text) if token.opens else ""
        if name in ("ROW", "COLUMN") and tokens[i + 1].closes:
            place = Ref(NOWHERE, 0, run.column, 0, run.column, (False, True, False, True), True)
            out += [token, Token(XlToken.OPERAND, XlToken.RANGE, "", place)]
        elif name in ("SHEET", "SHEETS", "CELL", "INFO", "FORMULATEXT"):
            raise NotUnderstood(f"{name} is used for an argument of a PF function")
        elif name == "INDIRECT":
            text = Token(XlToken.OPERAND, XlToken.TEXT, '"' + quote_sheet(run.sheet).replace('"', '""') + '"')
            out += [token, Token(XlToken.FUNC, XlToken.OPEN, "PRESSFUNCS.ONSHEET("), text]
            out.append(Token(XlToken.SEP, XlToken.ARG, ","))
            closing.append(call_end(tokens, i))
        else:
            out.append(move_to_sheet(token, run.sheet))
        if i in closing:
            out.insert(-1, Token(XlToken.FUNC, XlToken.CLOSE, ")"))
    return tuple(out)


def widened(template: Template, slot: Slot, whole: Ref, one_value: bool = False) -> Template:
    """Return the formula with all cells of an array slot in the place of its first one.

    Arguments:
        template: the formula
        slot: the slot
        whole: all cells of it
        one_value: whether only functions that take ranges see them all, as in any formula of one cell
    """
    out: list[Token] = []
    stack: list[str] = []
    for token in template.tokens:
        hit = token.ref is not None and token.ref.sheet == slot.sheet
        if hit and not (one_value and all(name in ONE_VALUE for name in stack)):
            token = replace(token, ref=whole)
        if token.opens:
            stack.append(function_name(token.text))
        elif token.closes and stack:
            stack.pop()
        out.append(token)
    return Template(tuple(out))


def _may_be_array(tokens: tuple[Token, ...]) -> bool:
    """Whether a range or an array stands where the result may be one for each of its cells."""
    stack: list[str] = []
    for token in tokens:
        many = token.kind == XlToken.ARRAY or (token.ref is not None and not token.ref.single)
        if many and all(name in ONE_VALUE for name in stack):
            return True
        if token.opens:
            stack.append(function_name(token.text))
        elif token.closes and stack:
            stack.pop()
    return False


def _constant(tokens: tuple[Token, ...]) -> Constant | None:
    """Return the value of an argument that is a literal; None if it is a formula."""
    if not tokens:
        return Constant(None)
    sign = 1.0
    if len(tokens) == 2 and tokens[0].kind == XlToken.OP_PRE and tokens[0].text in "+-":
        sign = -1.0 if tokens[0].text == "-" else 1.0
        tokens = tokens[1:]
        if tokens[0].subtype != XlToken.NUMBER:
            return None
    if len(tokens) != 1 or tokens[0].kind != XlToken.OPERAND:
        return None
    text, subtype = tokens[0].text, tokens[0].subtype
    if subtype == XlToken.NUMBER:
        return Constant(sign * float(text))
    if subtype == XlToken.TEXT:
        return Constant(text[1:-1].replace('""', '"'))
    if subtype == XlToken.LOGICAL:
        return Constant(text.upper() == "TRUE")
    if subtype == XlToken.ERROR:
        return Constant(CellError(text))
    return None
