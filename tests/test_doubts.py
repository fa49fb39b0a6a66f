"""Functions that the engine is known to compute otherwise are not trusted; those beside them are."""

from __future__ import annotations

import pytest

from pressfuncs.batch.book import Book, Run, Sheet
from pressfuncs.batch.doubts import doubt
from pressfuncs.batch.formulas import NotUnderstood, parse

DOUBTED = [
    'TEXT(A1,"# ?/?")',
    'TEXT(A1,"0.00E+00")',
    'TEXT(A1,"[>1]0.0;0")',
    'TEXT(A1,"General")',
    'TEXT(A1,"[h]:mm")',
    "TEXT(A1,B1)",
    'TEXT(A1,"?0")',
    "LOOKUP(2,1/(A1:A3>1),B1:B3)",
    "LOOKUP(1E306,A1:A3)",
    "XLOOKUP(A1,B1:B3,C1:C3,,-1)",
    'XLOOKUP(A1,B1:B3,C1:C3,"",0,-1)',
    "XMATCH(A1,B1:B3,1)",
    "SUMPRODUCT(A1:A3>1)",
    "SUMPRODUCT((A1:A3>1),B1:B3)",
    "SUMPRODUCT({TRUE,FALSE})",
    "FILTER(A1:C1,A2:C2>1)",
    'CONVERT(A1,"lbf","N")',
    "CONVERT(A1,B1,C1)",
    "FIXED(A1,2)",
    'CELL("row",A1)',
    "SUBTOTAL(9,Hidden!A1:A3)",
    "AGGREGATE(9,5,Hidden!A1:A3)",
    'INDIRECT("R1C1",FALSE)',
    'IFERROR(INDIRECT("tau"),0)',
    "SUM(LEN(A1:A3))",
    "SUMPRODUCT(ROUND(A1:A3,1))",
    "SUM(ABS({1;-2}))",
    "MATCH(A1,Press!B1:B4)",
    "MATCH(A1,Press!B1:B4,1)",
    "MATCH(A1,Press!A1:A4,-1)",
    "MATCH(A1,Press!A1:A4,B1)",
    "VLOOKUP(A1,Press!B1:C4,2)",
    "VLOOKUP(A1,Press!D1:D4,1,TRUE)",
    "HLOOKUP(A1,Press!A2:C3,2)",
    "LOOKUP(A1,Press!B1:B4)",
    "MATCH(A1,A$1:A9)",
]

TRUSTED = [
    'TEXT(A1,"0")',
    'TEXT(A1,"#,##0.00")',
    'TEXT(A1,"0.0%")',
    'TEXT(A1,"0.0##")',
    'TEXT(A1,"0.0"" kN""")',
    'TEXT(A1,"yyyy-mm-dd")',
    'TEXT(A1,"dd.mm.yyyy hh:mm")',
    "LOOKUP(A1,Press!$A$1:$A$4,C1:C3)",
    "LOOKUP(5,Press!$A:$A)",
    "MATCH(A1,Press!$A$1:$A$4)",
    "MATCH(A1,Press!$A$1:$A$9,1)",
    "MATCH(A1,Press!$B$1:$B$4,0)",
    "VLOOKUP(A1,Press!$A:$C,3)",
    "VLOOKUP(A1,Press!B1:C4,2,FALSE)",
    "VLOOKUP(A1,Press!B1:C4,2,)",
    "HLOOKUP(A1,Press!$A$1:$C$2,2,TRUE)",
    "XLOOKUP(A1,B1:B3,C1:C3)",
    'XLOOKUP(A1,B1:B3,C1:C3,"none",0)',
    "SUMPRODUCT((A1:A3>1)*1)",
    "SUMPRODUCT(--(A1:A3>1),B1:B3)",
    "SUMPRODUCT(A1:A3,B1:B3)",
    "FILTER(A1:A3,B1:B3>1)",
    'CONVERT(A1,"in","mm")',
    "SUBTOTAL(9,A1:A3)",
    'INDIRECT("A1")',
    "LEN(A1)",
    "ROUND(SUM(A1:A3),1)",
    "SUM(IF(A1:A3>1,B1:B3))",
    "PF_SHEARING_FORCE(A1:A3,1,1)",
    "LEFT(VLOOKUP(A1,B1:C3,2,0),2)",
]


def doubted(text: str) -> bool:
    hidden = Sheet("Hidden", "", hidden_rows=True)
    columns = {1: [1.0, 2.0, 2.0, 9.0], 2: [5.0, 1.0, 7.0, 3.0], 3: [8.0, "x", 9.0, 9.5], 4: [1.0, 2.0, 3.0, 4.0]}
    values = {column: dict(enumerate(rows, 1)) for column, rows in columns.items()}
    formula = Run("Press", 4, 4, 4, parse("D3+1", 4, 4))
    press = Sheet("Press", "", values, [formula])
    book = Book(
        {"Dies": Sheet("Dies", ""), "Hidden": hidden, "Press": press}, {(None, "tau"): "Dies!$A$1"}, {}, False
    )
    try:
        doubt(Run("Dies", 9, 9, 9, parse(text, 9, 9)), book)
    except NotUnderstood:
        return True
    return False


@pytest.mark.parametrize("text", DOUBTED)
def test_what_the_engine_gets_wrong_is_doubted(text: str) -> None:
    assert doubted(text)


@pytest.mark.parametrize("text", TRUSTED)
def test_what_the_engine_gets_right_is_trusted(text: str) -> None:
    assert not doubted(text)
