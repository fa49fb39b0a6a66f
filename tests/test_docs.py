"""The README and the guides: every example is run in order, every link leads somewhere, every name exists."""

from __future__ import annotations

import contextlib
import doctest
import io
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from pressfuncs.build import generate
from pressfuncs.cli import main
from pressfuncs.cli.app import COMMANDS
from pressfuncs.registry import FUNCTIONS

ROOT = Path(__file__).parent.parent
PAGES = [ROOT / "README.md", ROOT / "CHANGELOG.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
BY_HAND = [page for page in PAGES if page not in generate.PAGES]

every_page = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


def blocks(page: Path) -> Iterator[tuple[str, str]]:
    """Give language and text of every fenced block, in order."""
    for match in re.finditer(r"^```(\w*)\n(.*?)^```$", page.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL):
        yield match[1], match[2]


def run_console(text: str) -> None:
    """Run the command lines of a block and compare what each prints."""
    for entry in re.split(r"^\$ ", text, flags=re.MULTILINE)[1:]:
        line, _, expected = entry.partition("\n")
        program, *words = shlex.split(line)
        assert program == "pressfuncs"
        done = CliRunner().invoke(main, words)
        assert doctest.OutputChecker().check_output(expected, done.output, FLAGS), f"$ {line}\n{done.output}"


def run_python(text: str, names: dict[str, object], page: Path) -> None:
    """Run the examples of a block with doctest; the names they make live on in the next block."""
    parsed = doctest.DocTestParser().get_doctest(text, names, page.name, str(page), 0)
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        results = doctest.DocTestRunner(optionflags=FLAGS).run(parsed, clear_globs=False, out=said.write)
    names.update(parsed.globs)
    assert results.failed == 0, said.getvalue()


@pytest.mark.parametrize("page", BY_HAND, ids=lambda page: page.name)
def test_examples_do_what_the_page_says(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for language, text in blocks(page):
        if language == "console":
            run_console(text)
        elif language == "python" and ">>>" in text and "@function" not in text:
            run_python(text, names, page)


@every_page
def test_links_lead_to_files(page: Path):
    for target in re.findall(r"\]\((?!https?://)([^)#]+)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), target


@every_page
def test_functions_and_commands_that_are_named_exist(page: Path):
    text = page.read_text(encoding="utf-8")
    named = set(re.findall(r"\bPF_([A-Z_]+)\(", text)) - {"X"}
    assert {name.lower() for name in named} <= set(FUNCTIONS)
    commands = set(re.findall(r"(?:`|^\$ |bin/)pressfuncs ([a-z]+)", text, re.MULTILINE))
    assert commands <= set(COMMANDS)


def test_readme_begins_with_the_job_and_the_two_commands():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    first, second = (block for language, block in blocks(ROOT / "README.md") if language == "sh")
    assert "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/pressfuncs demo" in first
    assert second.strip() == "tests/run"
    assert text.index(first) < text.index(second) < text.index("\n## ")


@pytest.mark.parametrize("name", ["README.md", "docs/index.md", "docs/recalc.md", "docs/assign.md"])
def test_safety_words_are_there(name: str):
    text = " ".join((ROOT / name).read_text(encoding="utf-8").split()).lower()
    for words in ("planning figure", "the machine's plate", "the local code", "never try a die to find out"):
        assert words in text


def test_a_wrong_example_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(AssertionError):
        run_console("$ pressfuncs compute version\nthe number of the release: 99\nSource: ...\n")
    with pytest.raises(AssertionError):
        run_python(">>> 1 + 1\n3\n", {}, tmp_path / "page.md")
