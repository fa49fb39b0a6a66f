"""docs/excel.md says what the code does."""

from __future__ import annotations

import re
from pathlib import Path

from pressfuncs.build import lambda_names
from pressfuncs.cli import connect_excel

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "docs" / "excel.md").read_text(encoding="utf-8")
WORDS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight", 9: "nine"}


def test_the_functions_that_no_formula_can_say_are_listed():
    section = PAGE.partition("### What no formula can say")[2].partition("\n## ")[0]
    assert set(re.findall(r"`(PF_[A-Z_]+)`", section)) == set(lambda_names.refused())
    assert f"[{WORDS[len(lambda_names.refused())]} functions](#what-no-formula-can-say)" in PAGE


def test_the_steps_are_those_that_the_command_prints():
    flat = " ".join(PAGE.replace("\\", "/").split())
    for line in re.findall(r"xlwings [^\n]*", connect_excel.STEPS):
        assert line.partition(" -f ")[0] in flat
    for name in (
        connect_excel.MODULE_FILE,
        *connect_excel.SETTINGS_FILES,
        "PressfuncsRegister",
        "PressfuncsStatus",
    ):
        assert name in PAGE


def test_nothing_is_said_to_have_been_tried_in_excel():
    assert "Nothing here was tried in Excel" in PAGE
    assert "Windows only" in PAGE
    for part in re.findall(r"`(tests/\w+\.py)`", PAGE):
        assert (ROOT / part).is_file()


def test_every_heading_that_is_linked_is_there():
    headings = {
        re.sub(r"[^\w\- ]", "", h).strip().lower().replace(" ", "-") for h in re.findall(r"^#+ (.*)$", PAGE, re.M)
    }
    assert {link for link in re.findall(r"\]\(#([\w-]+)\)", PAGE)} <= headings


def test_the_safety_words_are_there():
    flat = " ".join(PAGE.split()).lower()
    for words in ("planning figure", "the machine's plate", "the local code", "never try a die to find out"):
        assert words in flat
