"""The fields of a register, and how a heading as people write it is read: name, unit, or a column of its own."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from pressfuncs import quantities, units
from pressfuncs.batch.refusals import Refused
from pressfuncs.errors import WrongUnit
from pressfuncs.functions._checks import CHECKS
from pressfuncs.quantities import TEXT, Kind
from pressfuncs.registry import Argument

REGISTERS = ("die", "press")
NOT_A_FIELD = ""
"""What a shop's own table of headings says of a column that is left out on purpose."""

_FILE = Path(__file__).parent / "fields.toml"
_DRAWING_FILE = Path(__file__).parents[2] / "drawing" / "fields.toml"
_PRICES = (quantities.HOURLY_RATE.dimension, quantities.MASS_PRICE.dimension)
_PLAIN_WORDS = ("share", "ratio", "parts", "pcs", "pc", "pieces", "ea", "each", "no", "-", "1")
"""What stands in the place of a unit behind a heading of plain numbers."""
_UNIT_BEHIND = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\[\]()]*)[\])]\s*$", re.DOTALL)
_IN = re.compile(r"\s(in|en)$", re.IGNORECASE)  # "Länge in mm", "longueur en mm"
_FORCE_WORD = re.compile(r"force|kraft|kräfte|kraefte|effort|fuerza|forza|tonnage", re.IGNORECASE)
_LOAD = re.compile(r"\bload\b|\blast\b|\bcharge\b|\bcarga\b|\bcarico\b", re.IGNORECASE)  # with a unit behind it
_MASS_TOO = ("t", "ton", "tons", "tonne", "tonnes", "kg", "lb", "lbs")  # in a heading, a force or a mass
_NEAR, _MISSPELT = 0.7, 0.85
_SHORTEST = 5  # letters of a heading that may be misspelt: shorter ones are too often another word


@dataclass(frozen=True)
class Heading:
    """What a column of a register is: the field, and the factor of its bare numbers to core units."""

    field: Argument
    unit: str
    factor: float
    stated: bool
    """the heading itself names the unit"""


@dataclass(frozen=True)
class NotUsed:
    """A heading that says something, and cannot be used."""

    sentence: str
    """why; "" for a column that is left out on purpose"""
    unread: tuple[str, ...] = ()
    """fields that are therefore not known, rather than blank, if no other column gives them"""


class Near(NamedTuple):
    """The known heading that is nearest to one that is not known."""

    heading: str
    field: str
    misspelt: bool
    """so near that nothing else can be meant"""


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
        return _with_more(_entries("die"), _whole(_DRAWING_FILE)[register])
    entries: dict[str, dict[str, Any]] = _whole()[register]
    return entries


@cache
def _whole(file: Path = _FILE) -> dict[str, Any]:
    return tomllib.loads(file.read_text(encoding="utf-8"))


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
    unclear = {plain(heading) for heading in ambiguous_headings(register)}
    return {
        name: [h for h in (*entry["names"], *entry.get("abroad", [])) if plain(h) not in unclear]
        for name, entry in _entries(register).items()
    }


def headings_with_unit(register: str) -> dict[str, list[str]]:
    """Return the headings that mean each field only with a unit of its kind behind them."""
    return {name: list(entry.get("with_unit", [])) for name, entry in _entries(register).items()}


def ambiguous_headings(register: str) -> dict[str, dict[str, Any]]:
    """Return the headings that may mean two things, with why and what they leave unread."""
    own = "die" if register == "drawing" else register
    found: dict[str, dict[str, Any]] = _whole()["ambiguous"][own]
    return {k: entry for k, entry in found.items() if register != "drawing" or entry.get("drawing", True)}


def group_words(register: str) -> frozenset[str]:
    """Return the words in a row of groups that do not change what stands below them."""
    return frozenset(_whole()["group_words"]["die" if register == "drawing" else register])


@dataclass(frozen=True)
class _Vocabulary:
    """The headings of a register, by their plain form."""

    fields: dict[str, str]
    with_unit: dict[str, tuple[str, ...]]
    ambiguous: dict[str, dict[str, Any]]
    not_used: frozenset[str]
    as_written: dict[str, str]


@cache
def _vocabulary(register: str) -> _Vocabulary:
    ambiguous = {
        key: entry for heading, entry in ambiguous_headings(register).items() for key in spellings(heading)
    }
    by_heading: dict[str, str] = {}
    as_written: dict[str, str] = {}
    for name, headings in known_headings(register).items():
        for heading in [name, *headings]:
            for key in spellings(heading):
                if key not in ambiguous:
                    by_heading.setdefault(key, name)
                    as_written.setdefault(key, heading.replace("_", " "))
    with_unit: dict[str, tuple[str, ...]] = {}
    for name, headings in headings_with_unit(register).items():
        for key in {key for heading in headings for key in spellings(heading)}:
            with_unit[key] = (*with_unit.get(key, ()), name)
    not_used = [
        *_whole()["not_used"]["die" if register == "drawing" else register],
        *(f"{check.name} margin" for check in CHECKS),  # what a register works out for itself
    ]
    left_out = frozenset(key for heading in not_used for key in spellings(heading)) - set(by_heading)
    return _Vocabulary(by_heading, with_unit, ambiguous, left_out, as_written)


def plain(heading: str) -> str:
    """Return a heading without what does not matter in it.

    >>> plain("Shut-Height")
    'shutheight'
    """
    text = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", heading).casefold())
    return re.sub(r"[\s._\-\u2010-\u2015:#*'\u2019]+", "", text.replace("\N{DEGREE SIGN}", "o"))


def spellings(heading: str) -> set[str]:
    """Return the plain forms of a heading: with its accents, without them, and with umlauts spelt out."""
    key = plain(heading)
    bare = "".join(sign for sign in unicodedata.normalize("NFD", key) if not unicodedata.combining(sign))
    return {key, bare, key.replace("ä", "ae").replace("ö", "oe").replace("ü", "ue")}


def read_own_headings(path: Path) -> dict[str, dict[str, str]]:
    """Read a shop's own headings: `[die]` and `[press]` tables of heading = field, "" for a column left out.

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
            if name != NOT_A_FIELD and (not isinstance(name, str) or name not in fields(register)):
                known = ", ".join(fields(register))
                raise Refused(
                    f'heading "{heading}": there is no field "{name}" of a {register}; choose from {known}, or ""'
                    " for a column that is not used",
                    path,
                )
    return {
        register: {plain(heading): name for heading, name in headings.items()}
        for register, headings in loaded.items()
    }


def read_heading(text: str, register: str, system: str, own: Mapping[str, str]) -> Heading | NotUsed | None:
    """Read a heading; None if it is not known, and its column is carried through.

    Arguments:
        text: the heading, such as "Cut length [mm]", "t (in)" or "Shut height mm"
        register: "die" or "press"
        system: units of bare numbers where the heading names none
        own: plain heading -> field, of the shop itself
    """
    text = _tidy(text)
    known = _vocabulary(register)
    if plain(text) in own:  # the shop names the heading with its unit
        return _chosen(register, (own[plain(text)],), _parted(text)[1], text, system)
    for name, unit in _ways(text):
        key = plain(_IN.sub("", name)) if unit and plain(name) not in known.fields else plain(name)
        if key in own:
            return _chosen(register, (own[key],), unit, text, system)
        if key in known.not_used:
            return NotUsed("")
        if key in known.fields or key in known.with_unit or key in known.ambiguous:
            names = known.with_unit.get(key, ())
            if key in known.ambiguous and not any(_takes(register, name, unit) for name in names):
                return _unclear(known.ambiguous[key], names if unit else ())
            if key in known.fields:
                names = (known.fields[key], *names)
            if not unit and key not in known.fields:
                example = f'"{name.strip()} [{fields(register)[names[0]].kind.metric}]"'
                return NotUsed(f"is not clear without its unit: write {example}; the column is not used", names)
            return _chosen(register, names, unit, text, system)
    return None


def _tidy(text: str) -> str:
    """Return a heading on one line."""
    return re.sub(r"\s+/\s+", "/", " ".join(text.split()))


def _ways(text: str) -> Iterator[tuple[str, str]]:
    """Yield the ways to part a heading into its name and its unit."""
    bracket = _UNIT_BEHIND.match(text)
    if bracket:
        yield bracket["name"], re.sub(r"^(in|en) (?=.)", "", bracket["unit"].strip())
    yield text, ""
    for mark in (",", " ", "/"):
        name, found, unit = text.rpartition(mark)
        if found and is_unit(unit):
            yield name.strip(), unit.strip()


def _parted(text: str) -> tuple[str, str]:
    """Return the name and the unit of a heading that is not known."""
    ways = list(_ways(text))
    return ways[0] if ways[0][1] else ways[-1]


def name_in(heading: str) -> str:
    """Return the plain name in a heading, without its unit.

    >>> name_in("Bending force [kN]")
    'bendingforce'
    """
    return plain(_parted(_tidy(heading))[0])


def _unclear(entry: Mapping[str, Any], more: tuple[str, ...]) -> NotUsed:
    return NotUsed(f"{entry['why']}; the column is not used", (*entry.get("unread", ()), *more))


def _chosen(register: str, names: tuple[str, ...], unit: str, text: str, system: str) -> Heading | NotUsed | None:
    """Return the heading of the first of some fields that takes the unit."""
    if names == (NOT_A_FIELD,):
        return NotUsed("")
    fitting = [name for name in names if _takes(register, name, unit)]
    try:
        return _heading(register, (fitting or names)[0], _in_our_words(unit), text, system)
    except WrongUnit as error:
        return NotUsed(f"{error.rule}; the column is not used", names)


def _takes(register: str, name: str, unit: str) -> bool:
    """Whether a unit is one of a field's kind."""
    kind: Kind = fields(register)[name].kind
    unit = _price(_in_our_words(unit), kind)
    if unit in _PLAIN_WORDS:
        return kind is not TEXT and not kind.has_unit
    return kind.dimension in units.table() and _spelled(unit, units.table()[kind.dimension]) != ""


def _price(unit: str, kind: Kind) -> str:
    """Return the unit of a price without its money, which stays with the shop; "parts/h" is no price."""
    if kind.dimension in _PRICES and "/" in unit and not any(unit in e["factors"] for e in units.table().values()):
        return "/" + unit.rpartition("/")[2]
    return unit


def is_unit(text: str) -> bool:
    """Whether a text is a unit of any kind, or stands in the place of one; brackets around it do not matter.

    >>> is_unit("[mm]"), is_unit("EUR/h"), is_unit("tons"), is_unit("wide")
    (True, True, True, False)
    """
    unit = bare_unit(text)
    return unit in _PLAIN_WORDS or bool(_dimensions(unit))


def _dimensions(unit: str) -> set[str]:
    """Return the dimensions that a unit is a spelling of, or that refuse it as not clear."""
    price = "/" + unit.rpartition("/")[2]
    return {
        dimension
        for dimension, entry in units.table().items()
        for spelling in ((unit, price) if dimension in _PRICES else (unit,))
        if _spelled(spelling, entry) != "" or spelling in entry["refused"]
    }


def bare_unit(text: str) -> str:
    """Return a unit without the brackets around it, as units.toml spells it.

    >>> bare_unit(" (mm) ")
    'mm'
    """
    text = text.strip()
    return _in_our_words(text[1:-1].strip() if text[:1] in ("[", "(") and text[-1:] in ("]", ")") else text)


def _in_our_words(unit: str) -> str:
    """Return a unit as units.toml spells it, where it is written in another language.

    >>> _in_our_words("Zoll"), _in_our_words("EUR/Std"), _in_our_words("mm")
    ('in', 'EUR/h', 'mm')
    """
    words: dict[str, str] = _whole()["unit_words"]
    unit = unit.replace("\N{GREEK SMALL LETTER MU}", "\N{MICRO SIGN}")
    before, slash, time = unit.rpartition("/")
    return words.get(unit.casefold()) or before + slash + words.get(time.casefold(), time)


def is_force(text: str) -> bool:
    """Whether a heading that is not known is that of a force, by its unit or its words.

    >>> is_force("Striping force kN"), is_force("Gegenkraft (t)"), is_force("Coil weight (t)"), is_force("Shelf")
    (True, True, False, False)
    """
    unit = _parted(_tidy(text))[1]
    if unit not in _MASS_TOO and "force" in _dimensions(_in_our_words(unit)):
        return True
    return bool(_FORCE_WORD.search(text) or (unit and _LOAD.search(text))) and (not unit or unit in _MASS_TOO)


@cache
def nearest(text: str, register: str, of_figures: bool = True) -> Near | None:
    """Return the known heading that is nearest to one that is not known; None if there is none near.

    Arguments:
        text: the heading
        register: "die" or "press"
        of_figures: whether its column holds figures, rather than texts

    >>> nearest("Striping force kN", "die")
    Near(heading='stripping force', field='stripping_force', misspelt=True)
    """
    known = _vocabulary(register)
    name, unit = _parted(_tidy(text))
    dimensions = _dimensions(_in_our_words(unit))
    keys = [
        key
        for key, field in known.fields.items()
        if (fields(register)[field].kind is not TEXT) == of_figures
        and (not dimensions or fields(register)[field].kind.dimension in dimensions)
    ]
    found = get_close_matches(plain(name), keys, 1, _NEAR)
    if not found:
        return None
    alike = SequenceMatcher(None, plain(name), found[0]).ratio()
    misspelt = alike >= _MISSPELT and len(found[0]) >= _SHORTEST
    return Near(known.as_written[found[0]], known.fields[found[0]], misspelt)


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
    unit = _price(unit, kind)
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
