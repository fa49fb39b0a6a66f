"""Two engines and an office: what one cannot do, another may; where they differ is listed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from books import F, Made, make, refresh, values
from click.testing import CliRunner
from misled_engine import mislead

from pressfuncs.batch import engine_formulon, office
from pressfuncs.batch.engine import Formualizer
from pressfuncs.batch.engine_formulon import Formulon
from pressfuncs.batch.formulas import NotUnderstood
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.cli.app import main
from pressfuncs.errors import CellError

OURS = F("PF_SHEARING_FORCE(A1,1,1000)", 1.0)


@pytest.fixture(params=[Formualizer, Formulon])
def engine(request: pytest.FixtureRequest) -> Any:
    return request.param()


def test_engines_keep_values_formulas_and_errors(engine: Any) -> None:
    engine.add_sheet("Dies")
    engine.add_sheet("Shop's")
    engine.set_values("Dies", 1, 1, [1.5, "a", True, None, CellError("#N/A")])
    engine.set_formulas("Shop's", 1, 1, [f"Dies!A{row}" for row in range(1, 6)])
    engine.set_formulas("Dies", 1, 2, ["A1*2", "A2&A2", "1/0"])
    engine.evaluate()
    assert engine.values("Dies", 1, 1, 3) == [1.5, "a", True]
    assert engine.values("Dies", 2, 1, 3) == [3.0, "aa", CellError("#DIV/0!")]
    assert engine.values("Shop's", 1, 1, 3) == [1.5, "a", True]
    assert engine.values("Shop's", 1, 5, 5) == [CellError("#N/A")]
    engine.set_values("Dies", 1, 1, [4.0])
    engine.evaluate()
    assert engine.values("Dies", 2, 1, 1) == [8.0]


def test_what_is_no_number_is_an_error_to_the_second_engine() -> None:
    engine = Formulon()
    engine.add_sheet("Dies")
    engine.set_values("Dies", 1, 1, [float("inf"), float("nan"), 1e308])
    engine.evaluate()
    assert engine.values("Dies", 1, 1, 3) == [CellError("#NUM!"), CellError("#NUM!"), 1e308]


def test_engines_say_what_they_cannot_read_and_what_is_an_array(engine: Any) -> None:
    engine.add_sheet("Dies")
    with pytest.raises(NotUnderstood):
        engine.check("(1")
    assert engine.knows("SUM")
    assert not engine.knows("NOSUCH")
    engine.set_formulas("Dies", 1, 1, ["SEQUENCE(2,3)"])
    engine.evaluate()
    assert engine.is_array("Dies", 1, 1)
    assert engine.array("Dies") == [[1, 2, 3], [4, 5, 6]]


def test_the_second_engine_computes_what_the_first_cannot(tmp_path: Path) -> None:
    cells = {
        "A1": 100.0,
        "B1": OURS,
        "B2": F("FIXED(B1,1)", "1.0"),
        "B3": F('B2&" kN"', "1.0 kN"),
        "B4": F("PF_REQUIRED_CAPACITY(NUMBERVALUE(B2),0.8)", 1.25),
    }
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    found, alone = refresh(path)
    assert [f.cell for f in alone.frozen] == ["B2", "B4"]
    assert (found["Dies!B2"], found["Dies!B3"]) == ("1.0", "1.0 kN")
    found, both = refresh(path, second_engine=True)
    assert both.complete
    assert both.settled == 3
    assert (found["Dies!B2"], found["Dies!B3"], found["Dies!B4"]) == ("100.0", "100.0 kN", 125)


def test_the_second_engine_confirms_what_the_first_gets_otherwise(tmp_path: Path) -> None:
    """A disagreement that the second engine does not share is none; one that it shares stays."""
    cells = {"A1": 100.0, "B1": OURS, "C1": F("A1*2", 7.0), "C2": F("PF_SHEARING_FORCE(C1,1,1000)", 7.0)}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    _, both = refresh(path, second_engine=True)
    assert [d.cell for d in both.disagreements] == ["C1"]
    assert both.resting == [("Dies", "C2")]
    assert both.settled == 0


@pytest.mark.parametrize("formula", ["GETPIVOTDATA(A1,A2)*B1", 'CELL("row",B1)*B1', "[1]Other!A1*B1", "B1+C9"])
def test_what_no_engine_is_given_stays_as_it_is(tmp_path: Path, formula: str) -> None:
    cells = {"A1": 100.0, "B1": OURS, "C1": F(formula, 5.0), "C9": F("C1", 5.0)}
    path = make(tmp_path / "a.xlsx", {"Dies": cells}, Made(external="Other.xlsx"))
    found, outcome = refresh(path, second_engine=True)
    assert found["Dies!C1"] == 5
    assert not outcome.complete


def cross(path: Path, *more: str) -> tuple[int, dict[str, Any]]:
    done = CliRunner().invoke(main, ["recalc", str(path), "--check", "--cross-check", "--json", *more])
    return done.exit_code, json.loads(done.stdout)["files"][0]["cross_check"]


def test_the_cross_check_names_every_ordinary_cell_on_which_engines_differ(tmp_path: Path) -> None:
    """FLOOR(0.3,0.1) is known: one of the engines forgets that 0.3 is three times 0.1 to 15 digits."""
    cells = {
        "A1": 100.0,
        "B1": OURS,
        "C1": F("B1*2", 2.0),
        "C2": F('A1&"|"&0.1+0.2', "x"),
        "C3": F("SUM(A1:C1)", 1.0),
        "C4": F("ROUND(2.675*100,0)/100", 1.0),
    }
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    status, said = cross(path)
    assert status == 3
    assert said["engines"] == ["formualizer", "formulon", "LibreOffice"]
    assert said["compared"] == said["agreed"] == 4
    assert said["remarks"] == said["differences"] == []


def test_a_difference_is_listed_with_each_value_and_strict_objects(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An engine that is made to add up wrongly is found out."""
    mislead(monkeypatch, "SUM(", "MAX(")
    path = make(tmp_path / "a.xlsx", {"Dies": {"A1": 100.0, "A2": 1.0, "B1": OURS, "C1": F("SUM(A1:A2)", 101.0)}})
    status, said = cross(path, "--strict")
    assert status == 1
    want = {"formualizer": 101.0, "formulon": 100.0, "LibreOffice": 101.0}
    assert said["differences"] == [{"sheet": "Dies", "cell": "C1", "values": want, "functions": ["SUM"]}]
    assert said["by_function"] == {"SUM": {"differing": 1, "compared": 1}}
    done = CliRunner().invoke(main, ["recalc", str(path), "--check", "--cross-check"])
    assert "Dies!C1  formualizer 101, formulon 100, LibreOffice 101  (SUM)" in done.stdout


def test_without_the_others_the_first_engine_works_alone_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine_formulon, "installed", lambda: False)
    monkeypatch.setattr(office, "program", lambda: None)
    cells = {"A1": 100.0, "B1": OURS, "B2": F("FIXED(B1,1)", "1.0")}
    path = make(tmp_path / "a.xlsx", {"Dies": cells})
    outcome = recalculate(path, None, Options(cross_check=True))
    assert not outcome.complete
    assert outcome.crossed is not None
    assert outcome.crossed.engines == ["formualizer"]
    assert [remark.split()[0] for remark in outcome.crossed.remarks] == ["formulon", "LibreOffice"]
    assert values(path)["Dies!B2"] == "1.0"
