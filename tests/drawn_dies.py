"""Dies for the tests of drawings, and what of a drawing file is measured."""

from __future__ import annotations

from pathlib import Path

import ezdxf
from ezdxf.document import Drawing

from pressfuncs.drawing.die import Die

Extent = tuple[float, float, float, float]

FIGURES: dict[str, float] = {
    "die_length": 300.0,
    "die_width": 200.0,
    "die_holder_thickness": 40.0,
    "upper_die_length": 260.0,
    "upper_die_width": 190.0,
    "punch_holder_thickness": 36.0,
    "pillar_diameter": 28.0,
    "pillar_length": 170.0,
    "pillar_spacing_length": 190.0,
    "pillar_spacing_width": 130.0,
    "pillar_offset": 8.0,
    "bush_diameter": 42.0,
    "bush_height": 70.0,
    "die_plate_length": 150.0,
    "die_plate_width": 90.0,
    "die_plate_thickness": 28.0,
    "opening_length": 60.2,
    "opening_width": 40.24,
    "punch_length": 60.0,
    "punch_width": 40.0,
    "punch_height": 80.0,
    "punch_x": 12.5,
    "punch_plate_length": 140.0,
    "punch_plate_width": 88.0,
    "punch_plate_thickness": 24.0,
    "stripper_length": 138.0,
    "stripper_width": 86.0,
    "stripper_thickness": 22.0,
    "strip_width": 70.0,
    "thickness": 2.0,
    "cut_length": 200.0,
    "shear_strength": 310.0,
    "stripping_share": 0.1,
    "slots": 4.0,
    "slot_width": 18.0,
    "slot_depth": 30.0,
    "slot_spacing": 120.0,
    "shank_diameter": 40.0,
    "shank_length": 60.0,
    "die_height": 182.0,
    "stroke": 90.0,
    "load_centre": 5.0,
    "mass": 0.0901,
    "press_shut_height": 330.0,
    "press_adjustment": 60.0,
    "press_bolster": 80.0,
    "spacer": 20.0,
    "bed_length": 520.0,
    "bed_width": 360.0,
    "slide_length": 360.0,
    "slide_width": 280.0,
    "shank_bore": 40.0,
    "ejection_share": 0.05,
    "slugs": 3.0,
    "forming_force": 0.0,
    "pad_force": 0.0,
    "reverse_share": 0.15,
    "part_height": 2.0,
    "lift": 5.0,
    "upper_mass": 0.0401,
    "stroke_rate": 1.0,
    "press_rated_force": 630e3,
    "press_rated_height": 4.0,
    "press_rod": 340.0,
    "press_energy": 2e6,
    "press_rate_low": 0.75,
    "press_rate_high": 1.5,
    "press_allowed_moment": 20e6,
    "press_clamping_length": 40.0,
    "press_clamping_width": 0.0,
    "press_mass_limit": 0.5,
    "press_upper_mass_limit": 0.12,
}
TEXTS = {
    "part": "Bracket",
    "press": "GF-63",
    "press_drive": "eccentric, top drive",
    "press_frame": "C-frame",
    "stripper": "spring",
    "feed_direction": "to the right",
}


def a_die(*without: str, **changed: float | str) -> Die:
    """Return an asymmetric die: its back right pillar is set off, its punch is not in the middle."""
    numbers = {name: value for name, value in FIGURES.items() if name not in without}
    texts = {name: value for name, value in TEXTS.items() if name not in without}
    for name, value in changed.items():
        if isinstance(value, str):
            texts[name] = value
        else:
            numbers[name] = float(value)
    return Die("D-1", numbers, texts)


def reopened(data: bytes, folder: Path) -> Drawing:
    """Write a DXF file and read it back."""
    path = folder / "drawing.dxf"
    path.write_bytes(data)
    return ezdxf.readfile(path)


def extent(document: Drawing, block: str, layer: str) -> Extent:
    """Return left, bottom, right and top of all edges of a layer in a block, measured from the entities."""
    found: list[tuple[float, float]] = []
    for entity in document.blocks.get(block):
        parts = entity.virtual_entities() if entity.dxftype() == "INSERT" else [entity]
        for part in parts:
            if part.dxf.layer != layer:
                continue
            if part.dxftype() == "LINE":
                found += [part.dxf.start.vec2, part.dxf.end.vec2]
            elif part.dxftype() == "LWPOLYLINE":
                found += part.get_points("xy")
            elif part.dxftype() == "CIRCLE":
                (x, y, _), r = part.dxf.center, part.dxf.radius
                found += [(x - r, y - r), (x + r, y + r)]
    xs, ys = zip(*found)
    return min(xs), min(ys), max(xs), max(ys)


def middles(document: Drawing, block: str, component: str) -> list[tuple[float, float]]:
    """Return where components stand in a block, sorted."""
    inserts = document.blocks.get(block).query("INSERT")
    return sorted(
        (round(i.dxf.insert.x, 6), round(i.dxf.insert.y, 6)) for i in inserts if i.dxf.name.startswith(component)
    )


def measurements(document: Drawing) -> list[float]:
    """Return what the dimensions measure, sorted."""
    return sorted(dimension.get_measurement() for dimension in document.modelspace().query("DIMENSION"))


def texts(document: Drawing) -> list[str]:
    """Return every text of a drawing, in views and in the title block."""
    found = [text.dxf.text for text in document.modelspace().query("TEXT")]
    for block in document.blocks:
        if not block.name.startswith("*"):
            found += [text.dxf.text for text in block.query("TEXT")]
    return found
