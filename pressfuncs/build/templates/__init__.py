"""The workbook templates: each module builds one, with its inputs, formulas, help sheet and stored results."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from inspect import getdoc

from pressfuncs.build.templates import die_register, die_setup, press_capacity, press_register, quote, strip_layout
from pressfuncs.build.templates.systems import file_name as file_name
from pressfuncs.quantities import SYSTEMS

BUILDERS: dict[str, Callable[[str], bytes]] = {
    module.NAME: module.build
    for module in (die_register, press_register, press_capacity, strip_layout, quote, die_setup)
}
"""Name of a template -> function that returns the bytes of its metric or its inch variant."""

TEMPLATES: dict[str, Callable[[], bytes]] = {
    file_name(name, system): partial(build, system) for name, build in BUILDERS.items() for system in SYSTEMS
}
"""File name -> function that returns the bytes of the workbook."""


def described() -> dict[str, str]:
    """Return name -> what the template is for, in the order in which work goes through them."""
    return {name: (getdoc(build) or "").partition("\n")[0] for name, build in BUILDERS.items()}
