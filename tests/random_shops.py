"""Dies and presses drawn at random, to judge assignments by: mostly sound, some sloppy, some absurd."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Any

import numpy as np
import registers_made as made
from oracle_figures import UNREAD

from pressfuncs.batch.assignment import fields
from pressfuncs.batch.assignment.registers import Register, field_range

Made = dict[str, Any]

SLOPPY = (0.0, 0.0, 0.0, 0.0, 0.02, 0.15)
"""share of figures that are missing, one of these for each row"""
CONTOURS = ("straight", "round one way", "round roof", "rectangle one way", "rectangle roof", "", "oval")
STRAIGHT, OPEN = "straight side", "C-frame"
ROOMY: Made = {
    "stroke": 200.0,
    "shut_height": 360.0,
    "adjustment": 80.0,
    "most_spacer": 120.0,
    "bed_length": 1200.0,
    "bed_width": 700.0,
    "slide_length": 900.0,
    "slide_width": 600.0,
    "shank_bore": 50.0,
    "snap_through": None,
    "allowed_moment": 60000.0,
    "rate_low": 20.0,
    "mass_limit": 1500.0,
    "upper_mass_limit": 500.0,
}
"""What most dies go into."""


def die(rng: random.Random, name: str) -> Made:
    """Draw a die: it cuts, forms or does both; its forces are stated, in parts, or both."""
    thickness = rng.choice((0.5, 1.0, 1.5, 2.0, 3.0))
    entry = rng.choice((0.0, 0.5, 1.0, 2.0, 4.0))
    row: Made = {
        "id": name,
        "thickness": thickness,
        "edge_allowance": rng.choice((None, 0.0, 0.15)),
        "penetration": rng.choice((None, 0.3, 0.5)),
        "forming_force": 0.0,
        "pad_force": rng.choice((0.0, 0.0, 10.0, 40.0)),
        "ejection_force": rng.choice((0.0, 0.0, 5.0)),
        "punch_entry": rng.choice((entry, entry, None)),
        "die_height": float(rng.randint(180, 270)),
        "die_length": float(rng.randint(200, 650)),
        "die_width": float(rng.randint(150, 400)),
        "load_centre": rng.choice((0.0, 5.0, -20.0, 60.0)),
        "part_height": rng.choice((0.0, 2.0, 5.0, 5.0, 20.0, 20.0, 60.0)),
        "lift": rng.choice((0.0, 3.0, 10.0)),
        "stroke_needed": rng.choice((None, 0.0, 30.0, 60.0, 100.0)),
        "mass": float(rng.randint(30, 420)),
        "upper_mass": float(rng.randint(10, 160)),
        "shank_diameter": rng.choice((0.0, 0.0, 0.0, 32.0, 40.0, 50.0)),
        "stroke_rate": rng.choice((40.0, 60.0, 60.0, 90.0, 120.0, 200.0)),
        "kind_wanted": rng.choice(("", "", "", "", "", "mechanical", "hydraulic", "big")),
    }
    work = rng.choice(("cut", "cut", "cut", "form", "both"))
    if work == "form":
        row |= {"cut_length": rng.choice((0.0, 0.0, None)), "cutting_force": rng.choice((0.0, 0.0, None))}
        row |= {"ejection_force": 0.0, "stripping_force": 0.0}
    else:
        row |= cut(rng, thickness)
    if work != "cut":
        begins = rng.choice((3.0, 8.0, 8.0, 20.0, 60.0))
        row |= {"forming_force": float(rng.randint(5, 150)), "working_height": begins}
    elif rng.random() < 0.5:
        groups = max(row.get("group_heights") or (0.0,))
        begins = thickness + entry + (row.get("shear_height") or 0.0) + groups
        row["working_height"] = begins + rng.choice((0.0, 0.0, 0.0, 1.0, 10.0, -0.5, -2.0))
        row["working_height"] = max(row["working_height"], 0.0)
    if rng.random() < 0.2:
        row["stroke_force"] = float(rng.randint(10, 500))
        row["force_basis"] = rng.choice(("", "stated", "parts", "?", "guess"))
    if rng.random() < 0.2:
        row["energy"] = float(rng.randint(50, 3000))
    if rng.random() < 0.2:
        row |= {"upper_die_length": row["die_length"] - 50, "upper_die_width": row["die_width"] - 50}
    return spoilt(rng, "die", row)


def cut(rng: random.Random, thickness: float) -> Made:
    """Draw a cut: of square edges, with shear, in groups, or stated."""
    length = float(rng.randint(50, 450))
    row: Made = {
        "cut_length": length,
        "reverse_share": rng.choice((0.02, 0.05, 0.1, 0.3)),
        "stripper": rng.choice((*("", "spring", "fixed", "none") * 4, "rubber")),
        "material": rng.choice((*("Q235", "Q195") * 4, "cheese")),
        **rng.choice(({"stripping_share": 0.1}, {"stripping_force": 15.0}, {"stripping_share": 0.0})),
    }
    if rng.random() < 0.7:
        row["shear_strength"] = float(rng.randint(100, 400))
    if rng.random() < 0.3:
        row |= {"ejection_force": None, "ejection_share": 0.05, "slugs": float(rng.randint(0, 4))}
    if rng.random() < 0.35:
        row |= {"shear_height": rng.choice((0.0, thickness / 2, thickness, 3.0, 8.0))}
        row |= {"shear_contour": rng.choice(CONTOURS), "sheared_length": 100.0, "sheared_width": 40.0}
        row["engaged_share"] = rng.choice((None, None, None, 0.3, 0.8, UNREAD))
    if rng.random() < 0.25:
        heights = [0.0, rng.choice((thickness, thickness / 3, 2 * thickness, 6.0))]
        row |= {"group_heights": rng.sample(heights, 2), "group_cut_lengths": [length / 2, length / 2]}
        oddity = rng.random()
        if oddity < 0.1:
            row["group_heights"] = [0.0]
        elif oddity < 0.2:
            row["cut_length"] = length + 100
        elif oddity < 0.3:
            row["cut_length"] = None
        elif oddity < 0.5:
            row |= {"group_cut_lengths": None, "group_forces": [length * 0.2, length * 0.3]}
    if rng.random() < 0.2:
        row["cutting_force"] = rng.choice((0.0, *[float(rng.randint(10, 300))] * 5))
        row["cut_length"] = rng.choice((None, None, 0.0, length))
    return row


def press(rng: random.Random, name: str) -> Made:
    """Draw a press: a crank above or below, a knuckle, a cylinder; or nobody knows what."""
    row: Made = {
        "id": name,
        "load_limit": rng.choice((None, None, 0.6, 0.8, 1.0)),
        "stroke": rng.choice((60.0, 120.0, 120.0, 200.0, 300.0)),
        "shut_height": float(rng.randint(310, 380)),
        "adjustment": rng.choice((40.0, 60.0, 80.0, 120.0)),
        "bolster": rng.choice((0.0, 50.0, 70.0)),
        "most_spacer": rng.choice((None, 0.0, 60.0, 120.0, 120.0, 120.0)),
        "bed_length": float(rng.randint(500, 1200)),
        "bed_width": float(rng.randint(350, 700)),
        "clamping_length": rng.choice((0.0, 0.0, 40.0)),
        "clamping_width": rng.choice((0.0, 0.0, 30.0)),
        "slide_length": float(rng.randint(450, 1200)),
        "slide_width": float(rng.randint(350, 700)),
        "overhang": rng.choice((None, 0.0, 50.0)),
        "shank_bore": rng.choice((40.0, 50.0, 50.0)),
        "allowed_moment": float(rng.randint(4000, 60000)),
        "snap_through": rng.choice((None, None, 10.0, 60.0, 200.0)),
        "rate_low": rng.choice((None, 20.0, 30.0, 40.0, 60.0)),
        "rate_high": rng.choice((60.0, 90.0, 120.0)),
        "mass_limit": float(rng.randint(200, 1500)),
        "upper_mass_limit": float(rng.randint(80, 500)),
    }
    drive = rng.choice((*("crank",) * 6, *("underdrive", "knuckle") * 2, *("hydraulic",) * 4, "odd"))
    plate = rng.choice((100.0, 250.0, 400.0, 630.0, 1000.0, 1000.0, 1600.0, 2500.0))
    if rng.random() < 0.7:
        row |= ROOMY
        plate = max(plate, 630.0)
    by_crank: Made = {
        "rated_force": plate,
        "rated_height": rng.choice((3.0, 6.0, 12.0, 25.0)),
        "rod": rng.choice((None, row["stroke"] * 1.2, row["stroke"] * 4)),
        **rng.choice(
            ({"energy": plate * rng.choice((2, 6, 20, 20))}, {"flywheel_energy": plate * 40, "slowdown": 0.15})
        ),
    }
    by_oil: Made = {
        "rated_force": rng.choice((None, plate, plate)),
        "bore": rng.choice((None, 120.0, 200.0, 300.0, 400.0)),
        "pressure": rng.choice((None, 160.0, 250.0)),
        "press_efficiency": rng.choice((None, 0.95)),
        "cylinders": rng.choice((None, 1.0, 2.0)),
    }
    frame = rng.choice((STRAIGHT, STRAIGHT, OPEN, "column", ""))
    if drive == "hydraulic":
        row |= by_oil | {"press_kind": rng.choice((f"hydraulic {frame}", "hydraulic", frame)), "frame": frame}
    elif drive == "odd":
        words = rng.choice(("hydraulic crank", "", OPEN, "pneumatic", "?"))
        row |= by_oil | by_crank | {"press_kind": words, "drive": rng.choice(("", "mechanical", "hydraulic"))}
    else:
        words = {
            "crank": ("mechanical", "eccentric", ""),
            "underdrive": ("crank",),
            "knuckle": ("knuckle joint", "servo"),
        }
        sides = {"crank": ("top drive", "top drive", ""), "underdrive": ("underdrive",), "knuckle": ("",)}
        row |= by_crank | {
            "press_kind": rng.choice(words[drive]),
            "drive": rng.choice(sides[drive]),
            "frame": frame,
        }
    return spoilt(rng, "press", row)


def spoilt(rng: random.Random, register: str, row: Made) -> Made:
    """Leave figures out or make them unreadable, more in some rows than in others; put a few beyond reason."""
    share = rng.choice(SLOPPY)
    for name, field in fields.fields(register).items():
        if name == "id":
            continue
        if name in row and rng.random() < share:
            row[name] = None
        if rng.random() < share / 4:
            row[name] = UNREAD
        range_ = field_range(register, name)
        if isinstance(row.get(name), float) and range_ in ("above 0", "may be 0") and rng.random() < share / 8:
            row[name] *= 20
        if range_ == "may be 0" and not field.series and rng.random() < share / 8:
            row[name] = 0.0
    return row


def register(kind: str, rows: Sequence[Made]) -> Register:
    """Return rows as a register; what is UNREAD is marked as such."""
    names = dict.fromkeys(name for row in rows for name in row)
    found = made.quick(kind, [{n: None if v == UNREAD else v for n, v in row.items()} for row in rows])
    for name in names:
        mask = np.array([row.get(name) == UNREAD for row in rows], dtype=bool)
        if mask.any():
            found.unread[name] = mask
    return found
