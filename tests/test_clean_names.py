"""Names that applications write before our functions go; every other byte stays."""

from __future__ import annotations

import codecs
import time

import pytest

from pressfuncs.batch.formulas import our_function
from pressfuncs.batch.names import clean_names
from pressfuncs.registry import FUNCTIONS

CALL = "PF_SHEARING_FORCE(A1,B1,C1)"

BEFORE = [
    "PRESSFUNCS.CALC.FUNCTIONS.",
    "pressfuncs.calc.Functions.",
    "_xll.",
    "_xlfn.",
    "_xludf.",
    "_xlfn._xludf.",
    "[1]!",
    "[12]!",
    "pressfuncs.xlam!",
    "'press tools.xlam'!",
    "'C:\\add ins\\[pressfuncs.xlam]Sheet1'!",
    "&apos;press tools.xlam&apos;!",
]


@pytest.mark.parametrize("before", BEFORE)
def test_what_stands_before_our_name_goes(before: str):
    part = f'<c r="D1"><f>1+{before}{CALL}*2</f><v>3</v></c>'.encode()
    assert clean_names(part) == (f'<c r="D1"><f>1+{CALL}*2</f><v>3</v></c>'.encode(), 1)


@pytest.mark.parametrize("before", BEFORE)
def test_recalc_knows_each_of_these_spellings(before: str):
    assert our_function(before.replace("&apos;", "'") + "PF_SHEARING_FORCE(") == "shearing_force"


def test_small_letters_become_capitals():
    assert clean_names(b"<f>pf_shearing_force(A1,B1,C1)</f>") == (f"<f>{CALL}</f>".encode(), 1)


def test_every_function_is_known():
    for spec in FUNCTIONS.values():
        assert clean_names(f"<f>_xll.{spec.sheet_name}()</f>".encode()) == (
            f"<f>{spec.sheet_name}()</f>".encode(),
            1,
        )


@pytest.mark.parametrize(
    "left_alone",
    [
        f"<f>{CALL}</f>",
        "<f>_xll.PF_NO_SUCH_FUNCTION(A1)</f>",
        "<f>_xll.SHEARING_FORCE(A1)</f>",
        "<f>_xll.PF_SHEARING_FORCE</f>",
        "<f>OTHER.PF_SHEARING_FORCE(A1)</f>",
        "<f>Dies!PF_SHEARING_FORCE(A1)</f>",
        '<f>"_xll.PF_SHEARING_FORCE(A1)"</f>',
        "<f>A1&amp;&quot;see [1]!PF_SHEARING_FORCE(A1)&quot;</f>",
        '<f>"a"" _xll.PF_SHEARING_FORCE(A1)"</f>',
        "<v>_xll.PF_SHEARING_FORCE(A1)</v>",
        "<is><t>_xll.PF_SHEARING_FORCE(A1)</t></is>",
        "<!-- <f>_xll.PF_SHEARING_FORCE(A1)</f> -->",
        "<f><!-- _xll.PF_SHEARING_FORCE(A1) --></f>",
        '<f si="0"/><v>_xll.PF_SHEARING_FORCE(A1)</v>',
    ],
)
def test_everything_else_stays(left_alone: str):
    assert clean_names(left_alone.encode()) == (left_alone.encode(), 0)


def test_formulas_stand_in_more_than_cells():
    for element in ("f", "x:f", "xm:f", "formula", "formula1", "formula2", "definedName"):
        part = f'<{element} name="a">_xll.{CALL}</{element}>'
        assert clean_names(part.encode()) == (f'<{element} name="a">{CALL}</{element}>'.encode(), 1)


def test_calls_within_calls_are_counted_one_by_one():
    part = b'<f t="array" ref="A1">_xll.PF_UTILISATION([1]!PF_SHEARING_FORCE(A1,B1,C1),"_xll.PF_X(",D1)</f>'
    cleaned = b'<f t="array" ref="A1">PF_UTILISATION(PF_SHEARING_FORCE(A1,B1,C1),"_xll.PF_X(",D1)</f>'
    assert clean_names(part) == (cleaned, 2)
    assert clean_names(cleaned) == (cleaned, 0)


def test_a_marked_section_may_hold_the_formula():
    part = f"<f><![CDATA[_xll.{CALL}]]></f>".encode()
    assert clean_names(part) == (f"<f><![CDATA[{CALL}]]></f>".encode(), 1)


@pytest.mark.parametrize(
    ("mark", "encoding"), [(codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")]
)
def test_parts_of_two_bytes_a_letter_are_read(mark: bytes, encoding: str):
    def part(formula: str) -> bytes:
        return mark + f'<?xml version="1.0" encoding="UTF-16"?>\r\n<f>{formula}</f><v>12 µm</v>'.encode(encoding)

    assert clean_names(part(f"_xll.{CALL}")) == (part(CALL), 1)
    assert clean_names(part(CALL)) == (part(CALL), 0)


@pytest.mark.parametrize(
    "piece", [b"<f>PF_<!--", b"<f>PF_<![CDATA[", b"<f>PF_'a.xl", b'<f>PF_"', b"<f>PF_[1]!_xll."]
)
def test_a_part_made_to_take_long_does_not(piece: bytes):
    part = piece * 100_000
    started = time.perf_counter()
    assert clean_names(part) == (part, 0)
    assert time.perf_counter() - started < 10
