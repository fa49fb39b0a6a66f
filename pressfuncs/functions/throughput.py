"""Throughput: from strokes per minute to good parts per hour, strokes, hours and days of a run.

A press does not run its strokes per minute for 60 minutes of every hour, and not every part is good: the
efficiency must be given, and strokes times 60 is never returned as an output.
"""

from __future__ import annotations

from pressfuncs.arrays import PI
from pressfuncs.functions._rounding import round_up
from pressfuncs.limits import loss, not_negative, positive, require, share, whole
from pressfuncs.quantities import (
    DURATION,
    Angle,
    Constant,
    Count,
    Duration,
    FeedSpeed,
    Length,
    Number,
    PartRate,
    Ratio,
    StrokeRate,
    Time,
)
from pressfuncs.registry import function

WHOLE_DAY = Constant(86400.0, DURATION)


@function(chapter="Throughput", source="derived")
def stroke_rate_throughput(
    stroke_rate: StrokeRate, parts_per_stroke: Count, efficiency: Ratio, scrap_share: Ratio
) -> PartRate:
    """Good parts per hour of a press that runs at a stroke rate.

    q = rate * parts * efficiency * (1 - scrap)

    Arguments:
        stroke_rate: strokes per minute while it runs
        parts_per_stroke: parts made by one stroke; 0.5 if a part takes two strokes
        efficiency: share of the time in which it does run: coils, jams, checks and breaks taken off
        scrap_share: share of the parts that are not good; write 0 where it is in the efficiency already

    >>> stroke_rate_throughput(stroke_rate=1.0, parts_per_stroke=2, efficiency=0.75, scrap_share=0.02)
    1.47
    """
    positive(stroke_rate=stroke_rate, parts_per_stroke=parts_per_stroke)
    share(efficiency=efficiency)
    loss(scrap_share=scrap_share)
    return stroke_rate * parts_per_stroke * efficiency * (1.0 - scrap_share)


@function(chapter="Throughput", source="derived")
def stroke_rate_needed(
    part_rate: PartRate, parts_per_stroke: Count, efficiency: Ratio, scrap_share: Ratio
) -> StrokeRate:
    """Stroke rate a press must run at to give so many good parts per hour.

    rate = q / (parts * efficiency * (1 - scrap))

    Arguments:
        part_rate: good parts wanted per hour
        parts_per_stroke: parts made by one stroke; 0.5 if a part takes two strokes
        efficiency: share of the time in which the press does run
        scrap_share: share of the parts that are not good; write 0 where it is in the efficiency already

    >>> stroke_rate_needed(part_rate=1.47, parts_per_stroke=2, efficiency=0.75, scrap_share=0.02)
    1.0
    """
    positive(part_rate=part_rate, parts_per_stroke=parts_per_stroke)
    share(efficiency=efficiency)
    loss(scrap_share=scrap_share)
    return part_rate / (parts_per_stroke * efficiency * (1.0 - scrap_share))


@function(chapter="Throughput", source="derived")
def measured_efficiency(
    good_parts: Count, time_taken: Duration, stroke_rate: StrokeRate, parts_per_stroke: Count
) -> Ratio:
    """Efficiency of a past run: good parts over the parts that its strokes could have made in the time.

    n / (rate * parts * time)

    Scrap is in this figure already: do not take it off a second time.

    Arguments:
        good_parts: good parts counted
        time_taken: time from start to end of the run, stops included, setup not
        stroke_rate: strokes per minute while it ran
        parts_per_stroke: parts made by one stroke

    >>> measured_efficiency(good_parts=10800, time_taken=14400, stroke_rate=1.0, parts_per_stroke=1)
    0.75
    """
    not_negative(good_parts=good_parts)
    positive(time_taken=time_taken, stroke_rate=stroke_rate, parts_per_stroke=parts_per_stroke)
    result = good_parts / (stroke_rate * parts_per_stroke * time_taken)
    require(
        result <= 1.0 + 1e-9,
        "{good_parts} good parts are more than {stroke_rate} can make in {time_taken}: check the figures",
        good_parts=good_parts,
        stroke_rate=stroke_rate,
        time_taken=time_taken,
    )
    return result


@function(chapter="Throughput", source="derived")
def strokes_needed(quantity: Count, parts_per_stroke: Count, scrap_share: Ratio) -> Count:
    """Whole strokes for a number of good parts, rounded up.

    n = ceil(quantity / (parts * (1 - scrap)))

    Arguments:
        quantity: good parts wanted
        parts_per_stroke: parts made by one stroke; 0.5 if a part takes two strokes
        scrap_share: share of the parts that are not good; write 0 for none

    >>> strokes_needed(quantity=101, parts_per_stroke=4, scrap_share=0)
    26
    """
    whole(quantity=quantity, least=0)
    positive(parts_per_stroke=parts_per_stroke)
    loss(scrap_share=scrap_share)
    return round_up(quantity / (parts_per_stroke * (1.0 - scrap_share)))


@function(chapter="Throughput", source="derived")
def run_time(
    quantity: Count,
    part_rate: PartRate,
    setup: Duration,
    stops: Count,
    time_per_stop: Duration,
) -> Duration:
    """Time on the press for an order: setup, running, and planned stops such as changes of coil.

    T = setup + quantity / q + stops * time per stop

    Arguments:
        quantity: good parts wanted
        part_rate: good parts per hour, see stroke_rate_throughput
        setup: time to set up and to take down; write 0 to leave it out
        stops: planned stops; write 0 if they are in the efficiency already
        time_per_stop: time of one of them

    >>> run_time(quantity=5400, part_rate=1.5, setup=1800, stops=2, time_per_stop=600)
    6600.0
    """
    not_negative(quantity=quantity)
    positive(part_rate=part_rate)
    not_negative(setup=setup)
    whole(stops=stops, least=0)
    not_negative(time_per_stop=time_per_stop)
    return setup + quantity / part_rate + stops * time_per_stop


@function(chapter="Throughput", source="derived")
def working_days(time_taken: Duration, time_per_day: Duration) -> Number:
    """Working days that a run takes, in decimals.

    days = T / time per day

    Arguments:
        time_taken: time on the press, see run_time
        time_per_day: time the press is manned in a day, all shifts together, at most 24 h

    >>> working_days(time_taken=108000, time_per_day=54000)
    2.0
    """
    not_negative(time_taken=time_taken)
    positive(time_per_day=time_per_day)
    require(time_per_day <= WHOLE_DAY * (1.0 + 1e-9), "a day has no {time_per_day}", time_per_day=time_per_day)
    return time_taken / time_per_day


@function(chapter="Throughput", source="derived")
def feed_limited_rate(pitch: Length, feed_speed: FeedSpeed, feed_window: Angle) -> StrokeRate:
    """Largest stroke rate at which a feeder can bring on the strip while the die is open.

    rate = v * (window / 2 pi) / pitch

    Arguments:
        pitch: advance of the strip at each stroke
        feed_speed: mean speed of the strip during the feed, starting and stopping included
        feed_window: part of the crank's turn in which the feed may move: 180 deg for a flat die, less for a deep
          one

    >>> feed_limited_rate(pitch=50, feed_speed=500, feed_window=3.14159265)
    5.0
    """
    positive(pitch=pitch, feed_speed=feed_speed, feed_window=feed_window)
    require(feed_window <= 2.0 * PI, "a feed window of {feed_window} is more than a turn", feed_window=feed_window)
    return feed_speed * (feed_window / (2.0 * PI)) / pitch


@function(chapter="Throughput", source="derived")
def cycle_rate(cycle_time: Time) -> StrokeRate:
    """Stroke rate from the time of one whole cycle, loading and unloading included.

    rate = 1 / T

    Arguments:
        cycle_time: time from one stroke to the next

    >>> cycle_rate(cycle_time=8)
    0.125
    """
    positive(cycle_time=cycle_time)
    return 1.0 / cycle_time
