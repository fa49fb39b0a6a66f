"""Drawing many dies: each on its own, none stops the others, and the report of what became of them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pressfuncs.batch.assignment.registers import Trouble, noun
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.report import CAUTION
from pressfuncs.drawing.die import Contradiction, Die, read_outlines
from pressfuncs.drawing.into_book import Picture, put_into
from pressfuncs.drawing.paper import scale_text
from pressfuncs.drawing.render import rendered, write
from pressfuncs.drawing.sheets import Drawn, Style, draw

DEMO = Path(__file__).parent / "demo_dies.csv"
"""Register of sixty invented dies, some of them awkward, two contradictory."""
DEMO_PRESSES = DEMO.with_name("demo_presses.csv")
"""What the rows of the dies do not say of their presses."""
_MOST_COLUMNS = 12  # of which the report says why they are not used


@dataclass
class Result:
    """What became of a die."""

    die: str
    drawings: list[Drawn] = field(default_factory=list)
    """the drawings, if they are kept"""
    files: list[str] = field(default_factory=list)
    """files or sheets"""
    scales: list[str] = field(default_factory=list)
    not_given: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    verdict: str = ""
    """of all checks of the die in its press; "" where it is not drawn there"""
    refusal: str = ""


@dataclass
class Job:
    """Where drawings go and how they look."""

    register_folder: Path
    """where outlines are looked for"""
    style: Style
    folder: Path
    suffixes: tuple[str, ...]
    stem: str = ""
    """name of the file; else the id of the die"""
    keep: bool = False
    """whether drawings are kept for a workbook"""
    taken: set[str] = field(default_factory=set)

    def draw(self, die: Die) -> Result:
        """Draw a die and write its files; a refusal is part of the result."""
        result = Result(die.id)
        try:
            read_outlines(die, self.register_folder, self.style.system)
            drawings = draw(die, self.style)
            stem = self.stem or self._free_stem(die.id)
            for drawn in drawings:
                for suffix in self.suffixes:
                    path = self.folder / f"{stem}{'-in-press' if drawn.name == 'in the press' else ''}{suffix}"
                    write(drawn, path)
                    result.files.append(str(path))
        except Contradiction as contradiction:
            result.refusal = "; ".join(contradiction.shown(self.style.system))
            return result
        except Refused as refused:
            result.refusal = str(refused)
            return result
        result.drawings = drawings if self.keep else []
        result.scales = [f"{drawn.sheet.name} {scale_text(drawn.scale)}" for drawn in drawings]
        result.not_given = list(dict.fromkeys(name for drawn in drawings for name in drawn.not_given))
        result.notes = list(drawings[0].cautions)
        result.verdict = drawings[-1].verdict
        if drawings[0].without_press:
            lacking = ", ".join(drawings[0].without_press)
            result.notes.append(f"not drawn in its press, for that it takes: {lacking}")
        return result

    def _free_stem(self, name: str) -> str:
        """Return a file name for a die that no other die of this run has."""
        plain = re.sub(r"[^\w.\- ]", "_", name).strip(" .") or "die"
        stem, number = plain, 2
        while stem.casefold() in self.taken:
            stem, number = f"{plain}_{number}", number + 1
        self.taken.add(stem.casefold())
        return stem


def into(book: Path, destination: Path, results: Sequence[Result]) -> None:
    """Put the drawings of all results on sheets of a copy of a workbook.

    Raises:
        Refused: the book cannot be read or copied.
    """
    pictures = []
    owners = []
    for result in results:
        for drawn in result.drawings:
            title = f"Die {drawn.die}" + (" in press" if drawn.name == "in the press" else "")
            caption = (
                f"Die {drawn.die}, {drawn.name}. A picture of the register as it was, which does not follow it. "
                f"{CAUTION}"
            )
            sheet = drawn.sheet
            pictures.append(
                Picture(title, rendered(drawn, ".png"), sheet.width, sheet.height, sheet.name, caption)
            )
            owners.append(result)
    if not pictures:
        return
    for result, name in zip(owners, put_into(book, destination, pictures)):
        result.files.append(f"{destination}: {name}")


def report(results: Sequence[Result], troubles: Sequence[Trouble], system: str) -> Iterator[str]:
    """Give the lines of the report."""
    for result in results:
        if result.refusal:
            yield f"{result.die}: refused: {result.refusal}"
            continue
        yield f"{result.die}: {', '.join(result.files)} ({', '.join(result.scales)})"
        if result.verdict:
            yield f"  in the press: {result.verdict}"
        if result.not_given:
            yield f"  not given: {', '.join(result.not_given)}"
        for note in result.notes:
            yield f"  note: {note}"
    columns = [trouble for trouble in troubles if trouble.place.startswith("column ")]
    for trouble in troubles:
        if trouble not in columns[_MOST_COLUMNS:]:
            of = f", {noun(trouble.register)} {trouble.name}" if trouble.name else ""
            register = "" if trouble.register == "drawing" else f"register of {trouble.register}es, "
            yield f"{register}{trouble.place}{of}: {trouble.sentence}"
    if len(columns) > _MOST_COLUMNS:
        yield f"and {len(columns) - _MOST_COLUMNS} more columns, see --json"
    refused = sum(bool(result.refusal) for result in results)
    if len(results) > 1 or refused:
        yield f"{len(results) - refused} drawn, {refused} refused."
    yield CAUTION


def as_dict(results: Sequence[Result], troubles: Sequence[Trouble], system: str) -> dict[str, Any]:
    """Return the report for programs."""
    return {
        "caution": CAUTION,
        "units": system,
        "dies": [
            {
                "die": result.die,
                "files": result.files,
                "scales": result.scales,
                "not_given": result.not_given,
                "notes": result.notes,
                "verdict": result.verdict or None,
                "refused": result.refusal or None,
            }
            for result in results
        ],
        "register": [
            {"place": t.place, noun(t.register): t.name or None, "sentence": t.sentence} for t in troubles
        ],
    }
