"""Float noise at a boundary: 0.1 + 0.2 - 0.3 is no gap, and 25.000000000000004 strokes are 25.

The allowances are far above the noise of a few operations and far below anything that can be measured or
counted, so a true shortfall is never hidden.
"""

from __future__ import annotations

from pressfuncs.arrays import Value, absolute, ceil, floor, where

LENGTH_NOISE = 1e-9
"""Share of the larger size below which a difference is noise: 0.5 nm on a die of 500 mm."""

COUNT_NOISE = 1e-12
"""Share of a count below which its fraction is noise: counts are exact below a million million."""


def settle(difference: Value, scale: Value) -> Value:
    """Return the difference, or exactly 0 where it is only noise beside numbers of the size `scale`.

    >>> settle(0.1 + 0.2 - 0.3, 0.3)
    0.0
    """
    return where(absolute(difference) <= LENGTH_NOISE * scale, 0.0 * scale, difference)


def round_up(count: Value) -> Value:
    """Return the next whole number, without a whole one added by noise.

    >>> round_up(25.000000000000004)
    25
    """
    return ceil(count * (1.0 - COUNT_NOISE))


def round_down(count: Value) -> Value:
    """Return the whole number below, without a whole one lost to noise.

    >>> round_down(24.999999999999996)
    25
    """
    return floor(count * (1.0 + COUNT_NOISE))
