"""A shop's profile: what a blank means in its registers, and which checks it says need not be made, and why.

[blank.die]
pad_force = 0
[blank.press]
clamping_length = "40 mm"
[not_checked]
shank = "no die of this shop has one"
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pressfuncs.batch.assignment.fields import REGISTERS, fields
from pressfuncs.batch.assignment.registers import Register, field_range, out_of_range
from pressfuncs.batch.refusals import Refused
from pressfuncs.edge.reading import read_one
from pressfuncs.errors import PressError
from pressfuncs.functions._checks import CHECKS
from pressfuncs.quantities import TEXT

_TABLES = ("blank", "not_checked")


@dataclass(frozen=True)
class Profile:
    """What a shop declares."""

    blanks: dict[str, dict[str, float | str]] = field(default_factory=dict)
    """register -> field -> what a blank means, in core units"""
    not_checked: dict[str, str] = field(default_factory=dict)
    """check -> why it need not be made"""

    def apply(self, register: Register) -> None:
        """Let a register know what its blanks mean."""
        register.blanks = dict(self.blanks.get(register.kind, {}))

    def words(self, system: str) -> list[str]:
        """Return each declaration as a sentence."""
        found = []
        for register, blanks in self.blanks.items():
            for name, value in blanks.items():
                kind = fields(register)[name].kind
                shown = value if isinstance(value, str) else kind.show(value, system)
                found.append(f"{register} register: a blank under {name.replace('_', ' ')} means {shown}")
        labels = {check.name: check.label for check in CHECKS}
        return found + [f"declared, not checked: {labels[name]}: {why}" for name, why in self.not_checked.items()]


def read_profile(path: Path, system: str = "metric") -> Profile:
    """Read a profile; bare numbers are in the units of `system`.

    Raises:
        Refused: the file cannot be read, or names a table, field or check that there is not.
    """
    try:
        loaded = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise Refused(f"cannot be read ({error.strerror})", path) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise Refused(f"is no TOML file ({error}); see the documentation of assign", path) from error
    for name, table in loaded.items():
        if name not in _TABLES or not isinstance(table, dict):
            raise Refused(f'holds "{name}"; it may hold [blank.die], [blank.press] and [not_checked]', path)
    blanks = {
        register: {name: _blank(register, name, value, system, path) for name, value in of.items()}
        for register, of in loaded.get("blank", {}).items()
        if _is_register(register, of, path)
    }
    names = [check.name for check in CHECKS]
    reasons: dict[str, str] = loaded.get("not_checked", {})
    for name, why in reasons.items():
        if name not in names:
            raise Refused(f'[not_checked]: there is no check "{name}"; choose from {", ".join(names)}', path)
        if not isinstance(why, str) or not why.strip():
            raise Refused(f"[not_checked]: write why {name} need not be checked, in quotes", path)
    return Profile(blanks, reasons)


def _is_register(register: str, of: Any, path: Path) -> bool:
    if register not in REGISTERS or not isinstance(of, dict):
        raise Refused(f"holds [blank.{register}]; it may hold [blank.die] and [blank.press]", path)
    return True


def _blank(register: str, name: str, value: Any, system: str, path: Path) -> float | str:
    known = fields(register)
    if name not in known or name == "id" or known[name].series:
        raise Refused(f'[blank.{register}]: "{name}" is no field that may be blank; see the list of fields', path)
    try:
        kind = known[name].kind
        number = float(value) if isinstance(value, int) and not isinstance(value, bool) else value
        read = read_one(known[name], number, kind.factor(system))
    except PressError as error:
        raise Refused(f"[blank.{register}]: {error.sentence(system)}", path) from None
    if kind is TEXT:
        return str(read)
    problem = out_of_range(float(read), field_range(register, name))
    if problem:
        raise Refused(f"[blank.{register}]: {name} {problem}", path)
    return float(read)
