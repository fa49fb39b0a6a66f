"""`pressfuncs assign`: the command around the assignment."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest
import registers_made as made
from click.testing import CliRunner, Result
from registers_made import DIE, HYDRAULIC, PRESS

from pressfuncs.batch.report import CAUTION
from pressfuncs.cli import main
from pressfuncs.demo import REGISTERS
from pressfuncs.templates import template_path

DIES, PRESSES = str(REGISTERS / "dies.csv"), str(REGISTERS / "presses.csv")


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["assign", *words])


def shop(*presses: dict, dies: tuple[dict, ...] = (DIE,), system: str = "metric") -> tuple[str, str]:
    """Write the registers of a shop here and return their names."""
    made.write_csv(Path("d.csv"), made.table("die", dies, system))
    made.write_csv(Path("p.csv"), made.table("press", presses, system))
    return "d.csv", "p.csv"


def as_json(*words: str) -> dict:
    done = run(*words, "--json")
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_a_cost_is_never_shown_lower_than_it_is():
    lines = run(DIES, PRESSES, "-o", "out.xlsx").stdout.splitlines()
    ranked = {die["die"]: die["ranked"] for die in as_json(DIES, PRESSES)["dies"]}
    shown = {line.split()[0]: float(line.split()[-1]) for line in lines if line.startswith("D0")}
    assert len(shown) == 12
    for die, cost in shown.items():
        exact = ranked[die][0]["cost"]
        assert exact - 1e-9 <= cost < exact + 1e-4


def test_it_writes_the_workbook_and_shows_a_short_table():
    done = run(DIES, PRESSES, "-o", "out.xlsx")
    assert done.exit_code == 0, done.output
    lines = done.stdout.splitlines()
    assert lines[0].startswith("54 dies, 14 presses: 38 suitable on paper, 8 partly checked, 8 not suitable")
    assert lines[1].split() == ["die", "best", "press", "status", "used", "parts/h", "cost", "a", "part"]
    assert sum(line.startswith("D0") for line in lines) == 12
    assert "and 34 more dies" in lines
    assert "no press takes: D021, D026, D027, D031, D036, D043, D049, D052" in lines
    assert any("have problems" in line and "sheet Problems" in line for line in lines)
    assert lines[-2:] == [CAUTION, "written: out.xlsx"]
    assert openpyxl.load_workbook("out.xlsx").sheetnames[0] == "Overview"
    assert done.stderr == ""


def test_the_same_workbook_may_hold_both_registers():
    register = str(template_path("die_register.xlsx"))
    found = as_json(register, register, "--top", "8")
    assert len(found["dies"]) == 40
    assert {len(die["ranked"]) + len(die["failing"]) for die in found["dies"]} == {8}


def test_pairs_alone_are_enough():
    done = run(DIES, PRESSES, "--pairs", "pairs.csv")
    assert done.exit_code == 0, done.output
    assert len(Path("pairs.csv").read_text(encoding="utf-8-sig").splitlines()) == 1 + 54 * 14
    assert done.stdout.endswith("written: pairs.csv\n")
    assert not Path("out.xlsx").exists()


def test_json_holds_every_pair_and_every_problem():
    found = as_json(DIES, PRESSES)
    assert found["caution"] == CAUTION
    assert found["load_limits"]["P01"] == 0.6
    assert len(found["dies"]) == 54
    assert {problem["name"] for problem in found["problems"]} >= {"D009", "D015", "D033", "D044", "D058"}
    first = found["dies"][0]
    assert [entry["rank"] for entry in first["ranked"]] == [1, 2, 3]
    assert all(entry["failing"] for entry in first["failing"])
    assert found["units"]["closed_height"] == "mm"
    assert first["ranked"][0]["margins"]["kind"] is None  # does not apply, and is not among not_checked
    assert first["ranked"][0]["not_applying"] == ["shank", "kind of press"]


def test_a_figure_that_is_missing_is_null_and_listed():
    names = shop(PRESS | {"mass_limit": None})
    (die,) = as_json(*names)["dies"]
    (entry,) = die["ranked"]
    assert entry["status"] == "partly checked"
    assert entry["not_checked"] == ["mass of the die"]
    assert entry["margins"]["mass"] is None


def test_options_reach_the_ranking():
    presses = [PRESS | {"id": f"P{i}", "rated_force": 240.0 + 100 * i, "load_limit": None} for i in range(4)]
    names = shop(*presses)
    assert len(as_json(*names)["dies"][0]["ranked"]) == 3
    assert len(as_json(*names, "--top", "1")["dies"][0]["ranked"]) == 1
    assert len(as_json(*names, "--top", "9", "--load-limit", "0.9")["dies"][0]["ranked"]) == 4
    assert len(as_json(*names, "--top", "9", "--load-limit", "0.5")["dies"][0]["ranked"]) == 2
    assert as_json(*names, "--load-limit", "1")["load_limits"]["P0"] == 1.0


def test_the_same_shop_in_inches_is_ranked_the_same():
    presses = [PRESS, PRESS | {"id": "P2", "hourly_rate": 30.0}, HYDRAULIC]
    metric = as_json(*shop(*presses))
    inch = as_json(*shop(*presses, system="inch"), "--units", "inch")
    for one, other in zip(metric["dies"], inch["dies"]):
        for kind in ("ranked", "failing"):
            assert [entry["press"] for entry in one[kind]] == [entry["press"] for entry in other[kind]]
            for entry, twin in zip(one[kind], other[kind]):
                assert entry["status"] == twin["status"]
                assert entry["cost"] == pytest.approx(twin["cost"])
                margin = entry["margins"]["closed_height"]
                assert margin == pytest.approx(twin["margins"]["closed_height"] * 25.4)
    assert inch["units"]["force"] == "tonf_us"


def test_units_say_how_bare_headings_are_read():
    made.write_csv(Path("d.csv"), [["Die", "Shut height", "t"], ["D1", 10.0, 0.1]])
    made.write_csv(Path("p.csv"), [["Press", "Die space", "Stroke"], ["P1", 12.0, 4.0]])
    (die,) = as_json("d.csv", "p.csv", "--units", "inch")["dies"]
    assert die["ranked"][0]["margins"]["closed_height"] == pytest.approx(2.0)
    (die,) = as_json("d.csv", "p.csv")["dies"]
    assert die["ranked"][0]["margins"]["closed_height"] == pytest.approx(2.0)  # 2 mm this time


def test_sheets_can_be_named_and_headings_mapped():
    book = openpyxl.Workbook()
    dies, presses = book.active, book.create_sheet("Machines")
    dies.title = "Tools"
    for row in (["Werkzeug", "Höhe [mm]"], ["W1", 250.0]):
        dies.append(row)
    for row in made.table("press", [PRESS]):
        presses.append(row)
    book.save("shop.xlsx")
    refused = run("shop.xlsx", "shop.xlsx", "--json", "--die-sheet", "Tools")
    assert refused.exit_code == 1
    assert refused.stderr.startswith("pressfuncs: shop.xlsx: holds no die register")
    Path("map.toml").write_text('[die]\n"Werkzeug" = "id"\n"Höhe" = "die_height"\n', encoding="utf-8")
    words = ["shop.xlsx", "shop.xlsx", "--fields", "map.toml", "--die-sheet", "tools", "--press-sheet", "MACHINES"]
    (die,) = as_json(*words)["dies"]
    assert die["die"] == "W1"
    assert die["ranked"][0]["margins"]["closed_height"] == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ([DIES, PRESSES], "give -o OUT.xlsx, --pairs FILE or --json"),
        ([DIES, PRESSES, "--json", "--top", "0"], "is not in the range"),
        ([DIES, PRESSES, "--json", "--load-limit", "0"], "is not in the range"),
        ([DIES, PRESSES, "--json", "--load-limit", "1.1"], "is not in the range"),
        ([DIES, PRESSES, "--json", "--load-limit", "80"], "is not in the range"),
        ([DIES, "gone.csv", "--json"], "does not exist"),
        ([DIES], "Missing argument"),
    ],
)
def test_wrong_usage_is_exit_status_2(words, sentence):
    done = run(*words)
    assert done.exit_code == 2
    assert sentence in done.stderr


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ([PRESSES, DIES, "--json"], "presses.csv: holds no die register"),
        ([DIES, PRESSES, "-o", "out.xls"], "out.xls: is no .xlsx file"),
        ([DIES, PRESSES, "--pairs", "out.txt"], "out.txt: is neither .csv nor .parquet"),
        ([DIES, PRESSES, "-o", "none/out.xlsx"], "out.xlsx: cannot be written: there is no folder"),
        ([DIES, PRESSES, "--json", "--die-sheet", "Tools"], 'dies.csv: holds no sheet or table "Tools"'),
    ],
)
def test_a_refusal_is_one_sentence_and_exit_status_1(words, sentence):
    done = run(*words)
    assert done.exit_code == 1, done.output
    assert done.stderr.startswith("pressfuncs: ")
    assert sentence in done.stderr
    assert done.stderr.count("\n") == 1
    assert list(Path().iterdir()) == []


def test_load_limit_nan_is_no_load_limit():
    assert run(DIES, PRESSES, "--json", "--load-limit", "nan").exit_code == 2


def test_the_registers_themselves_are_never_written_over():
    names = shop(PRESS)
    before = [Path(name).read_bytes() for name in names]
    done = run(*names, "--pairs", "d.csv")
    assert done.exit_code == 1
    assert "is one of the registers" in done.stderr
    assert [Path(name).read_bytes() for name in names] == before


def test_a_register_without_a_row_that_can_be_used_gives_an_empty_answer():
    Path("d.csv").write_text("Die,t [mm],Cut length\nD1,2 tons,300\n", encoding="utf-8")
    made.write_csv(Path("p.csv"), made.table("press", [PRESS]))
    done = run("d.csv", "p.csv", "-o", "out.xlsx")
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("0 dies, 1 press: 0 suitable on paper")
    assert as_json("d.csv", "p.csv")["problems"][0]["name"] == "D1"


def test_help_ends_with_examples():
    done = run("--help")
    assert done.exit_code == 0
    assert "pressfuncs assign dies.csv presses.csv --pairs pairs.csv" in done.stdout
    assert "never passed" in " ".join(done.stdout.split())
