"""Taking our calls out of formulas, so that any engine can do the rest.

`=IF(B2="","",PF_X(B2*25.4,C2)&" kN")` becomes one `Call` with two arguments (a scratch formula `B2*25.4` and
the cell C2) and the ordinary formula `=IF(B2="","",<scratch cell>&" kN")`. Array formulas of any kind are taken
out whole in the same way: they are computed on a sheet of their own and their results put back as values.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import count

from openpyxl.formula.tokenizer import Token as XlToken

from pressfuncs.batch.book import Run
from pressfuncs.batch.formulas import (
    LAST_COLUMN,
    Ref,
    Template,
    Token,
    arguments_of,
    call_end,
    move_to_sheet,
    our_spec,
)
from pressfuncs.errors import CellError
from pressfuncs.registry import FunctionSpec

SCRATCH = "pressfuncs scratch"
_SLOTS_A_SHEET = LAST_COLUMN - 1


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
        self.sheets: dict[str, None] = {}

    def column(self) -> Slot:
        """Return a new scratch column."""
        sheet, column = divmod(next(self._numbers), _SLOTS_A_SHEET)
        return self._on(f"{SCRATCH} {sheet}", column + 1, False)

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
    """One of our calls: where each argument comes from, and the slot for its result if a formula needs it."""

    spec: FunctionSpec
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

    @property
    def needs_single_row(self) -> bool:
        """Whether it keeps an array on a scratch sheet, which serves one cell only."""
        slots = [call.slot for call in self.calls] + [
            source.slot for call in self.calls for source in call.sources if isinstance(source, Scratch)
        ]
        return self.array_slot is not None or any(slot is not None and slot.array for slot in slots)

    @property
    def direct(self) -> bool:
        """Whether the value of the cell is the result of the last call."""
        return self.rest is None and bool(self.calls)


def hoist(run: Run, slots: Slots) -> Hoisted:
    """Take our calls out of a normalised run.

    Raises:
        NotUnderstood: a name is spelled like ours but is no function of the library.
    """
    assert run.template is not None
    hoisted = Hoisted(run)
    tokens, used = _replace_calls(run.template.tokens, hoisted, slots)
    whole = _sole_call(run.template.tokens)
    if whole and hoisted.calls:
        hoisted.calls[-1].slot = None
        return hoisted
    if run.area is not None:
        hoisted.array_slot = slots.array()
        tokens = tuple(move_to_sheet(token, run.sheet) for token in tokens)
    hoisted.rest = Template(tokens)
    hoisted.rest_calls = used
    return hoisted


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
            call.slot = slots.array() if call.array else slots.column()
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
        if not spec.variadic and not (i < len(spec.arguments) and spec.arguments[i].series)
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
    replaced, used = _replace_calls(tokens, hoisted, slots)
    template = Template(tuple(move_to_sheet(token, hoisted.run.sheet) for token in replaced))
    array = hoisted.run.area is not None or _range_outside_functions(replaced)
    return Scratch(template, slots.array() if array else slots.column(), used)


def _range_outside_functions(tokens: tuple[Token, ...]) -> bool:
    depth = 0
    for token in tokens:
        depth += token.opens - token.closes
        if depth == 0 and token.ref is not None and not token.ref.single:
            return True
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
