"""How much of a drawn punch is in the sheet at one moment, where shear is ground over its outline."""

from __future__ import annotations

import math

from pressfuncs.drawing.outline import Outline
from pressfuncs.functions.cutting_shear import engaged_share


def share_in_the_sheet(
    punch: Outline, relief: float, engagement: float, direction: float, cut_length: float
) -> float:
    """Return the largest share of the whole cut that is cut at the same moment.

    Arguments:
        punch: outline of the punch that is sheared
        relief: how high the shear rises over it
        engagement: travel over which an edge cuts
        direction: direction in which the shear rises, from left to right, in rad
        cut_length: length of all edges cut; what is longer than the outline is cut at once
    """
    xs, ys = zip(*punch.points)
    around = math.fsum(math.dist(a, b) for a, b in zip(punch.points, (*punch.points[1:], punch.points[0])))
    rest = max(cut_length - around, 0.0)
    return (engaged_share(xs, ys, relief, engagement, direction) * around + rest) / (around + rest)
