"""One row of the register as the die that is drawn: figures in mm, pillars, outlines, and what is not given."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pressfuncs.batch.assignment.fields import fields
from pressfuncs.batch.assignment.profile import Profile
from pressfuncs.batch.assignment.registers import Register, Trouble, read_register
from pressfuncs.batch.refusals import Refused
from pressfuncs.drawing.outline import Outline, circle, read_outline, rectangle
from pressfuncs.quantities import LENGTH, Wording

CORNERS = {
    "corners": ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    "back": ((1, 1), (-1, 1)),
    "middle": ((1, 0), (-1, 0)),
    "diagonal": ((1, 1), (-1, -1)),
}
"""Where the pillars stand: left or right, front or back."""
FEEDS = {
    "to the right": ((1, 0), ("right", "left to right", "l-r", "->", "x")),
    "to the left": ((-1, 0), ("left", "right to left", "r-l", "<-", "-x")),
    "to the back": ((0, 1), ("back", "front to back", "f-b", "y")),
    "to the front": ((0, -1), ("front", "back to front", "b-f", "-y")),
}
_UNDER_THE_SAME_NAME = (
    *("stroke", "bed_length", "bed_width", "slide_length", "slide_width", "shank_bore", "load_limit"),
    *("press_kind", "press_efficiency"),
)
_AFTER_PRESS = (
    *("shut_height", "adjustment", "bolster", "most_spacer", "drive", "frame", "rated_force", "rated_height"),
    *("rod", "bore", "pressure", "cylinders", "energy", "flywheel_energy", "slowdown", "rate_low", "rate_high"),
    *("snap_through", "allowed_moment", "clamping_length", "clamping_width", "overhang", "mass_limit"),
    "upper_mass_limit",
)
PRESS_FIGURES = {name: name for name in _UNDER_THE_SAME_NAME} | {f"press_{name}": name for name in _AFTER_PRESS}
"""What is said of the press, as it is called in the row of a die -> in a register of presses."""

_SPOKEN = {
    "die_height": "closed height",
    "die_length": "die holder length",
    "die_width": "die holder width",
    "upper_die_length": "punch holder length",
    "upper_die_width": "punch holder width",
    "thickness": "sheet thickness",
    "mass": "weight",
    "press_shut_height": "press shut height",
    "press_adjustment": "slide adjustment",
    "press_bolster": "bolster",
}
"""Figures whose name in the register's fields is not what a setter calls them."""


def spoken(name: str) -> str:
    """Return what a figure is called in a sentence.

    >>> spoken("die_height"), spoken("bush_height")
    ('closed height', 'bush height')
    """
    return _SPOKEN.get(name, name.replace("_", " "))


class Contradiction(Exception):
    """Figures of a die that cannot all be right: a sentence each, with the figures in it."""

    def __init__(self, die: str, sentences: Sequence[Wording]) -> None:
        """Keep the die and the sentences."""
        super().__init__(die, sentences)
        self.die = die
        self.sentences = list(sentences)

    def shown(self, system: str) -> list[str]:
        """Return the sentences in "metric" or "inch" units."""
        return [sentence.shown(system) for sentence in self.sentences]

    def __str__(self) -> str:
        return f"die {self.die}: " + "; ".join(self.shown("metric"))


@dataclass(frozen=True)
class Pillar:
    """A guide pillar: its number, middle and diameter (None if not given)."""

    number: int
    x: float
    y: float
    diameter: float | None


@dataclass
class Die:
    """What the register says of one die; lengths in mm, other figures in core units."""

    id: str
    numbers: dict[str, float] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    series: dict[str, tuple[float, ...]] = field(default_factory=dict)
    """figures of fields that take several"""
    unread: set[str] = field(default_factory=set)
    """fields whose figure is there and could not be read: they are not blank, and no default stands for them"""
    remarks: list[Wording] = field(default_factory=list)
    """what was found on the way, for whoever reads the drawing"""
    profile: Profile = field(default_factory=Profile)
    """what the shop declares"""
    source: str = ""
    outlines: dict[str, Outline] = field(default_factory=dict)
    """outlines read from a drawing, by "punch", "opening" and "die_plate" """
    not_given: list[str] = field(default_factory=list)
    """what a view wanted and the register does not hold, in the order of asking"""

    def figure(self, name: str) -> float | None:
        """Return a figure; None if it is not given, and then it is listed."""
        if name not in self.numbers:
            self.miss(spoken(name))
        return self.numbers.get(name)

    def given(self, name: str) -> float | None:
        """Return a figure; None if it is not given and nobody misses it."""
        return self.numbers.get(name)

    def zero(self, name: str) -> float:
        """Return a figure that is 0 where it is not given: a position in the middle."""
        return self.numbers.get(name, 0.0)

    def text(self, name: str) -> str:
        """Return a text, "" if it is not given."""
        return self.texts.get(name, "")

    def miss(self, what: str) -> None:
        """List something as not given."""
        if what not in self.not_given:
            self.not_given.append(what)

    def lacking(self, *names: str) -> list[str]:
        """Return which of these figures are not given, and list them."""
        return [spoken(name) for name in names if self.figure(name) is None]

    def outline(self, part: str) -> Outline | None:
        """Return the outline of a part, such as "punch" or "die_plate"; None if not given."""
        if part in self.outlines:
            return self.outlines[part]
        x, y = (self.zero("punch_x"), self.zero("punch_y")) if part in ("punch", "opening") else (0.0, 0.0)
        diameter = self.given(f"{part}_diameter")
        if diameter is not None:
            return circle(diameter, x, y)
        length, width = self.figure(f"{part}_length"), self.figure(f"{part}_width")
        if length is None or width is None:
            return None
        return rectangle(length, width, x, y)

    @property
    def stripper(self) -> str:
        """Return "spring", "fixed" or "none"; "" if the register does not say."""
        word = self.text("stripper").casefold()
        return next((kind for kind in ("spring", "fixed", "none") if word.startswith(kind)), word)

    @property
    def shank(self) -> float | None:
        """Return the diameter of the shank; None if the die has none, or none is given."""
        return self.given("shank_diameter") or None

    @property
    def feed(self) -> tuple[str, tuple[int, int]] | None:
        """Return the direction of feed as a text and as a step; None if it is not given."""
        word = " ".join(self.text("feed_direction").casefold().split())
        for name, (step, others) in FEEDS.items():
            if word == name or word in others:
                return name, step
        return None

    @property
    def pillars(self) -> list[Pillar]:
        """Return the pillars, none if their positions are not given."""
        diameter, odd = self.given("pillar_diameter"), self.given("offset_pillar_diameter")
        if any(f"pillar_{i}_x" in self.numbers for i in range(1, 5)):
            places = [
                (i, self.numbers[f"pillar_{i}_x"], self.numbers[f"pillar_{i}_y"])
                for i in range(1, 5)
                if f"pillar_{i}_x" in self.numbers and f"pillar_{i}_y" in self.numbers
            ]
            last = max(places, key=lambda place: place[1] + place[2])[0] if places else 0
            return [Pillar(i, x, y, (odd or diameter) if i == last else diameter) for i, x, y in places]
        length = self.given("pillar_spacing_length")
        if length is None:
            return []
        corners = CORNERS.get(self.arrangement, ())
        width = self.given("pillar_spacing_width")
        if width is None and self.arrangement != "middle":
            return []
        pillars = []
        for number, (right, back) in enumerate(corners, 1):
            is_odd = (right, back) == max(corners, key=sum)
            x = right * length / 2 + (self.zero("pillar_offset") if is_odd else 0.0)
            pillars.append(Pillar(number, x, back * (width or 0.0) / 2, (odd or diameter) if is_odd else diameter))
        return pillars

    @property
    def arrangement(self) -> str:
        """Return where the pillars stand, a key of CORNERS; "" for a word that is not known."""
        word = self.text("pillar_arrangement").casefold()
        if not word:
            return "back" if self.given("pillars") == 2 else "corners"
        return next((name for name in CORNERS if word.startswith(name[:4])), "")

    @property
    def punch_entry(self) -> float | None:
        """Return how far the punch stands below the die face when closed, from the heights if they are given."""
        names = ("die_height", "die_holder_thickness", "die_plate_thickness", "punch_height")
        heights = [self.given(name) for name in (*names, "punch_holder_thickness")]
        if any(height is None for height in heights):
            return self.given("punch_entry")
        closed, holder, plate, punch, upper = (height for height in heights if height is not None)
        entry = holder + plate + punch + upper - closed
        return 0.0 if math.isclose(entry, 0.0, abs_tol=1e-9) else entry

    @property
    def punch_height(self) -> float | None:
        """Return the height of the punch below its holder, from the entry if that is given instead."""
        if "punch_height" in self.numbers:
            return self.numbers["punch_height"]
        names = (
            "die_height",
            "die_holder_thickness",
            "die_plate_thickness",
            "punch_holder_thickness",
            "punch_entry",
        )
        if any(name not in self.numbers for name in names):
            return None
        closed, holder, plate, upper, entry = (self.numbers[name] for name in names)
        return closed - holder - plate - upper + entry


@dataclass
class DieRegister:
    """The dies of a register, and what of it could not be read."""

    dies: list[Die]
    troubles: list[Trouble]

    def die(self, name: str) -> Die:
        """Return a die by its id; letter case does not matter.

        Raises:
            Refused: there is none, or its row could not be read.
        """
        for die in self.dies:
            if die.id.casefold() == name.casefold():
                return die
        for trouble in self.troubles:
            if trouble.name.casefold() == name.casefold():
                raise Refused(f"die {trouble.name}, {trouble.place}: {trouble.sentence}")
        known = ", ".join(die.id for die in self.dies[:8]) + (", ..." if len(self.dies) > 8 else "")
        raise Refused(f'there is no die "{name}"; the register holds {known}')


def read_dies(
    path: Path,
    sheet: str | None = None,
    system: str = "metric",
    presses: Path | None = None,
    own: Mapping[str, Mapping[str, str]] | None = None,
    profile: Profile | None = None,
) -> DieRegister:
    """Read all dies of a register.

    Arguments:
        path: .xlsx, .xlsm, .ods or .csv
        sheet: a sheet or table; else the one with the most headings that are known
        system: units of bare numbers under headings without a unit
        presses: a register of presses; a die's blank figures of its press are taken from there
        own: the shop's own headings (see `fields.read_own_headings`); those of dies serve the drawing too
        profile: what the shop declares

    Raises:
        Refused: a file cannot be read, or holds no register.
    """
    own = own or {}
    register = read_register(path, "drawing", sheet, system, {**own.get("die", {}), **own.get("drawing", {})})
    dies = [_die(register, i, profile or Profile()) for i in range(len(register))]
    troubles = [*register.troubles, *_unused(register)]
    if presses is not None:
        of_presses = read_register(presses, "press", None, system, own.get("press"))
        troubles += [*of_presses.troubles, *_unused(of_presses)]
        for die in dies:
            _take_press(die, of_presses)
    return DieRegister(dies, troubles)


def _die(register: Register, i: int, profile: Profile) -> Die:
    unread = {name for name, flags in register.unread.items() if flags[i]}
    numbers = {name: float(column[i]) for name, column in register.numbers.items() if name not in unread}
    return Die(
        register.ids[i],
        {name: number for name, number in numbers.items() if not math.isnan(number)},
        {name: of[i] for name, of in register.texts.items() if of[i] and name not in unread},
        {name: of[i] for name, of in register.series.items() if of[i] and name not in unread},
        unread,
        profile=profile,
        source=register.source,
    )


def _unused(register: Register) -> list[Trouble]:
    """Return a sentence for each column that means nothing here and of which nothing else is said."""
    said = {trouble.place for trouble in register.troubles}
    why = "is not used: its heading is not known; write one that is, or map it to a field with --fields"
    places = (f'column "{heading}"' for heading in register.carried)
    return [Trouble(register.kind, place, "", why) for place in places if place not in said]


def _take_press(die: Die, presses: Register) -> None:
    """Fill in what the register of presses says of the die's press; what the die's row says comes first."""
    wanted = die.text("press")
    places = [i for i, name in enumerate(presses.ids) if name.casefold() == wanted.casefold()]
    if not places:
        if wanted:
            die.remarks.append(Wording(f"press {_plain(wanted)} is not in the register of presses"))
        return
    press = _die(presses, places[0], die.profile)
    if not {"press_shut_height", "press_bolster"} & (die.numbers.keys() | die.unread):
        if "die_space" in press.numbers:  # measured from the top of the bolster; goes before the other two
            press.numbers |= {"shut_height": press.numbers["die_space"], "bolster": 0.0}
        elif "die_space" in press.unread:
            press.unread |= {"shut_height", "bolster"}
    for name, column in PRESS_FIGURES.items():
        stated = die.numbers.get(name, die.texts.get(name))
        there = press.numbers.get(column, press.texts.get(column))
        if stated is None and name not in die.unread:
            if column in press.unread:
                die.unread.add(name)
            elif isinstance(there, str):
                die.texts[name] = there
            elif there is not None:
                die.numbers[name] = there
        elif isinstance(stated, float) and isinstance(there, float) and not math.isclose(stated, there):
            kind = fields("drawing")[name].kind
            die.remarks.append(
                Wording(
                    f"{spoken(name)} is {{stated}} in the row of the die, {{there}} in the register of"
                    " presses: the row counts",
                    stated=(stated, kind),
                    there=(there, kind),
                )
            )


def read_outlines(die: Die, folder: Path, system: str) -> None:
    """Read the outlines that a die's row names, from a DXF file beside the register.

    Raises:
        Refused: the file or a layer cannot be read.
        Contradiction: a size is given a second time, in the register.
    """
    file = die.text("outline_file")
    twice = []
    for part in ("punch", "opening", "die_plate"):
        layer = die.text(f"{part}_layer")
        if not file or not layer:
            continue
        outline = read_outline(folder / file, layer, LENGTH.factor(system))
        for name, size in ((f"{part}_length", outline.length), (f"{part}_width", outline.width)):
            if abs(die.numbers.get(name, size) - size) > 0.01:
                twice.append(
                    Wording(
                        spoken(name) + " is {stated} in the register and {drawn} on layer " + _plain(layer),
                        stated=(die.numbers[name], LENGTH),
                        drawn=(size, LENGTH),
                    )
                )
        die.outlines[part] = outline
    if twice:
        raise Contradiction(die.id, twice)


def _plain(text: str) -> str:
    return text.replace("{", "(").replace("}", ")")
