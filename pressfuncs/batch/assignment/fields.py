"""The fields of a register, and how a heading as people write it is read: name, unit, or a column of its own."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pressfuncs import quantities, units
from pressfuncs.batch.refusals import Refused
from pressfuncs.errors import WrongUnit
from pressfuncs.quantities import TEXT
from pressfuncs.registry import Argument

REGISTERS = ("die", "press")
_FILE = Path(__file__).parent / "fields.toml"
_DRAWING_FILE = Path(__file__).parents[2] / "drawing" / "fields.toml"
_PRICES = (quantities.HOURLY_RATE.dimension, quantities.MASS_PRICE.dimension)
_PLAIN_WORDS = ("share", "ratio", "parts", "pcs", "pc", "pieces", "ea", "each", "no", "-", "1")
"""What stands in the place of a unit behind a heading of plain numbers."""
_UNIT_BEHIND = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\[\]()]*)[\])]\s*$", re.DOTALL)


@dataclass(frozen=True)
class Heading:
    """What a column of a register is: the field, and the factor of its bare numbers to core units."""

    field: Argument
    unit: str
    factor: float
    stated: bool
    """the heading itself names the unit"""


@cache
def fields(register: str) -> dict[str, Argument]:
    """Return the fields of the "die" or the "press" register, or of a die's "drawing", by name.

    >>> fields("die")["thickness"].kind.core
    'mm'
    """
    return {
        name: Argument(
            name=name,
            kind=getattr(quantities, entry["kind"]),
            help=entry["help"],
            default=entry.get("default"),
            choices=(),
            series=entry.get("series", False),
            variadic=False,
        )
        for name, entry in _entries(register).items()
    }


@cache
def _entries(register: str) -> dict[str, dict[str, Any]]:
    if register == "drawing":
        return _with_more(_entries("die"), _load(_DRAWING_FILE, register))
    return _load(_FILE, register)


def _load(file: Path, register: str) -> dict[str, dict[str, Any]]:
    loaded: dict[str, dict[str, Any]] = tomllib.loads(file.read_text(encoding="utf-8"))[register]
    return loaded


def _with_more(entries: dict[str, dict[str, Any]], more: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Return entries with more of them; of the same name, headings are added and the rest is replaced."""
    merged = dict(entries)
    for name, entry in more.items():
        known = merged.get(name, {"names": []})
        merged[name] = {**known, **entry, "names": [*known["names"], *entry["names"]]}
    return merged


def field_entry(register: str, name: str) -> dict[str, Any]:
    """Return what fields.toml says of a field."""
    return _entries(register)[name]


def known_headings(register: str) -> dict[str, list[str]]:
    """Return the headings that mean each field, as the documentation lists them."""
    return {name: list(entry["names"]) for name, entry in _entries(register).items()}


@cache
def _by_heading(register: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, headings in known_headings(register).items():
        for heading in [name, *headings]:
            found.setdefault(plain(heading), name)
    return found


def plain(heading: str) -> str:
    """Return a heading without what does not matter in it.

    >>> plain("Shut-Height")
    'shutheight'
    """
    return re.sub(r"[\s._\-/:#*]+", "", heading.casefold())


def read_own_headings(path: Path) -> dict[str, dict[str, str]]:
    """Read a shop's own headings: `[die]` and `[press]` tables of heading = field.

    Raises:
        Refused: the file cannot be read, or names a field that there is not.
    """
    try:
        loaded = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise Refused(f"cannot be read ({error.strerror})", path) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise Refused(f"is no TOML file ({error}); see the documentation of assign", path) from error
    for register, headings in loaded.items():
        if register not in (*REGISTERS, "drawing") or not isinstance(headings, dict):
            raise Refused(f'holds "{register}"; it may hold the tables [die], [press] and [drawing]', path)
        for heading, name in headings.items():
            if not isinstance(name, str) or name not in fields(register):
                known = ", ".join(fields(register))
                raise Refused(
                    f'heading "{heading}": there is no field "{name}" of a {register}; choose from {known}', path
                )
    return {
        register: {plain(heading): name for heading, name in headings.items()}
        for register, headings in loaded.items()
    }


def read_heading(text: str, register: str, system: str, own: Mapping[str, str]) -> Heading | None:
    """Read a heading; None if the column is one that assign does not know and carries through.

    Arguments:
        text: the heading, such as "Cut length [mm]", "t (in)" or "Shut height mm"
        register: "die" or "press"
        system: units of bare numbers where the heading names none
        own: plain heading -> field, of the shop itself

    Raises:
        WrongUnit: the heading is known, but its unit is of another kind or not clear.
    """
    text = " ".join(text.split())
    known = {**_by_heading(register), **own}
    bracket = _UNIT_BEHIND.match(text)
    if bracket and plain(bracket["name"]) in known:
        return _heading(register, known[plain(bracket["name"])], bracket["unit"].strip(), text, system)
    if plain(text) in known:
        return _heading(register, known[plain(text)], "", text, system)
    for mark in (",", " "):
        name, found, unit = text.rpartition(mark)
        if found and plain(name) in known and is_unit(unit):
            return _heading(register, known[plain(name)], unit.strip(), text, system)
    return None


def is_unit(text: str) -> bool:
    """Whether a text is a unit of any kind, or stands in the place of one; brackets around it do not matter.

    >>> is_unit("[mm]"), is_unit("EUR/h"), is_unit("tons"), is_unit("wide")
    (True, True, True, False)
    """
    unit = bare_unit(text)
    price = "/" + unit.rpartition("/")[2]
    return unit in _PLAIN_WORDS or any(
        _spelled(spelling, entry) != "" or spelling in entry["refused"]
        for entry in units.table().values()
        for spelling in ((unit, price) if entry["name"] in ("price by mass", "hourly rate") else (unit,))
    )


def bare_unit(text: str) -> str:
    """Return a unit without the brackets around it.

    >>> bare_unit(" (mm) ")
    'mm'
    """
    text = text.strip()
    return text[1:-1].strip() if text[:1] in ("[", "(") and text[-1:] in ("]", ")") else text


def _spelled(unit: str, entry: Mapping[str, Any]) -> str:
    """Return how the units table spells a unit; headings in capitals write MM and KN. "" if it is not there."""
    if unit in entry["factors"]:
        return unit
    alike = [spelling for spelling in entry["factors"] if spelling.upper() == unit]
    return alike[0] if len(alike) == 1 else ""


def _heading(register: str, name: str, unit: str, text: str, system: str) -> Heading | None:
    field = fields(register)[name]
    kind = field.kind
    if kind is TEXT:  # "Part [kg]" is no name of a part
        return None if unit not in _PLAIN_WORDS and is_unit(unit) else Heading(field, "", 1.0, False)
    if kind.dimension in _PRICES and "/" in unit:
        unit = "/" + unit.rpartition("/")[2]  # "EUR/h": which money it is stays with the shop
    if not unit or (unit in _PLAIN_WORDS and not kind.has_unit):
        return Heading(field, kind.unit(system), kind.factor(system), bool(unit))
    if kind.dimension not in units.table():
        raise WrongUnit(f'heading "{text}": {name.replace("_", " ")} is a plain number', argument=name, value=unit)
    if unit not in units.table()[kind.dimension]["refused"]:
        unit = _spelled(unit, units.table()[kind.dimension]) or unit
    examples = f"{kind.metric}, {kind.inch}".strip(", ") or "share"
    try:
        return Heading(field, unit, units.factor_for(unit, kind.dimension, f'heading "{text}"', examples), True)
    except WrongUnit as error:
        raise WrongUnit(error.rule, argument=name, value=unit) from error
