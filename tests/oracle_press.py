"""The press of the second judge: its crank is stepped round, and its torque is measured on the slide."""

from __future__ import annotations

import math
from bisect import bisect_right

from oracle_figures import UNREAD, Figures, Row

NOISE = 1e-5
"""of a figure: what stepping the crank may be wrong by"""
TURNS = 1500
"""steps of the crank from bottom to top"""
RODS = (1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 50.0)
"""in strokes, where the rod is not known: the least capacity of all counts"""
DEFAULTS = {"cylinders": 1.0, "press_efficiency": 0.9, "slowdown": 0.1, "overhang": 0.0}


class Crank:
    """A crank turned step by step from the bottom of its stroke to the top."""

    def __init__(self, stroke: float, rod: float, under: bool) -> None:
        radius = stroke / 2
        self.turn = math.pi / TURNS
        self.heights = [self._slide(radius, rod, under, i * self.turn) for i in range(TURNS + 1)]
        self.levers = [(b - a) / self.turn for a, b in zip(self.heights, self.heights[1:])]

    @staticmethod
    def _slide(radius: float, rod: float, under: bool, angle: float) -> float:
        """Find the slide pin on its axis, a rod's length from the crank pin, and its height above the bottom."""
        side, up = radius * math.sin(angle), -radius * math.cos(angle)
        reach = math.sqrt(rod * rod - side * side)
        if under:  # the slide pin is above the crank, which pulls
            return (up + reach) - (-radius + rod)
        return (up - reach) - (-radius - rod)

    def lever(self, height: float) -> float:
        """Return the slide's travel per radian at a height, between two steps in proportion to the angle."""
        i = min(max(bisect_right(self.heights, height) - 1, 0), TURNS - 1)
        top = self.heights[-1]
        ends = self.heights[i], min(height, top), self.heights[i + 1]
        if i < TURNS / 2:  # near an end of the stroke the distance from it goes with the square of the angle
            low, here, high = (math.sqrt(max(end, 0.0)) for end in ends)
        else:
            low, here, high = (-math.sqrt(max(top - end, 0.0)) for end in ends)
        at = i + (here - low) / (high - low) - 0.5  # a lever holds for the middle of its step
        j = min(max(math.floor(at), 0), TURNS - 2)
        return self.levers[j] + (at - j) * (self.levers[j + 1] - self.levers[j])


class Press:
    """What a press gives over its stroke."""

    def __init__(self, row: Row, blanks: Row | None = None, load_limit: float | None = None) -> None:
        self.given = given = Figures(row, blanks or {}, DEFAULTS)
        self.number = number = given.number
        words = " ".join(given.text(name) for name in ("press_kind", "drive", "frame"))
        self._read_drive(words)
        closed = any(word in words for word in ("straight side", "column"))
        open_frame = any(word in words for word in ("c-frame", "gap frame", "obi"))
        by_frame = load_limit if load_limit is not None else 0.8 if closed and not open_frame else 0.6
        self.limit = None if given.unread("load_limit") else number("load_limit") or by_frame
        self.stroke = number("stroke")
        self.cranks: list[Crank] = []
        self.rating = self._rating()
        if self.drive == "mechanical":
            self._read_cranks(words)

    def _read_drive(self, words: str) -> None:
        hydraulic = "hydraulic" in words
        plain = any(word in words for word in ("mechanical", "crank", "eccentric", "underdrive", "top drive"))
        other = any(word in words for word in ("knuckle", "link", "toggle", "servo"))
        self.plain = not other
        self.drive: str | None = None
        strange = UNREAD in words or "pneumatic" in words
        if strange or (hydraulic and (plain or other)):
            return
        if hydraulic:
            self.drive = "hydraulic"
        elif plain or other:
            self.drive = None if self.given.there("bore") else "mechanical"
        elif self.given.there("bore") != self.given.there("rated_height"):
            self.drive = "hydraulic" if self.given.there("bore") else "mechanical"

    def _rating(self) -> float | None:
        """Return the most that the press gives at any height; of a drive that is not known the least of all."""
        number, given = self.number, self.given
        plate = number("rated_force")
        if given.unread("rated_force") or (self.drive is None and plate is None):
            return None
        if self.drive == "mechanical":
            return plate
        names = ("bore", "pressure", "cylinders", "press_efficiency")
        if any(given.unread(name) for name in names):
            return None
        bore, pressure, cylinders, efficiency = (number(name) for name in names)
        if bore is None or pressure is None or cylinders is None or efficiency is None:
            return plate
        by_bore = math.pi / 4 * bore**2 * pressure / 10 * cylinders * efficiency
        return by_bore if plate is None else min(by_bore, plate)

    def _read_cranks(self, words: str) -> None:
        stroke, rod, rated = self.stroke, self.number("rod"), self.number("rated_height")
        if stroke is None or rated is None or rated > stroke / 2 or not self.plain:
            return
        under, top = "underdrive" in words, "top drive" in words
        drives = [under] if under != top else [False, True]
        rods = [rod] if rod is not None else [stroke * strokes for strokes in RODS]
        if min(rods) > stroke / 2:
            self.cranks = [Crank(stroke, length, drive) for length in rods for drive in drives]
            self.rated_levers = [crank.lever(rated) for crank in self.cranks]

    def capacity(self, height: float) -> float | None:
        """Return the force that the press gives with its slide at a height; None if that is not known."""
        rated = self.number("rated_height")
        if self.rating is None or self.drive == "hydraulic":
            return self.rating
        if not self.plain:
            return self.rating if rated is not None and height <= rated * (1 + NOISE) else None
        if not self.cranks:
            return None
        if self.stroke is not None and height > self.stroke * (1 + NOISE):
            return None
        if rated is None or height <= rated:
            return self.rating
        by_torque = [at / max(crank.lever(height), 1e-9) for at, crank in zip(self.rated_levers, self.cranks)]
        return self.rating * min(1.0, *by_torque)
