"""The words, rows and JSON of a report, from outcomes made by hand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from pressfuncs.batch.outcome import Changes, Disagreement, Failing, Frozen, Outcome
from pressfuncs.batch.report import (
    FileResult,
    Wanted,
    closing_row,
    closing_table,
    csv_report,
    digest,
    headline,
    json_report,
    text_report,
)
from pressfuncs.errors import CellError

PATH = Path("register.xlsx")


def as_json(*results: FileResult) -> Any:
    """Return what the JSON report says of some files."""
    pieces = json_report((digest(result, Wanted(as_json=True)).json for result in results), False)
    return json.loads("".join(pieces))["files"]


def as_csv(*results: FileResult) -> str:
    return "".join(csv_report(digest(result, Wanted(as_csv=True)).csv for result in results))


def changes(*befores: object) -> Changes:
    """Return changes of column A to 2, one for each value that was stored before."""
    held = {row: before for row, before in enumerate(befores, 1) if before is not None}
    return Changes({"Dies": {1: dict.fromkeys(range(1, len(befores) + 1), 2.0)}}, {"Dies": {1: held}})


@pytest.mark.parametrize(
    ("outcome", "check", "words"),
    [
        (Outcome(PATH), False, "holds no PF functions to refresh"),
        (Outcome(PATH, calls=2), False, "already up to date"),
        (Outcome(PATH, calls=2), True, "up to date"),
        (Outcome(PATH, calls=2, changes=changes(1.0)), False, "1 stored result refreshed"),
        (Outcome(PATH, calls=2, changes=changes(1.0, 1.0)), True, "2 stored results out of date"),
    ],
)
def test_the_headline_says_what_happened(outcome: Outcome, check: bool, words: str) -> None:
    assert headline(outcome, check) == words


def test_long_lists_are_cut_in_the_text_and_whole_elsewhere() -> None:
    frozen = [Frozen("Dies", f"A{row}", "it is a data table") for row in range(1, 31)]
    result = FileResult(PATH, Outcome(PATH, frozen=frozen))
    lines = list(text_report(result, False))
    assert "kept as stored (30):" in lines[1]
    assert lines[-1].strip() == "and 18 more (--json or --report FILE lists all)"
    assert len(lines) == 2 + 12 + 1
    assert len(as_json(result)[0]["frozen"]) == 30
    assert len(as_csv(result).splitlines()) == 31


def test_nothing_stored_before_is_said() -> None:
    outcome = Outcome(PATH, calls=1, changes=changes(None))
    assert any("nothing was stored before" in line for line in text_report(FileResult(PATH, outcome), False))
    outcome = Outcome(PATH, calls=1, changes=changes(None), compared=1)
    assert not any("nothing was stored" in line for line in text_report(FileResult(PATH, outcome), False))


def test_the_headline_says_that_formulas_were_kept() -> None:
    outcome = Outcome(PATH, calls=2, frozen=[Frozen("Dies", "A1", "it is a data table")])
    assert headline(outcome, True) == "up to date; 1 formula NOT REFRESHED"
    outcome.not_refreshed.append(("Dies", "B1"))
    assert headline(outcome, False) == "already up to date; 2 formulas NOT REFRESHED"


def test_every_kind_of_value_is_shown() -> None:
    pairs = [(None, 1.0), ("a", 0.1 + 0.2), (True, CellError("#N/A")), (1e-7, "b")]
    found = [Disagreement("Dies", f"A{i}", a, b, ("SUM",)) for i, (a, b) in enumerate(pairs)]
    text = "\n".join(text_report(FileResult(PATH, Outcome(PATH, disagreements=found)), False))
    assert "stored nothing, computed 1  (SUM)" in text
    assert 'stored "a", computed 0.3' in text
    assert "stored True, computed #N/A" in text
    assert 'stored 1e-07, computed "b"' in text


def test_counts_of_what_is_kept_are_named() -> None:
    text = "\n".join(text_report(FileResult(PATH, Outcome(PATH, volatile=2, left_alone=3)), False))
    assert "2 volatile formulas" in text
    assert "3 formulas that cannot be computed here and have nothing to do with PF" in text


def test_the_closing_table_has_a_line_a_file() -> None:
    failing = Failing("Dies", "A1", "PF_X", "#NUM!", "because")
    outcome = Outcome(PATH, changes=changes(1.0), failing=[failing], not_refreshed=[("Dies", "B1")])
    results = [FileResult(PATH, outcome), FileResult(Path("b.xlsx"), refusal="is damaged")]
    lines = list(closing_table(map(closing_row, results), True))
    assert lines[0].split() == ["file", "out", "of", "date", "errors", "kept", "differ"]
    assert lines[1].split() == ["register.xlsx", "1", "1", "1", "0", "not", "complete"]
    assert lines[2].split() == ["b.xlsx", "-", "-", "-", "-", "refused"]


def test_a_refusal_is_in_every_report() -> None:
    result = FileResult(PATH, refusal="is damaged")
    assert list(text_report(result, False)) == ["register.xlsx: is damaged"]
    assert as_json(result) == [{"file": "register.xlsx", "refused": "is damaged"}]
    assert "refused" in as_csv(result)


def test_the_json_of_no_files_and_of_several_is_whole() -> None:
    assert as_json() == []
    assert [file["file"] for file in as_json(FileResult(PATH, Outcome(PATH)), FileResult(PATH, refusal="x"))] == [
        "register.xlsx",
        "register.xlsx",
    ]


def test_results_that_rest_on_a_difference_are_said_first_and_loudly_in_every_report() -> None:
    found = [Disagreement("Dies", "A1", 1.0, 2.0, ("SUM",))]
    resting = [("Dies", f"E{row}") for row in range(2, 32)]
    result = FileResult(PATH, Outcome(PATH, calls=30, disagreements=found, resting=resting))
    lines = list(text_report(result, False))
    assert lines[0].endswith("already up to date; 30 REST ON DOUBTFUL VALUES")
    assert lines[1].strip().startswith("LOOK HERE FIRST")
    assert "(30)" in lines[1]
    assert lines[2].strip() == "Dies!E2"
    assert as_json(result)[0]["resting"] == [{"sheet": "Dies", "cell": cell} for _, cell in resting]
    assert sum("rests on a difference" in row for row in as_csv(result).splitlines()) == 30
    assert digest(result, Wanted()).doubtful


def test_the_functions_in_which_engine_and_file_disagree_most_are_named() -> None:
    names = [("SUBTOTAL",)] * 4 + [("ROUND", "TEXT")] * 3 + [()] * 2 + [("A",), ("B",), ("C",), ("A", "TEXT")]
    found = [Disagreement("Dies", f"A{i}", 1.0, 2.0, functions) for i, functions in enumerate(names)]
    result = FileResult(PATH, Outcome(PATH, disagreements=found))
    words = (
        "engine and file disagree most in: SUBTOTAL 4 of 13 cells, TEXT 4, ROUND 3, A 2,"
        " formulas without a function 2, and 2 more"
    )
    assert words in [line.strip() for line in text_report(result, False)]
    counts = {"SUBTOTAL": 4, "TEXT": 4, "ROUND": 3, "A": 2, "B": 1, "C": 1}
    assert list(as_json(result)[0]["disagreements_by_function"].items()) == list(counts.items())
    single = FileResult(PATH, Outcome(PATH, disagreements=found[:1]))
    assert not any("disagree most" in line for line in text_report(single, False))
