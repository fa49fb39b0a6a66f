"""The ranking: what passes before what is partly checked, then cheapest, smallest, by name; why the rest fails."""

from __future__ import annotations

import math

import numpy as np
import pytest
import registers_made as made
from hypothesis import given
from hypothesis import strategies as st
from registers_made import DIE, HYDRAULIC, PRESS

from pressfuncs.batch.assignment import ranking
from pressfuncs.batch.assignment.profile import Profile
from pressfuncs.batch.assignment.ranking import STATUSES, Assignment, assign
from pressfuncs.batch.assignment.registers import read_register
from pressfuncs.demo import REGISTERS
from pressfuncs.errors import OutOfRange
from pressfuncs.functions._checks import CHECKS, NOT_SUITABLE, PARTLY, SUITABLE


def of(dies, presses, **options) -> Assignment:
    return assign(made.quick("die", dies), made.quick("press", presses), **options)


def order(result: Assignment, die: int = 0) -> list[str]:
    return [result.presses.ids[pair.press] for pair in result.ranked() if pair.die == die]


def press(name: str, **changes) -> dict:
    return PRESS | {"id": name} | changes


def test_suitable_before_partly_checked_and_what_fails_is_not_ranked():
    presses = [
        press("cheap but open", hourly_rate=1.0, mass_limit=None),
        press("fails", hourly_rate=1.0, mass_limit=10.0),
        press("dear", hourly_rate=90.0),
        press("cheap", hourly_rate=30.0),
    ]
    result = of([DIE], presses, top=10)
    assert order(result) == ["cheap", "dear", "cheap but open"]
    assert [pair.rank for pair in result.ranked()] == [1, 2, 3]
    assert [pair.status for pair in result.ranked()] == [SUITABLE, SUITABLE, PARTLY]
    assert [result.presses.ids[pair.press] for pair in result.failing()] == ["fails"]


def test_of_equal_cost_the_smaller_press_then_the_name():
    presses = [press("b", rated_force=500.0), press("c"), press("a"), press("d", rated_force=300.0)]
    assert order(of([DIE], presses, top=10)) == ["d", "a", "c", "b"]


def test_without_a_cost_or_a_rating_a_press_comes_last_of_its_status():
    presses = [press("no cost", hourly_rate=None), press("z"), press("dear", hourly_rate=99.0)]
    assert order(of([DIE], presses, top=10)) == ["z", "dear", "no cost"]


def test_costs_that_differ_by_float_noise_are_equal():
    presses = [press("b", hourly_rate=0.3), press("a", hourly_rate=0.1 + 0.2)]
    assert order(of([DIE], presses)) == ["a", "b"]


@pytest.mark.parametrize("limit", [0.0, -0.5, 1.01, 80.0, math.nan])
def test_a_load_limit_that_is_no_share_is_refused(limit):
    with pytest.raises(OutOfRange, match="load_limit"):
        of([DIE], [PRESS], load_limit=limit)


def test_top_limits_the_ranking_and_nothing_else():
    presses = [press(f"P{i}") for i in range(9)]
    one, many = of([DIE], presses, top=1), of([DIE], presses, top=50)
    assert order(one) == ["P0"]
    assert len(order(many)) == 9
    assert np.array_equal(one.status, many.status)


def test_a_failing_pair_names_every_failing_check_with_what_is_short():
    result = of([DIE | {"die_height": 280.0, "mass": 510.5, "kind_wanted": "hydraulic"}], [PRESS])
    (pair,) = result.failing()
    assert pair.status == NOT_SUITABLE
    assert pair.rank == 0
    assert [check.name for check in pair.failed] == ["closed_height", "mass", "kind"]
    assert pair.verdict("metric") == (
        "not suitable: closed height short by 10 mm, also mass of the die short by 10.5 kg, also another kind of"
        " press is wanted"
    )
    assert "closed height short by 0.393701 in, also mass of the die short by 23.1486 lb" in pair.verdict("inch")
    assert result.first.tolist() == [-1]


def test_a_shortage_is_never_shown_as_less_than_it_is():
    for shortage in (287.06245, 1.00001, 0.00012345, 99999.4, 4.0, 0.01):
        (pair,) = of([DIE | {"mass": 500.0 + shortage}], [PRESS]).failing()
        shown = float(pair.verdict("metric").split(" short by ")[1].split(" kg")[0])
        assert shown >= shortage * (1 - 1e-6)
        assert shown == pytest.approx(shortage, rel=2e-3)


def test_figures_of_a_pair():
    (pair,) = of([DIE], [PRESS]).ranked()
    assert pair.utilisation == pytest.approx(198 / 400)
    assert pair.capacity == pytest.approx(400e3)
    assert pair.part_rate * 3600 == pytest.approx(60 * 60 * 2 * 0.8)
    assert pair.cost == pytest.approx(40 / 5760 + 0.5 * 40 / 5000)
    (unknown,) = of([DIE | {"shear_strength": None}], [PRESS]).ranked()
    assert math.isnan(unknown.utilisation)


def test_checks_that_do_not_apply_have_no_margin():
    (pair,) = of([{n: v for n, v in DIE.items() if n != "kind_wanted"}], [HYDRAULIC]).ranked()
    margins = dict(zip((check.name for check in CHECKS), pair.margins))
    assert math.isnan(margins["energy"])
    assert pair.unchecked == ()
    assert pair.verdict("metric") == (
        "suitable on paper: 14 checks passed; does not apply: energy of a stroke, kind of press"
    )


def test_every_check_that_was_not_made_is_named_and_counted():
    dies = [DIE, DIE | {"id": "D2", "mass": None, "lift": None}, DIE | {"id": "D3", "mass": None}]
    result = of(dies, [PRESS])
    second = list(result.ranked())[1]
    assert second.verdict("metric") == (
        "partly checked: 13 checks passed; not checked: opening for part and feed, stroke, mass of the die"
    )
    assert result.open_checks() == {"opening for part and feed": 1, "stroke": 1, "mass of the die": 2}


def test_what_the_shop_declares_is_named_and_no_longer_open():
    profile = Profile({"die": {"mass": 0.15}}, dict.fromkeys(("opening", "stroke"), "all parts fall through"))
    result = of([DIE | {"mass": None, "lift": None}], [PRESS], profile=profile)
    (pair,) = result.ranked()
    assert pair.verdict("metric") == (
        "suitable on paper: 14 checks passed; declared, not checked: opening for part and feed, stroke"
    )
    assert result.open_checks() == {}
    (pair,) = of([DIE | {"mass": None}], [press("crane", mass_limit=100.0)], profile=profile).failing()
    assert [check.name for check in pair.failed] == ["mass"]


@pytest.mark.parametrize(("dies", "presses"), [([], [PRESS]), ([DIE], []), ([], [])])
def test_an_empty_register_gives_an_empty_assignment(dies, presses):
    result = of(dies, presses)
    assert result.status.shape == (len(dies), len(presses))
    assert list(result.ranked()) == list(result.failing()) == []
    assert result.best_count() == {press["id"]: 0 for press in presses}


def test_the_work_is_done_in_pieces_and_each_is_told(monkeypatch):
    dies = [DIE | {"id": f"D{i}", "mass": 100.0 * i + 50} for i in range(11)]
    presses = [press(f"P{i}", mass_limit=300.0 * i + 100) for i in range(4)]
    whole = of(dies, presses)
    monkeypatch.setattr(ranking, "_PAIRS_AT_ONCE", 12)
    told: list[int] = []
    pieces = of(dies, presses, progress=told.append)
    assert told == [3, 3, 3, 2]
    assert np.array_equal(whole.status, pieces.status)
    assert np.array_equal(whole.first, pieces.first)
    assert list(map(repr, whole.ranked())) == list(map(repr, pieces.ranked()))
    assert list(map(repr, whole.failing())) == list(map(repr, pieces.failing()))


SHOP = st.lists(
    st.fixed_dictionaries(
        {
            "hourly_rate": st.sampled_from((None, 20.0, 20.0, 40.0)),
            "rated_force": st.sampled_from((None, 230.0, 400.0, 630.0)),
            "mass_limit": st.sampled_from((None, 100.0, 500.0)),
            "rated_height": st.sampled_from((None, 2.0, 4.0)),
        }
    ),
    min_size=1,
    max_size=7,
)


@given(SHOP, st.randoms(use_true_random=False))
def test_the_order_is_that_of_sorting_one_by_one_and_rows_may_stand_in_any_order(changes, random):
    presses = [press(f"P{i}", **change) for i, change in enumerate(changes)]
    result = of([DIE], presses, top=99)

    def key(pair):
        size = result.supply["rated_force"][pair.press]
        cost, size = (math.inf if math.isnan(value) else round(value, 9) for value in (pair.cost, size))
        return STATUSES.index(pair.status), cost, size, result.presses.ids[pair.press]

    ranked = list(result.ranked())
    assert ranked == sorted(ranked, key=key) or list(map(key, ranked)) == sorted(map(key, ranked))
    assert len(ranked) + len(list(result.failing())) == len(presses)
    assert (result.first[0] == -1) == (not ranked)
    random.shuffle(presses)
    assert order(of([DIE], presses, top=99)) == order(result)


@given(SHOP, st.floats(0.2, 1.0), st.floats(0.2, 1.0))
def test_a_lower_load_limit_never_makes_a_pair_better(changes, one, other):
    presses = [press(f"P{i}", **change) | {"load_limit": None} for i, change in enumerate(changes)]
    low, high = sorted((one, other))
    assert (of([DIE], presses, load_limit=low).status >= of([DIE], presses, load_limit=high).status).all()


def test_the_demo_shop_has_dies_of_every_status_and_rows_that_are_set_aside():
    dies = read_register(REGISTERS / "dies.csv", "die")
    presses = read_register(REGISTERS / "presses.csv", "press")
    result = assign(dies, presses)
    assert (len(dies), len(presses)) == (54, 14)
    assert set(result.status.min(axis=1).tolist()) == {0, 1, 2}
    aside = {trouble.name for trouble in dies.troubles if trouble.place.startswith("row")} - set(dies.ids)
    assert aside | {"D021"} == {"D009", "D015", "D021", "D033", "D044", "D058"}
    assert presses.troubles == []
