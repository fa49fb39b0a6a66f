"""A recalculated register in a real LibreOffice: our stored values are shown, its ordinary formulas give ours."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from books import F, Made, make, refresh, values
from headless_office import convert

ROWS = 30

# Ordinary formulas below ours, one column each; {r} is the row, G the PF column, H another one.
BELOW = [
    "G{r}*2+H{r}",
    "G{r}-H{r}",
    "ROUND(G{r}/7,2)",
    "ROUNDUP(G{r},0)",
    "CEILING(G{r},5)",
    "FLOOR(G{r}/3,0.5)",
    'IF(G{r}>H{r},"over","fits")',
    'IF(G{r}+0.2=B{r}*C{r}*D{r}/1000+0.2,"same","not")',
    'G{r}/3&" kN"',
    'LEN(G{r}/3)&"/"&LEFT(G{r}/3,6)',
    'TEXT(G{r},"#,##0.0")&TEXT(C{r},"0.00")',
    'IFERROR(VLOOKUP(A{r},Presses!$A$1:$C$4,3,FALSE)-G{r},"no press")',
    "INDEX(Presses!$B$1:$B$4,MATCH(F{r},Presses!$A$1:$A$4,0))+G{r}",
    "SUM(G$2:G{r})",
    "MAX(G$2:G$31)-MIN(G$2:G$31)",
    "RANK(G{r},G$2:G$31)",
    'COUNTIF(G$2:G$31,">"&ROUND(G{r},1))',
    "SUMIF(F$2:F$31,F{r},G$2:G$31)",
    "SUMPRODUCT((F$2:F$31=F{r})*G$2:G$31)",
    "AVERAGE(G$2:G$31)",
    "AND(G{r}>10,H{r}<1000)",
    'IF(E{r}="",G{r},E{r})',
    "SUBTOTAL(9,G$2:G$31)",
    "INT(G{r})+MOD(G{r},7)+TRUNC(G{r},1)+ABS(-G{r})+SQRT(G{r})",
    'CONCATENATE(A{r},"-",G{r}*3)',
    'INDIRECT("G"&ROW())+OFFSET(G{r},0,1)',
    "SUM(tDies[force])/COUNT(tDies[force])",
    "tDies[[#This Row],[force]]*factor",
    'TEXTJOIN(";",TRUE,A{r},G{r},E{r})',
    'SWITCH(F{r},"P1",1,"P2",2,3)*G{r}',
    "MEDIAN(G$2:G$31)+LARGE(G$2:G$31,3)+STDEV(G$2:G$31)",
    "PRODUCT(G{r},0.5)+POWER(G{r},2)+EXP(-G{r}/100)",
    'IF(ISNUMBER(G{r}),ROUNDDOWN(G{r},-1),"x")',
    'UPPER(A{r})&INT(G{r})&MID(A{r},2,1)&SUBSTITUTE(A{r},"D","die ")',
]
_PREFIXED = ("TEXTJOIN", "SWITCH")


def as_stored(formula: str) -> str:
    """Write a formula as files hold it: newer functions with their prefix."""
    for name in _PREFIXED:
        formula = formula.replace(f"{name}(", f"_xlfn.{name}(")
    return formula


def register(tmp_path: Path) -> Path:
    cells: dict[str, Any] = dict(
        zip([f"{c}1" for c in "ABCDEFGH"], "die,L,t,tau,note,press,force,capacity".split(","))
    )
    for row in range(2, ROWS + 2):
        cells |= {
            f"A{row}": f"D{row}",
            f"B{row}": 37.3 * row,
            f"C{row}": 0.5 + row % 7 / 10,
            f"D{row}": 310.0 + row,
            f"E{row}": "kept" if row % 5 == 0 else None,
            f"F{row}": f"P{row % 3 + 1}",
            f"G{row}": F(f"PF_SHEARING_FORCE(B{row},C{row},D{row})", 1.0),
            f"H{row}": F(f"PF_REQUIRED_CAPACITY(G{row},0.8)", 1.0),
        }
        for i, formula in enumerate(BELOW):
            cells[f"{_letters(i)}{row}"] = F(as_stored(formula.format(r=row)), 1.0)
    presses: dict[str, Any] = {}
    for row in range(1, 5):
        presses |= {f"A{row}": f"P{row}", f"B{row}": 250.0 * row, f"C{row}": 1000.0 / row}
    headings = "die,L,t,tau,note,press,force,capacity".split(",")
    made = Made(tables={"tDies": ("Dies", f"A1:H{ROWS + 1}", headings)}, names=[("factor", "Presses!$C$3")])
    return make(tmp_path / "register.xlsx", {"Dies": cells, "Presses": presses}, made)


def _letters(number: int) -> str:
    place = number + 9  # from J on
    return chr(65 + place) if place < 26 else "A" + chr(65 + place - 26)


def same(ours: Any, theirs: Any) -> bool:
    if isinstance(ours, bool) or isinstance(theirs, bool):
        return bool(ours) == bool(theirs)
    if isinstance(ours, (int, float)) and isinstance(theirs, (int, float)):
        return math.isclose(ours, theirs, rel_tol=1e-12, abs_tol=1e-12)
    return bool(ours == theirs)


def test_libreoffice_shows_our_values_and_computes_the_same_ordinary_formulas_from_them(tmp_path: Path) -> None:
    path = register(tmp_path)
    found, outcome = refresh(path)
    assert outcome.complete, outcome
    assert len(outcome.changes) > ROWS * 30
    recalculated = path.with_name("register_out.xlsx")

    shown = values(convert(recalculated, tmp_path, recalculate=False))
    differing = {a: (found[a], shown.get(a)) for a in found if not same(found[a], shown.get(a))}
    assert differing == {}

    # LibreOffice does not know our functions: with their results as plain numbers it computes all the rest.
    plain = tmp_path / "plain.xlsx"
    _with_constants(path, plain, found)
    computed = values(convert(plain, tmp_path, recalculate=True))
    differing = {a: (found[a], computed.get(a)) for a in found if not same(found[a], computed.get(a))}
    assert differing == {}


def _with_constants(path: Path, plain: Path, found: dict[str, Any]) -> None:
    """Write the register again, our cells as constants and nothing stored for the ordinary formulas."""
    import openpyxl

    book = openpyxl.load_workbook(path)
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and "PF_" in cell.value:
                    cell.value = found[f"{sheet.title}!{cell.coordinate}"]
    book.save(plain)


def test_the_judge_itself_recalculates(tmp_path: Path) -> None:
    path = make(tmp_path / "a.xlsx", {"S": {"A1": 2.0, "B1": F("A1*3", 99.0)}})
    assert values(convert(path, tmp_path, recalculate=False))["S!B1"] == 99
    assert values(convert(path, tmp_path, recalculate=True))["S!B1"] == 6


@pytest.mark.parametrize("calendar", [False, True])
def test_dates_of_both_calendars_agree_with_libreoffice(tmp_path: Path, calendar: bool) -> None:
    cells = {"A1": 100.0, "B1": F("YEAR(A1)+MONTH(A1)/100", 0.0), "C1": F("PF_SHEARING_FORCE(B1,1,1000)", 0.0)}
    cells["B2"] = F('TEXT(C1*20,"yyyy-mm-dd")', "")
    path = make(tmp_path / "a.xlsx", {"S": cells}, Made(date1904=calendar))
    found, _ = refresh(path, everything=True)
    plain = make(tmp_path / "plain.xlsx", {"S": {**cells, "C1": found["S!C1"]}}, Made(date1904=calendar))
    judged = values(convert(plain, tmp_path, recalculate=True))
    assert {a: judged[a] for a in ("S!B1", "S!B2")} == {a: found[a] for a in ("S!B1", "S!B2")}
