"""The library: one module a chapter, plain functions on core units (generated)."""

from pressfuncs.functions.cutting import (
    shearing_force,
)

__all__ = [
    "shearing_force",
]
