"""Formulas in plain references: names and table references written out, old-style ranges cut to one cell.

After this, a formula holds functions, operators, constants and `Ref`s with existing sheets, and any engine
gives it the meaning that the application that saved it had in mind.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from pressfuncs.batch.book import Book, Run, Table, split_qualified
from pressfuncs.batch.formulas import (
    LAST_COLUMN,
    LAST_ROW,
    NotUnderstood,
    Ref,
    Template,
    Token,
    arguments_of,
    call_end,
    function_name,
    our_function,
    parse,
    parse_ref,
)
from pressfuncs.batch.intersection import AGGREGATES, SplitAt, intersect, without_single
from pressfuncs.batch.tokens import XlToken

NOT_UNDERSTOOD = "PRESSFUNCS.NOTUNDERSTOOD("
"""Opens the cells that a name which is not understood depends on."""
_DEEPEST = 8
_COMPUTED_END = "it refers to a range that ends at a computed cell"
_PLACEHOLDER = "__xludf.dummyfunction("
_SECTIONS = ("#all", "#data", "#headers", "#totals", "#this row")


def normalise_runs(book: Book) -> list[Run]:
    """Return all runs with normalised templates; what cannot be understood is frozen with the reason."""
    done: dict[tuple[str, Template], Template] = {}
    runs: list[Run] = []
    waiting = [run.part(run.first, run.last) for run in book.runs]
    while waiting:
        run = waiting.pop()
        if run.frozen or run.template is None:
            runs.append(run)
            continue
        key = (run.sheet, run.template)
        plain = run.area is None and not needs_place(run.template)
        try:
            if plain and key in done:
                run.template = done[key]
            else:
                template = normalise(run, book)
                if plain:
                    done[key] = template
                run.template = template
        except SplitAt as split:
            waiting += [run.part(run.first, split.row - 1), run.part(split.row, run.last)]
            continue
        except NotUnderstood as error:
            run.frozen, run.template = str(error), error.template
        runs.append(run)
    return runs


def needs_place(template: Template) -> bool:
    """Whether the meaning may depend on the row: table references, or ranges where one value is wanted."""
    return any(token.is_range and (token.ref is None or not token.ref.single) for token in template.tokens)


def normalise(run: Run, book: Book) -> Template:
    """Return the run's template in plain references.

    Raises:
        NotUnderstood: a name, table or sheet does not exist, or is of a kind that is not supported.
        SplitAt: the run must be cut first.
    """
    assert run.template is not None
    tokens: list[Token] = []
    trouble = ""
    for token in _without_placeholders(run.template.tokens):
        try:
            tokens += _expand((token,), run, book, 0)
        except NotUnderstood as error:
            tokens += _cells_in(token, run, book)
            trouble = trouble or str(error)
    trouble = trouble or ("" if _ends_are_known(tuple(tokens), run) else _COMPUTED_END)
    if trouble:
        raise NotUnderstood(trouble, Template(tuple(tokens)))
    cut = tuple(intersect(tuple(tokens), run))
    try:
        return Template(without_single(cut))
    except NotUnderstood as error:
        raise NotUnderstood(str(error), Template(cut)) from None


def _without_placeholders(tokens: tuple[Token, ...]) -> Iterator[Token]:
    """Yield the tokens with #NAME? for calls that web services write in the place of functions of their own.

    `IFERROR(__xludf.DUMMYFUNCTION("QUERY(A1:B9)"),12.5)` is 12.5 in every application.
    """
    i = 0
    while i < len(tokens):
        token = tokens[i]
        if token.opens and token.text.lower() == _PLACEHOLDER:
            token = Token(XlToken.OPERAND, XlToken.ERROR, "#NAME?")
            i = call_end(tokens, i)
        yield token
        i += 1


def _ends_are_known(tokens: tuple[Token, ...], run: Run) -> bool:
    """Whether it is known which cells every range may hold: of SUM(A2:INDEX(A:A,9)) it is, since A:A holds A2."""
    stack: list[str] = []
    for i, token in enumerate(tokens):
        if token.opens and ":" in token.text and our_function(token.text) is None:
            return False  # what begins such a range is computed too
        if (
            token.kind == XlToken.OP_IN
            and token.text == ":"
            and not (stack[-1:] and stack[-1] in AGGREGATES and _lies_within(tokens, i, run))
        ):
            return False
        if token.subtype == XlToken.OPEN:
            stack.append(function_name(token.text) if token.opens else "")
        elif token.subtype == XlToken.CLOSE and stack:
            stack.pop()
    return True


def _lies_within(tokens: tuple[Token, ...], colon: int, run: Run) -> bool:
    """Whether the cell before a colon lies in the range of the INDEX after it, and both are a whole argument."""
    end = call_end(tokens, colon + 1)
    if tokens[colon - 2].subtype not in (XlToken.OPEN, XlToken.ARG):
        return False
    if tokens[end + 1].subtype not in (XlToken.CLOSE, XlToken.ARG):
        return False
    first = tokens[colon - 1].ref
    given = next(arguments_of(tokens, colon + 1, end), ())
    within = given[0].ref if len(given) == 1 else None
    if first is None or within is None or first.sheet != within.sheet:  # the engine wants it written alike
        return False
    for row in (run.first, run.last):
        (r, c, _, _), (r1, c1, r2, c2) = first.rectangle(row, run.column), within.rectangle(row, run.column)
        if not (r1 <= r <= r2 and c1 <= c <= c2):
            return False
    return True


def _cells_in(token: Token, run: Run, book: Book) -> list[Token]:
    """Return the cells that a token which is not understood depends on, as far as that can be said."""
    owner, name = split_qualified(token.text)
    first, _, last = (owner or "").partition(":")
    sheets = list(book.sheets.values())
    ends = [book.sheet(end) for end in (first, last) if last]
    if len(ends) == 2 and all(end is not None for end in ends):  # Sheet1:Sheet3!A1
        places = sorted(sheets.index(end) for end in ends if end is not None)
        ref = parse_ref(name, run.first, run.column)
        between = sheets[places[0] : places[1] + 1] if ref is not None else []
        return [Token(token.kind, token.subtype, "", replace(ref, sheet=s.name)) for s in between if ref]
    body = _body_of(token.text.removesuffix("("), run, book)
    if body is None:
        return [token]
    try:
        inner: Template | None = parse(body, 1, 1)
    except NotUnderstood as error:
        inner = error.template
    wanted = [
        t for t in (inner.tokens if inner else ()) if t.ref is not None or (t.opens and our_function(t.text))
    ]
    if token.opens or not wanted:
        return [token, *wanted]
    opening = Token(XlToken.FUNC, XlToken.OPEN, NOT_UNDERSTOOD)  # so that nobody takes the cells for its value
    return [opening, *wanted, Token(XlToken.FUNC, XlToken.CLOSE, ")")]


def _expand(tokens: tuple[Token, ...], run: Run, book: Book, depth: int) -> Iterator[Token]:
    if depth > _DEEPEST:
        raise NotUnderstood("its names refer to each other in a circle")
    for token in tokens:
        if token.opens and our_function(token.text) is None:
            if (
                "LAMBDA(" in (_body_of(token.text[:-1], run, book) or "").upper()
            ):  # a range may be called like RATE
                raise NotUnderstood(f'the name "{token.text[:-1]}" is a LAMBDA')
            yield replace(token, text=function_name(token.text) + "(")
        elif not token.is_range:
            yield token
        elif token.ref is not None:
            yield _in_order(_with_sheet(token, book), run)
        elif token.text.startswith("_xlpm."):
            yield replace(token, text=token.text[len("_xlpm.") :])
        elif "[" in token.text:
            yield _table_token(token.text, run, book)
        else:
            yield from _name(token, run, book, depth)


def _with_sheet(token: Token, book: Book) -> Token:
    """Check that the sheet exists, and write it as the workbook does."""
    ref = token.ref
    assert ref is not None
    if ref.sheet is None:
        return token
    sheet = book.sheet(ref.sheet)
    if sheet is None:
        raise NotUnderstood(f'the workbook has no sheet "{ref.sheet}", or none with cells')
    return token if sheet.name == ref.sheet else replace(token, ref=replace(ref, sheet=sheet.name))


def _in_order(token: Token, run: Run) -> Token:
    """Write a range that a program wrote backwards (C5:A2, A$5:A2) from its first cell to its last."""
    ref = token.ref
    assert ref is not None
    if ref.single:
        return token
    if ref.fixed[0] == ref.fixed[2]:
        turned = ref.row1 > ref.row2
    else:  # one edge moves with the row, and passes the other one
        turning = ref.row1 - ref.row2 if ref.fixed[0] else ref.row2 - ref.row1 + 1
        if run.first < turning <= run.last:
            raise SplitAt(turning)
        turned = (run.first < turning) == ref.fixed[0]
    r1, c1, r2, c2 = ref.fixed
    if turned:
        ref = replace(ref, row1=ref.row2, row2=ref.row1, fixed=(r2, c1, r1, c2))
    left = ref.column1 if c1 else run.column + ref.column1
    if left > (ref.column2 if c2 else run.column + ref.column2):
        ref = replace(ref, column1=ref.column2, column2=ref.column1, fixed=(ref.fixed[0], c2, ref.fixed[2], c1))
    return token if ref is token.ref else replace(token, ref=ref)


def _body_of(text: str, run: Run, book: Book) -> str | None:
    """Return the formula of a defined name, of the sheet that it names or else of the workbook."""
    owner, name = split_qualified(text)
    key = name.lower()
    scope = None if owner is None else book.sheet(owner)
    sheet = run.sheet if owner is None else scope.name if scope else None
    return book.names.get((sheet, key)) or book.names.get((None, key))


def _name(token: Token, run: Run, book: Book, depth: int) -> Iterator[Token]:
    owner, name = split_qualified(token.text)
    key = name.lower()
    body = _body_of(token.text, run, book)
    if body is None:
        if owner is None and key in book.tables:
            yield _table_token(token.text + "[]", run, book)
            return
        if ":" in token.text:
            raise NotUnderstood(f"{token.text} spans several sheets or is computed")
        raise NotUnderstood(f'the name "{token.text}" is not defined')
    inner = _around(parse(body, 1, 1), run)
    if any(part.opens and function_name(part.text) == "LAMBDA" for part in inner.tokens):
        raise NotUnderstood(f'the name "{token.text}" is a LAMBDA')
    expanded = list(_expand(inner.tokens, run, book, depth + 1))
    if len(expanded) == 1:
        yield expanded[0]
    else:
        yield Token(XlToken.PAREN, XlToken.OPEN, "(")
        yield from expanded
        yield Token(XlToken.PAREN, XlToken.CLOSE, ")")


def _around(template: Template, run: Run) -> Template:
    """Turn offsets of a relative name that lead past the end of the sheet into those that lead back from it."""

    def edge(offset: int, fixed: bool, first: int, last: int, most: int) -> int:
        if fixed or last + offset <= most:
            return offset
        if first + offset <= most:
            raise SplitAt(most - offset + 1)
        return offset - most

    def moved(ref: Ref) -> Ref:
        rows, columns = (run.first, run.last, LAST_ROW), (run.column, run.column, LAST_COLUMN)
        return replace(
            ref,
            row1=edge(ref.row1, ref.fixed[0], *rows),
            column1=edge(ref.column1, ref.fixed[1], *columns),
            row2=edge(ref.row2, ref.fixed[2], *rows),
            column2=edge(ref.column2, ref.fixed[3], *columns),
        )

    return Template(tuple(replace(t, ref=moved(t.ref)) if t.ref is not None else t for t in template.tokens))


# Table references


def _table_token(text: str, run: Run, book: Book) -> Token:
    name, _, rest = text.partition("[")
    table = book.tables.get(name.lower()) if name else _table_around(run, book)
    if table is None:
        raise NotUnderstood(f'the table "{name}" does not exist' if name else "it is outside its table")
    sections, columns = _table_items(rest[: rest.rindex("]")])
    rows = _table_rows(table, sections, run)
    if rows is None:
        return Token(XlToken.OPERAND, XlToken.ERROR, "#VALUE!")
    numbers = []
    for column in columns:
        if column.lower() not in table.columns:
            raise NotUnderstood(f'the table has no column "{column}"')
        numbers.append(table.columns[column.lower()])
    c1, c2 = (min(numbers), max(numbers)) if numbers else (table.area[1], table.area[3])
    (r1, r2), relative = rows
    single = r1 == r2 and c1 == c2
    ref = Ref(table.sheet, r1, c1, r2, c2, (not relative, True, not relative, True), single)
    return Token(XlToken.OPERAND, XlToken.RANGE, text, ref)


def _table_around(run: Run, book: Book) -> Table | None:
    for table in book.tables.values():
        r1, c1, r2, c2 = table.area
        if table.sheet == run.sheet and r1 <= run.first and run.last <= r2 and c1 <= run.column <= c2:
            return table
    return None


def _table_items(inner: str) -> tuple[list[str], list[str]]:
    """Split what stands in the outer brackets into sections (#Data, ...) and column names."""
    inner = inner.strip()
    items: list[str] = []
    if inner.startswith("@"):
        items.append("#This Row")
        inner = inner[1:].strip()
    if inner.startswith("["):
        found = re.findall(r"\[((?:[^\[\]']|'.)*)\]|([^\[\],:]+)", inner)  # [[#This Row],t]: a bare name too
        items += [bracketed or bare.strip() for bracketed, bare in found if bracketed or bare.strip()]
    elif inner:
        items.append(inner)
    plain = [re.sub(r"'(.)", r"\1", item) if not item.startswith("#") else item for item in items]
    sections = [item.lower() for item in plain if item.lower() in _SECTIONS]
    return sections, [item for item in plain if item.lower() not in _SECTIONS]


def _table_rows(table: Table, sections: list[str], run: Run) -> tuple[tuple[int, int], bool] | None:
    """Return (first, last) row and whether they are relative; None where there is no such row."""
    first, last = table.data_rows
    if "#this row" in sections:
        for boundary in (first, last + 1):
            if run.first < boundary <= run.last:
                raise SplitAt(boundary)
        return ((0, 0), True) if first <= run.first <= last else None
    rows: list[int] = []
    for section in sections or ["#data"]:
        if section == "#all":
            rows += [table.area[0], table.area[2]]
        elif section == "#data":
            rows += [first, last]
        elif section == "#headers" and table.heading_rows:
            rows += [table.area[0]]
        elif section == "#totals" and table.total_rows:
            rows += [table.area[2]]
        else:
            raise NotUnderstood(f"the table has no {section[1:]} row")
    return (min(rows), max(rows)), False
