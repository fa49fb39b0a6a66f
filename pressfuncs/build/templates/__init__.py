"""The workbook templates: each module builds one, with its inputs, formulas, help sheet and stored results."""

from __future__ import annotations

from collections.abc import Callable

from pressfuncs.build.templates.die_register import FILE as DIE_REGISTER
from pressfuncs.build.templates.die_register import build as build_die_register

TEMPLATES: dict[str, Callable[[], bytes]] = {
    DIE_REGISTER: build_die_register,
}
"""File name -> function that returns the bytes of the workbook."""
