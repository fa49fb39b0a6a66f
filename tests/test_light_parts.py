"""Addresses, dates and tokens without openpyxl: the same as openpyxl's."""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Callable

import pytest
from openpyxl.formula.tokenizer import Tokenizer as TheirTokenizer
from openpyxl.styles.numbers import BUILTIN_FORMATS
from openpyxl.styles.numbers import is_date_format as their_is_date_format
from openpyxl.utils import cell as theirs
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900

from pressfuncs.batch import addresses as ours
from pressfuncs.batch import dates
from pressfuncs.batch.tokens import Tokenizer, TokenizerError


def answer(ask: Callable[[str], object], text: str) -> object:
    """Return an answer; "refused" for any of the errors that callers take for a refusal."""
    try:
        return ask(text)
    except (ValueError, theirs.CellCoordinatesException):
        return "refused"


def test_every_column_has_the_same_letters() -> None:
    for column in range(1, ours.MOST_COLUMNS + 1):
        letters = theirs.get_column_letter(column)
        assert ours.get_column_letter(column) == letters
        assert ours.column_index_from_string(letters) == column
        assert ours.column_index_from_string(letters.lower()) == column
    for column in (0, -1, ours.MOST_COLUMNS + 1):
        with pytest.raises(ValueError, match=f"no column {column}"):
            ours.get_column_letter(column)
    for letters in ("AAAA", "A1", "Ä", "$", " A", "\u0131"):
        with pytest.raises(ValueError, match="is no column"):
            ours.column_index_from_string(letters)


CORNERS = [
    "A1",
    "$B$2",
    "xfd1048576",
    "C$3",
    "$d4",
    "A",
    "$C",
    "1",
    "$7",
    "",
    "ABCD1",
    "A0",
    "1A",
    "A 1",
    "Ä1",
    "A-1",
]


@pytest.mark.parametrize("address", CORNERS)
def test_cells_are_split_alike(address: str) -> None:
    wanted = answer(theirs.coordinate_from_string, address)
    assert answer(ours.coordinate_from_string, address) == wanted


@pytest.mark.parametrize("area", [*CORNERS, *map(":".join, itertools.product(CORNERS, repeat=2))])
def test_ranges_have_the_same_corners(area: str) -> None:
    wanted = answer(theirs.range_boundaries, area)
    assert answer(ours.range_boundaries, area) == wanted


def test_a_line_end_or_a_foreign_digit_is_no_part_of_an_address() -> None:
    for text in ("A1\n", "A1:B2\n", "A\u0661", "A1:B\u0662"):
        assert answer(ours.coordinate_from_string, text) == "refused"
        assert answer(ours.range_boundaries, text) == "refused"


FORMATS = [*BUILTIN_FORMATS.values()]
FORMATS += ["[h]:mm", "[hh]:mm:ss", "[mm]:ss", "[ss].00", "[Red]0.0", "[$-409]d/m/yy", "[$EUR ]0.00", '0.0" mm"']
FORMATS += ['"d"0', r"0\d", "_d0", "0;dd", "yyyy;0", "[>100]0;0", "[>100]d;0", "", "@", "General", "Standard"]


@pytest.mark.parametrize("code", FORMATS)
def test_formats_of_dates_are_told_alike(code: str) -> None:
    assert dates.is_date_format(code) == their_is_date_format(code)


def test_the_built_in_formats_of_dates_are_the_same() -> None:
    assert {n for n, code in BUILTIN_FORMATS.items() if their_is_date_format(code)} == dates.BUILT_IN
    assert (dates.EPOCH_1900, dates.EPOCH_1904) == (CALENDAR_WINDOWS_1900, CALENDAR_MAC_1904)


def test_dates_go_to_days_and_back() -> None:
    assert dates.days_of("2024-02-29", dates.EPOCH_1900) == 45351.0
    assert dates.days_of("2024-02-29T12:00:00", dates.EPOCH_1904) == 45351.5 - 1462
    assert dates.date_of(45351.5, dates.EPOCH_1900) == datetime.datetime(2024, 2, 29, 12)
    assert dates.date_of(0.25, dates.EPOCH_1900) == datetime.time(6)
    with pytest.raises(ValueError, match="date"):
        dates.days_of("tomorrow", dates.EPOCH_1900)


def test_the_tokenizer_is_the_one_of_openpyxl() -> None:
    for text in (
        '=SUM(A1:B2,"x",{1;2})&-3%',
        "='a''b'!A1 B2",
        "=[1]!PF_X(T[[#This Row],[a]],#REF!)",
        "=IF(A1>=1E-3,,)",
    ):
        mine, their = Tokenizer(text).items, TheirTokenizer(text).items
        assert [(t.value, t.type, t.subtype) for t in mine] == [(t.value, t.type, t.subtype) for t in their]
    with pytest.raises(TokenizerError):
        Tokenizer('="open')
