"""Kinds of quantity: what a number means, the unit it is kept in, and the units it is shown in.

A function annotates its arguments with these names (`thickness: Length`); everything else about units,
in every host, follows from the `Kind` behind the name. The core units mm, N, MPa, s, tonne and rad are
coherent (mm x mm x MPa is N), so no formula carries a factor of 1000 or 60.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_DOWN, ROUND_UP, Context
from typing import Annotated, NamedTuple

from pressfuncs import units

SYSTEMS = ("metric", "inch")


class Kind(NamedTuple):
    """One kind of quantity; `core`, `metric` and `inch` are spellings of the units table ("" for none)."""

    name: str
    dimension: str
    core: str = ""
    metric: str = ""
    inch: str = ""

    @property
    def has_unit(self) -> bool:
        """Whether a bare number of this kind depends on the unit system."""
        return self.core != ""

    def unit(self, system: str) -> str:
        """Return the spelling of the unit in "core", "metric" or "inch"."""
        return {"core": self.core, "metric": self.metric, "inch": self.inch}[system]

    def pint_unit(self, system: str) -> str:
        """Return the unit in "core", "metric" or "inch" as pint writes it; "" for a plain number."""
        return units.pint_name(self.unit(system), self.dimension) if self.has_unit else ""

    def factor(self, system: str) -> float:
        """Return how many core units make one unit of `system`."""
        return units.factor(self.unit(system), self.dimension) if self.has_unit else 1.0

    def show(self, value: float, system: str = "metric") -> str:
        """Write a core value with its unit, to ten significant digits.

        >>> FORCE.show(467469.088)
        '467.469088 kN'
        """
        number = format(value / self.factor(system) + 0.0, ".10g")  # + 0.0 takes the sign off a zero
        return f"{number} {self.unit(system)}".rstrip()


LENGTH = Kind("length", "length", "mm", "mm", "in")
AREA = Kind("area", "area", "mm2", "mm2", "in2")
VOLUME = Kind("volume", "volume", "mm3", "cm3", "in3")
SECOND_MOMENT = Kind("second moment of area", "second moment of area", "mm4", "mm4", "in4")
FORCE = Kind("force", "force", "N", "kN", "tonf_us")
STRESS = Kind("stress", "pressure", "MPa", "MPa", "psi")
PRESSURE = Kind("pressure", "pressure", "MPa", "bar", "psi")
ENERGY = Kind("energy", "energy", "N.mm", "J", "ft.lbf")
TORQUE = Kind("torque", "energy", "N.mm", "N.m", "lbf.ft")
POWER = Kind("power", "power", "N.mm/s", "kW", "hp")
SPEED = Kind("speed", "speed", "mm/s", "mm/s", "in/s")
FEED_SPEED = Kind("feed speed", "speed", "mm/s", "m/min", "ft/min")
FLOW = Kind("flow", "flow", "mm3/s", "L/min", "gal/min")
MASS = Kind("mass", "mass", "tonne", "kg", "lb")
DENSITY = Kind("density", "density", "tonne/mm3", "g/cm3", "lb/in3")
INERTIA = Kind("moment of inertia", "moment of inertia", "tonne.mm2", "kg.m2", "lb.ft2")
SPRING_RATE = Kind("spring rate", "spring rate", "N/mm", "N/mm", "lbf/in")
ANGLE = Kind("angle", "angle", "rad", "deg", "deg")
ROTATION_SPEED = Kind("rotation speed", "rotation speed", "rad/s", "rpm", "rpm")
STROKE_RATE = Kind("stroke rate", "stroke rate", "strokes/s", "strokes/min", "strokes/min")
PART_RATE = Kind("part rate", "part rate", "parts/s", "parts/h", "parts/h")
TIME = Kind("time", "time", "s", "s", "s")
DURATION = Kind("duration", "time", "s", "h", "h")
MASS_PRICE = Kind("price by mass", "price by mass", "/tonne", "/kg", "/lb")
HOURLY_RATE = Kind("hourly rate", "hourly rate", "/s", "/h", "/h")
RATIO = Kind("ratio", "ratio")
COUNT = Kind("count", "count")
MONEY = Kind("money", "money")
NUMBER = Kind("number", "number")
TEXT = Kind("text", "text")
BY_ARGUMENT = Kind("depends on the arguments", "any")

Length = Annotated[float, LENGTH]
Area = Annotated[float, AREA]
Volume = Annotated[float, VOLUME]
SecondMoment = Annotated[float, SECOND_MOMENT]
Force = Annotated[float, FORCE]
Stress = Annotated[float, STRESS]
Pressure = Annotated[float, PRESSURE]
Energy = Annotated[float, ENERGY]
Torque = Annotated[float, TORQUE]
Power = Annotated[float, POWER]
Speed = Annotated[float, SPEED]
FeedSpeed = Annotated[float, FEED_SPEED]
Flow = Annotated[float, FLOW]
Mass = Annotated[float, MASS]
Density = Annotated[float, DENSITY]
Inertia = Annotated[float, INERTIA]
SpringRate = Annotated[float, SPRING_RATE]
Angle = Annotated[float, ANGLE]
RotationSpeed = Annotated[float, ROTATION_SPEED]
StrokeRate = Annotated[float, STROKE_RATE]
PartRate = Annotated[float, PART_RATE]
Time = Annotated[float, TIME]
Duration = Annotated[float, DURATION]
MassPrice = Annotated[float, MASS_PRICE]
HourlyRate = Annotated[float, HOURLY_RATE]
Ratio = Annotated[float, RATIO]
Count = Annotated[float, COUNT]
Money = Annotated[float, MONEY]
Number = Annotated[float, NUMBER]
Text = Annotated[str, TEXT]
AnyKind = Annotated[float, BY_ARGUMENT]


class Series:
    """Marks an argument that takes a whole range as one list of numbers."""


class Rows:
    """Marks an argument that takes a whole range as a table: rows of cells as they are, headings first."""


class Columns(NamedTuple):
    """Marks a result of several rows; gives the heading and the kind of each column."""

    headings: tuple[str, ...]
    kinds: tuple[Kind, ...]


Lengths = Annotated[Sequence[float], LENGTH, Series()]
Forces = Annotated[Sequence[float], FORCE, Series()]
Counts = Annotated[Sequence[float], COUNT, Series()]
Energies = Annotated[Sequence[float], ENERGY, Series()]
Masses = Annotated[Sequence[float], MASS, Series()]
Monies = Annotated[Sequence[float], MONEY, Series()]
Numbers = Annotated[Sequence[float], NUMBER, Series()]

Table = Annotated[tuple[tuple[object, ...], ...], TEXT, Rows()]

CapacityRows = Annotated[
    list[tuple[float, float]],
    Columns(("height above the bottom", "capacity"), (LENGTH, FORCE)),
]


class Wording(str):
    """A text result with quantities in it: written in metric units, and again in any other system.

    Quantities are rounded to six digits, away from zero, so that what is short is never understated; one whose
    name begins with `most` is rounded towards zero.

    >>> Wording("too tall by {excess}", excess=(25.4, LENGTH)).shown("inch")
    'too tall by 1 in'
    """

    rule: str
    numbers: dict[str, tuple[float, Kind]]

    def __new__(cls, rule: str, **numbers: tuple[float, Kind]) -> Wording:
        """Make the text from a sentence with `{name}` for each `name=(core value, KIND)`."""
        self = super().__new__(cls, _fill(rule, numbers, "metric"))
        self.rule = rule
        self.numbers = numbers
        return self

    def shown(self, system: str) -> str:
        """Write the text in "core", "metric" or "inch" units."""
        return _fill(self.rule, self.numbers, system)


def _fill(rule: str, numbers: dict[str, tuple[float, Kind]], system: str) -> str:
    return rule.format(**{name: _in_words(name, value, kind, system) for name, (value, kind) in numbers.items()})


def _in_words(name: str, value: float, kind: Kind, system: str) -> str:
    """Write a quantity to six digits, rounded to the safe side: a shortage up, the most that is allowed down."""
    if not isinstance(value, (float, int)):
        return kind.show(value, system)  # a Quantity of the unit proof
    rounding = ROUND_DOWN if name.startswith("most") else ROUND_UP
    noiseless = format(value / kind.factor(system), ".10g")
    number = Context(prec=6, rounding=rounding).create_decimal(noiseless)
    return f"{float(number):.6g} {kind.unit(system)}".rstrip()


class Constant(float):
    """A number in a formula that carries a unit: its value in core units, and its kind.

    It computes as the plain float it is; the unit proof reads `kind` to put a Quantity in its place.
    """

    kind: Kind

    def __new__(cls, value: float, kind: Kind) -> Constant:
        """Make a constant of `value` core units."""
        self = super().__new__(cls, value)
        self.kind = kind
        return self
