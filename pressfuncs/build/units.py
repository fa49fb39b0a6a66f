"""Generator of generated/unit_factors.json: every spelling of units.toml with its factor by pint."""

from __future__ import annotations

import json
import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

import pint

PACKAGE = Path(__file__).parent.parent


def render() -> str:
    """Return the text of unit_factors.json."""
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(
        non_int_type=Fraction
    )  # exact, so that 1 m3 is 1e9 mm3 and not 999999999.9999999
    table = {}
    for dimension, section in tomllib.loads((PACKAGE / "units.toml").read_text(encoding="utf-8")).items():
        spellings = {name: name for name in section.get("pint", [])} | section.get("also", {})
        core = registry.Quantity(section["core"])
        table[dimension] = {
            "name": section.get("name", dimension),
            "factors": {
                spelling: float((registry.Quantity(meaning) / core).to("").magnitude)
                for spelling, meaning in spellings.items()
            },
            "pint": spellings,
            "refused": section.get("refused", {}),
        }
    return json.dumps(table, indent=1, ensure_ascii=False) + "\n"
