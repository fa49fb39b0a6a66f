"""The die of the second judge: what each punch, band of shear, spring and pad does at which height."""

from __future__ import annotations

import csv
import math
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from itertools import pairwise

from oracle_figures import Figures, Row, added

STEP = 0.1
"""mm of slide travel between two looks at force and capacity"""
PIECES = 1000
"""of a contour with shear"""
DEFAULTS = {"edge_allowance": 0.3, "penetration": 1.0}


@cache
def shear_strengths() -> dict[str, float]:
    """Read the upper ends of the shear strengths straight from the table."""
    text = files("pressfuncs.tables").joinpath("materials.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return {row["name"]: float(row["shear_high_MPa"]) for row in rows if row["shear_high_MPa"]}


@dataclass
class Cut:
    """A cut as pieces of edge: each meets the sheet at its own height and pushes until the sheet breaks there."""

    pieces: list[tuple[float, float, float]]
    """force of a piece, how much sooner than the last edge its first and its last point meet the sheet"""
    depth: float
    """slide travel from touching the sheet to the break"""
    flat: bool = False
    """nobody knows which part of the edge comes when: each piece may push all the way"""
    lows: list[float] = field(init=False)
    highs: list[float] = field(init=False)

    def __post_init__(self) -> None:
        self.lows = sorted(low for _, _, low in self.pieces)
        self.highs = sorted(high for _, high, _ in self.pieces)

    @property
    def above(self) -> float:
        """How much sooner than the last edge the first one meets the sheet."""
        return self.highs[-1]

    def force(self, height: float) -> float:
        """Return the force with the slide this much above where the last edge meets the sheet."""
        if self.flat or len(self.pieces) < 20:
            return sum(
                force for force, high, low in self.pieces if low - self.depth + 1e-7 < height <= high + 1e-9
            )
        # Pieces of equal force: those that have met the sheet whole, less those that have begun to break.
        met = len(self.lows) - bisect_left(self.lows, height)
        broken = len(self.highs) - bisect_right(self.highs, height + self.depth)
        return max(met - broken, 0) * self.pieces[0][0]

    def peak(self) -> float:
        """Return the largest force, looking where pieces meet the sheet and where they break."""
        some = self.pieces[:: max(1, len(self.pieces) // 100)]
        marks = {mark for _, high, low in some for mark in (high, low, low - self.depth + 1e-6)}
        return max(self.force(mark) for mark in marks)


def contour_offsets(
    contour: str, shear: float, length: float = 0.0, width: float = 0.0
) -> list[tuple[float, float]]:
    """Walk along a contour in pieces of equal length; return how much sooner each one's ends meet the sheet."""

    def rise(at: float) -> float:
        """Return the offset at a share of the way round."""
        if contour == "straight":
            return shear * at
        if contour.startswith("round"):
            along = math.cos(2 * math.pi * at)
            return shear * (abs(along) if contour.endswith("roof") else (1 + along) / 2)
        way = at * 2 * (length + width)
        if way < length:
            along = way / length
        elif way < length + width:
            along = 1.0
        elif way < 2 * length + width:
            along = 1 - (way - length - width) / length
        else:
            along = 0.0
        return shear * (abs(2 * along - 1) if contour.endswith("roof") else along)

    ends = [(rise(i / PIECES), rise((i + 1) / PIECES)) for i in range(PIECES)]
    return [(max(pair), min(pair)) for pair in ends]


CONTOURS = ("straight", "round one way", "round roof", "rectangle one way", "rectangle roof")


class Die:
    """What a die does to the slide, over its heights."""

    def __init__(self, row: Row, blanks: Row | None = None) -> None:
        self.given = given = Figures(row, blanks or {}, DEFAULTS)
        self.number = number = given.number
        self.thickness, self.penetration = number("thickness"), number("penetration")
        self.depth = None
        if self.thickness is not None and self.penetration is not None:
            self.depth = self.thickness * self.penetration
        self._read_edges()
        self._read_cut()
        self._read_springs()
        self._read_heights()
        self._read_force()
        self._read_energy()

    def _read_edges(self) -> None:
        """Find the force of square edges, the groups, the shear, and whether the die cuts at all."""
        given, number = self.given, self.number
        strength = number("shear_strength")
        if strength is None and not given.unread("shear_strength"):
            strength = shear_strengths().get(str(given.row.get("material") or ""))
        wear, cut_length = number("edge_allowance"), number("cut_length")
        per_length = None
        if strength is not None and wear is not None and self.thickness is not None:
            per_length = strength * self.thickness * (1 + wear)
        self.square = cut_length * per_length if cut_length and per_length is not None else None
        lengths, forces, entries = (
            given.series(name) for name in ("group_cut_lengths", "group_forces", "group_heights")
        )
        self.grouped = bool(lengths or forces or entries)
        self.entries_known = not any(map(math.isnan, [*lengths, *forces, *entries])) and (
            bool(entries) or not self.grouped
        )
        self.highest_group = max(entries, default=0.0) if self.entries_known else None
        self.groups: list[tuple[float, float]] = []
        if lengths and not forces and per_length is not None:
            forces = [length * per_length for length in lengths]
        adds_up = not lengths or cut_length is None or abs(sum(lengths) - cut_length) <= 1e-6 * cut_length
        whole = sum(forces)
        self.largest_group = max(forces, default=0.0) if self.entries_known else 0.0
        if self.depth is not None and self.entries_known and forces and len(forces) == len(entries) and adds_up:
            if not given.unread("cut_length") and whole >= (self.square or 0.0) * (1 - 1e-6):
                self.groups = list(zip(forces, entries))
                self.square = self.square if self.square is not None else whole
        self.shear = number("shear_height")
        self.shear_known = not given.unread("shear_height")
        stated = number("cutting_force")
        signs = ("stripping_share", "stripping_force", "ejection_share", "ejection_force", "reverse_share")
        sign = self.grouped or bool(cut_length) or any((number(name) or 0) > 0 for name in signs)
        doubtful = given.unread("cutting_force") or given.unread("cut_length")
        self.contradicts = stated == 0 and (bool(cut_length) or self.grouped)
        self.cuts: bool | None = None
        if (stated or 0) > 0 or sign:
            self.cuts = True
        elif (stated == 0 or cut_length == 0) and not doubtful:
            self.cuts = False

    def _read_cut(self) -> None:
        """Lay the cut out over the heights, as far as its figures say."""
        stated, square = self.number("cutting_force"), self.square
        shear, depth = self.shear or 0.0, self.depth
        above = None if self.highest_group is None or not self.shear_known else self.highest_group + shear
        self.cut: Cut | None = None
        self.cut_energy: float | None = None
        self.cut_begins_above = above
        self.peak_known: float | None = None
        self.base: float | None = None  # what the shares of stripping and ejection go by
        if self.cuts is not True or self.contradicts or self.given.unread("cutting_force"):
            self.peak_known = self.base = self.cut_energy = 0.0 if self.cuts is False else None
            return
        if stated:
            unlowered = self.shear == 0 and not self.grouped
            self.base = max(stated, square) if square is not None else stated if unlowered else None
            self.peak_known = stated
            if (
                self.shear is None
                and not self.grouped
                and not (square is not None and stated >= square * (1 - 1e-9))
            ):
                self.cut_begins_above = None  # lowered by something that the register does not say
            if depth is not None and self.cut_begins_above is not None:
                self.cut = Cut([(stated, self.cut_begins_above, 0.0)], depth, flat=True)
                self.cut_energy = stated * (depth + self.cut_begins_above)
            if depth is not None and square is not None and stated <= square:
                self.cut_energy = square * depth
            return
        self.base = square
        if square is None:
            return
        share = self.number("engaged_share")
        lowered = shear > 0 and share is not None and not self.groups
        self.peak_known = square * share if lowered and share is not None else square
        if depth is None:
            return
        self.cut_energy = square * depth
        contour = self.given.text("shear_contour")
        sizes = [self.number(name) or 0.0 for name in ("sheared_length", "sheared_width")]
        sized = not contour.startswith("rectangle") or min(sizes) > 0
        if self.groups and above is not None:
            self.cut = Cut([(force, entry + shear, entry) for force, entry in self.groups], depth, flat=shear > 0)
            self.peak_known = self.cut.peak()
            return
        if shear > 0 and contour in CONTOURS and sized and not self.given.there("engaged_share"):
            offsets = contour_offsets(contour, shear, *sizes)
            self.cut = Cut([(square / PIECES, high, low) for high, low in offsets], depth)
            self.peak_known = self.cut.peak()
        if above is None:
            self.cut = None
        elif self.cut is None or self.highest_group:  # which part of the edge is sooner is not known
            self.cut = Cut([(self.peak_known, above, 0.0)], depth, flat=above > 0)

    def _read_springs(self) -> None:
        """Find what springs, pads, slugs and forming push back with."""
        given, number = self.given, self.number
        word = given.text("stripper")

        def push(force: str, *shares: str) -> float | None:
            if number(force) is not None or given.unread(force):
                return number(force)
            each = [number(name) for name in shares]
            if 0 in each or self.cuts is False:
                return 0.0
            if None in each or self.base is None:
                return None
            return self.base * math.prod(each)  # type: ignore[arg-type]

        self.stripping = push("stripping_force", "stripping_share")
        if word in ("fixed", "none"):
            self.stripping = 0.0
        elif word not in ("", "spring"):
            self.stripping = None
        self.ejection = push("ejection_force", "ejection_share", "slugs")
        self.forming, self.pad = number("forming_force"), number("pad_force")

    def _read_heights(self) -> None:
        """Find where the force begins, where the last edge meets the sheet, and how deep the halves reach."""
        given, number = self.given, self.number
        stated, entry = number("working_height"), number("punch_entry")
        above = self.cut_begins_above
        touches = added(self.thickness, entry, above) if self.cuts else None
        only_cuts = self.cuts is True and self.forming == 0
        self.start = stated
        if stated is None and not given.unread("working_height") and only_cuts:
            self.start = touches
        self.first_touch = self.start
        if self.start is not None and touches is not None:
            self.start = max(
                self.start, touches
            )  # edges that reach higher than the register says push all the same
            self.first_touch = touches
        least = added(self.depth, above)
        self.impossible = (
            bool(self.cuts) and stated is not None and least is not None and stated < least * (1 - 1e-9)
        )
        if entry is None and not given.unread("punch_entry") and stated is not None:  # no deeper than that
            entry = max(stated - (self.thickness or 0.0) - (above or 0.0), 0.0)
        self.entry = entry
        self.room = added(entry, number("part_height"), number("lift"))

    def parts_at(self, height: float) -> list[float]:
        """Return every known part of the force at a height of the slide, the cut last."""
        assert self.start is not None
        pushes = [self.stripping, self.forming, self.pad]
        parts = [part if height <= self.start and part is not None else 0.0 for part in pushes]
        touched = self.first_touch is not None and height <= self.first_touch + 1e-9
        parts.append(self.ejection if touched and self.ejection is not None else 0.0)
        if (
            self.cuts
            and self.cut is not None
            and self.cut_begins_above is not None
            and self.first_touch is not None
        ):
            parts.append(self.cut.force(height - (self.first_touch - self.cut_begins_above)))
        else:
            parts.append((self.peak_known or 0.0) if touched else 0.0)
        return parts

    def heights(self) -> list[float]:
        """Return the heights to look at: every STEP, and where something begins or breaks."""
        assert self.start is not None
        found = {0.0, self.start} | {i * STEP for i in range(int(self.start / STEP) + 1)}
        if self.cut is not None and self.first_touch is not None:
            last = self.first_touch - self.cut.above
            for _, high, low in self.cut.pieces[:: max(1, len(self.cut.pieces) // 20)]:
                found |= {last + high, last + low, last + low - self.cut.depth + 1e-6}
        return sorted(height for height in found if 0 <= height <= self.start)

    def _read_force(self) -> None:
        """Lay the force out over the stroke."""
        stated = self.number("stroke_force")
        parts = [self.peak_known, self.stripping, self.ejection, self.forming, self.pad]
        by_parts = added(*parts)
        if self.peak_known is None and not self.contradicts:
            parts[0] = self.largest_group
        largest = max(part or 0.0 for part in parts)
        stands = self.given.text("force_basis") == "stated"
        known_parts = sum(part or 0.0 for part in parts)
        disproved = stated is not None and not stands and stated < known_parts * (1 - 1e-9)
        self.force_known = not self.given.unread("stroke_force")
        if by_parts is None and (stated is None or disproved):
            self.force_known = False
        self.most = max(stated or 0.0, largest if stands and stated else known_parts)
        self.profile: list[tuple[float, float]] | None = None
        if self.start is None:
            return
        self.profile = []
        for height in self.heights():
            at = self.parts_at(height)
            force = max(at) if stands and stated else sum(at)
            self.profile.append((height, max(force, stated or 0.0)))
        self.most = max(force for _, force in self.profile)

    def _read_energy(self) -> None:
        """Add up force times travel; what a stated force has above its parts may push all the way."""
        self.energy, self.energy_at_most = self.number("energy"), False
        if self.energy is not None or self.given.unread("energy") or self.profile is None or not self.force_known:
            return
        assert self.start is not None
        by_parts = added(self.peak_known, self.stripping, self.ejection, self.forming, self.pad)
        if by_parts is None or self.cut_energy is None:
            self.energy, self.energy_at_most = self.most * self.start, True
            return
        excess = max((self.number("stroke_force") or 0.0) - by_parts, 0.0)
        self.energy = self.cut_energy + excess * self.start
        self.energy_at_most = bool(excess or self.forming or self.pad or self.cut is None or self.cut.flat)
        travel = self.heights()
        for low, high in pairwise(travel):
            self.energy += sum(self.parts_at((low + high) / 2)[:-1]) * (high - low)
        self.energy = min(self.energy, self.most * self.start)
