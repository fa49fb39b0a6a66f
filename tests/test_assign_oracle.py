"""No pair that a second, slow judge refuses, or cannot prove, is ever called suitable by an assignment."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
import random_shops as shops
import registers_made as made
from assign_oracle import CHECKS, Die, Judgement, Press, judge
from oracle_die import Cut, contour_offsets
from oracle_figures import UNREAD
from oracle_press import Crank
from registers_made import DIE, HYDRAULIC, PRESS

from pressfuncs.batch.assignment import checks as assignment_checks
from pressfuncs.batch.assignment.checks import names_of
from pressfuncs.batch.assignment.profile import Profile
from pressfuncs.batch.assignment.ranking import assign

SUITABLE = 0
LEAST_SUITABLE = 0.15
"""share of all pairs, so that the law is not empty"""

WHY = {
    "force": "all parts are taken together from the working height down, and shear lowers a peak by a formula",
    "energy": "is worked out only for dies that cut against no pad; else the whole force over the working height",
    "working_height": "is not worked out from groups that contradict the cut length",
    "off_centre": "goes by the force of all parts together",
}
"""Checks on which an assignment may stay behind this judge, and why."""


@dataclass
class Shop:
    """Dies and presses, judged."""

    dies: list[shops.Made]
    presses: list[shops.Made]
    load_limit: float | None = None
    profile: Profile = field(default_factory=Profile)
    judged: list[list[Judgement]] = field(default_factory=list)

    def judge(self) -> Shop:
        """Judge every pair."""
        blanks = self.profile.blanks
        dies = [Die(row, blanks.get("die")) for row in self.dies]
        presses = [Press(row, blanks.get("press"), self.load_limit) for row in self.presses]
        self.judged = [[judge(die, press) for press in presses] for die in dies]
        return self

    def assigned(self) -> Any:
        """Return the assignment of the same rows."""
        registers = shops.register("die", self.dies), shops.register("press", self.presses)
        return assign(*registers, load_limit=self.load_limit, profile=self.profile)

    def pairs(self) -> Iterator[tuple[int, int, Judgement]]:
        """Yield every pair with its judgement."""
        for i, row in enumerate(self.judged):
            for j, judgement in enumerate(row):
                yield i, j, judgement

    def broken(self, status: Any) -> list[str]:
        """Return the pairs that are called suitable and are not."""
        return [
            f"{judgement}\n    {_shown(self.dies[i])}\n    {_shown(self.presses[j])}"
            for i, j, judgement in self.pairs()
            if status[i, j] == SUITABLE and not judgement.goes(self.profile.not_checked)
        ]


def _shown(row: shops.Made) -> str:
    return ", ".join(f"{name} {value}" for name, value in row.items() if value not in (None, ""))


def drawn(seed: int, dies: int, presses: int, **more: Any) -> Shop:
    rng = random.Random(seed)
    rows = [shops.die(rng, f"D{i}") for i in range(dies)], [shops.press(rng, f"P{i}") for i in range(presses)]
    return Shop(*rows, **more).judge()


NO_SPARES = Profile({"die": {"pad_force": 0.0, "shear_height": 0.0}, "press": {"most_spacer": 0.0}}, {})


def all_but(check: str) -> Profile:
    """Return what a shop declares that wants to know of one check only: nothing hides behind another check."""
    return Profile(not_checked={other: "declared for a test" for other in CHECKS if other != check})


@pytest.fixture(scope="module")
def judged_shops() -> list[Shop]:
    """2 000 pairs of 100 dies and 20 presses; 2 000 dies with two presses each; a limit and profiles of a shop."""
    square = drawn(1, 100, 20)
    long = [drawn(seed, 100, 2) for seed in range(100, 120)]
    said = [drawn(200 + i, 60, 6, profile=all_but(check)) for i, check in enumerate(CHECKS)]
    return [square, *long, drawn(2, 60, 10, load_limit=0.7), drawn(3, 60, 10, profile=NO_SPARES), *said]


def test_no_pair_that_is_refused_or_not_proved_is_called_suitable(judged_shops, capsys):
    broken: list[str] = []
    counts: Counter[str] = Counter()
    behind: Counter[str] = Counter()
    for shop in judged_shops:
        assignment = shop.assigned()
        broken += shop.broken(assignment.status)
        behind += _behind(shop, assignment)
        for i, j, judgement in shop.pairs():
            declared = shop.profile.not_checked
            goes = "goes" if judgement.goes(declared) else "refused" if judgement.refused else "not proved"
            found = ("suitable", "partly checked", "not suitable")[assignment.status[i, j]]
            shops_of = "one check" if declared else "all checks"
            counts[f"{shops_of}, judge: {goes}"] += 1
            counts[f"{shops_of}, assign: {found}"] += 1
    with capsys.disabled():
        print("\n" + "\n".join(f"{name} {count}" for name, count in sorted(counts.items())))
        for name, count in behind.most_common():
            print(f"  goes by the judge, {name} {count} times: {WHY.get(name.split(' ')[0], 'NOT EXPLAINED')}")
    assert not broken, f"{len(broken)} pairs, as\n" + "\n".join(broken[:5])
    pairs = sum(len(shop.dies) * len(shop.presses) for shop in judged_shops if not shop.profile.not_checked)
    assert counts["all checks, assign: suitable"] >= LEAST_SUITABLE * pairs
    assert {name.split(" ")[0] for name in behind} <= set(WHY)


def _behind(shop: Shop, assignment: Any) -> Counter[str]:
    """Count the checks that keep an assignment from calling suitable what goes by this judge."""
    found: Counter[str] = Counter()
    for rows, pairs in assignment.pieces():
        for i, j, judgement in shop.pairs():
            if rows.start <= i < rows.stop and assignment.status[i, j] != SUITABLE:
                if judgement.goes(shop.profile.not_checked):
                    at = i - rows.start, j
                    found.update(f"{check.name} failed" for check in names_of(int(pairs.failed[at])))
                    found.update(f"{check.name} not checked" for check in names_of(int(pairs.unchecked[at])))
    return found


@pytest.mark.parametrize("check", CHECKS)
def test_an_assignment_that_leaves_a_check_out_is_found_out(check, judged_shops, monkeypatch):
    passing = {**assignment_checks._MARGINS, check: lambda dies, presses: np.float64(0.0)}
    monkeypatch.setattr(assignment_checks, "_MARGINS", passing)
    assert any(shop.broken(shop.assigned().status) for shop in judged_shops)


# The judge itself.

FREE = {name: value for name, value in DIE.items() if name != "kind_wanted"}
FORMS = FREE | {"cut_length": 0.0, "stripping_share": None, "reverse_share": None, "forming_force": 150.0}


def judged(die: shops.Made, press: shops.Made = PRESS) -> Judgement:
    return judge(Die(die), Press(press))


def test_a_die_goes_in_the_press_made_for_it():
    assert judged(DIE) == Judgement()
    assert judged(FREE, HYDRAULIC) == Judgement()
    assert judged(FORMS) == Judgement()


@pytest.mark.parametrize(
    ("check", "die", "press"),
    [
        ("force", {"shear_strength": 900.0}, {"snap_through": 400.0, "energy": 9000.0}),
        ("force", {"working_height": 30.0, "punch_entry": 28.0}, {}),
        ("working_height", {"working_height": 90.0, "part_height": 0.0, "lift": 0.0}, {}),
        ("energy", {"energy": 2001.0}, {}),
        ("energy", {}, {"rate_low": 20.0, "energy": 1600.0}),
        ("snap_through", {"reverse_share": 0.3}, {}),
        ("closed_height", {"die_height": 271.0}, {}),
        ("adjustment", {"die_height": 169.0}, {}),
        ("opening", {"part_height": 77.0}, {}),
        ("stroke", {"stroke_needed": 81.0}, {}),
        ("bed", {"die_width": 451.0, "upper_die_width": 300.0}, {}),
        ("bed", {}, {"clamping_length": 151.0}),
        ("slide_face", {"upper_die_length": 471.0}, {}),
        ("off_centre", {"load_centre": -50.0}, {}),
        ("mass", {"mass": 501.0}, {}),
        ("upper_mass", {"upper_mass": 151.0}, {}),
        ("shank", {"shank_diameter": 41.0}, {}),
        ("rate", {"stroke_rate": 39.0}, {"energy": 9000.0}),
        ("kind", {"kind_wanted": "hydraulic"}, {}),
    ],
)
def test_each_check_refuses(check, die, press):
    assert check in judged(DIE | die, PRESS | press).refused


@pytest.mark.parametrize("value", [None, UNREAD])
@pytest.mark.parametrize(
    ("check", "register", "name"),
    [
        *(("force", "die", name) for name in ("cut_length", "thickness", "shear_strength", "stripping_share")),
        *(("force", "die", name) for name in ("ejection_force", "forming_force", "pad_force")),
        *(("force", "press", name) for name in ("rated_force", "rated_height", "stroke")),
        ("working_height", "press", "stroke"),
        *(("energy", "press", name) for name in ("energy", "rate_high")),
        ("snap_through", "die", "reverse_share"),
        *(("closed_height", register, name) for register, name in (("die", "die_height"), ("press", "bolster"))),
        *(("adjustment", "press", name) for name in ("adjustment", "shut_height")),
        *(("opening", "die", name) for name in ("part_height", "lift")),
        *(("stroke", "die", name) for name in ("part_height", "lift")),
        *(("bed", "press", name) for name in ("bed_length", "clamping_width")),
        *(("slide_face", register, name) for register, name in (("die", "die_width"), ("press", "slide_width"))),
        *(
            ("off_centre", register, name)
            for register, name in (("die", "load_centre"), ("press", "allowed_moment"))
        ),
        *(("mass", register, name) for register, name in (("die", "mass"), ("press", "mass_limit"))),
        *(
            ("upper_mass", register, name)
            for register, name in (("die", "upper_mass"), ("press", "upper_mass_limit"))
        ),
        *(("shank", register, name) for register, name in (("die", "shank_diameter"), ("press", "shank_bore"))),
        *(("rate", register, name) for register, name in (("die", "stroke_rate"), ("press", "rate_low"))),
    ],
)
def test_each_check_is_not_proved_without_its_figures(check, register, name, value):
    die, press = dict(DIE), dict(PRESS)
    (die if register == "die" else press)[name] = value
    if check == "adjustment":
        die["die_height"] = 200.0
    found = judged(die, press)
    assert check in found.unproved
    assert not found.refused


@pytest.mark.parametrize(
    "name", ["edge_allowance", "penetration", "punch_entry", "upper_die_width", "energy", "kind_wanted"]
)
def test_nothing_stands_in_for_what_could_not_be_read(name):
    assert judged(DIE | {name: UNREAD}).unproved


@pytest.mark.parametrize(("under", "sign"), [(False, 1), (True, -1)])
@pytest.mark.parametrize("rod", [60.0, 120.0, 400.0])
def test_a_crank_stepped_round_moves_the_slide_as_its_closed_form(rod, under, sign):
    crank, radius = Crank(100.0, rod, under), 50.0
    for angle in (0.1, 0.5, 1.0, 1.6, 2.5, 3.0):
        reach = math.sqrt(rod**2 - (radius * math.sin(angle)) ** 2)
        height = radius * (1 - math.cos(angle)) + sign * (rod - reach)
        lever = radius * math.sin(angle) * (1 + sign * radius * math.cos(angle) / reach)
        assert crank.lever(height) == pytest.approx(lever, rel=1e-5)


def test_a_crank_gives_its_rating_to_the_rated_height_and_its_torque_above():
    press = Press(PRESS)
    assert press.capacity(4.0) == press.capacity(0.5) == 400_000
    crank = Crank(80.0, 350.0, under=False)
    assert press.capacity(20.0) == pytest.approx(400_000 * crank.lever(4.0) / crank.lever(20.0))
    middle = [
        Press(PRESS | {"drive": f"crank, {drive}"}).capacity(40.0) for drive in ("top drive", "underdrive", "")
    ]
    assert middle[1] == middle[2] < 0.91 * middle[0]  # point 9: the rod is folded at the bottom


@pytest.mark.parametrize(
    ("contour", "k", "share"),
    [
        ("straight", 0.4, 0.4),
        ("round one way", 0.4, math.acos(1 - 0.8) / math.pi),
        ("round one way", 1 / 6, 0.268),
        ("round roof", 0.4, 2 * math.acos(0.6) / math.pi),
        ("rectangle one way", 0.15, 0.25),
        ("rectangle roof", 0.15, (40 + 15) / 140),
    ],
)
def test_shear_lowers_the_peak_by_the_length_in_engagement_and_no_energy(contour, k, share):
    pieces = contour_offsets(contour, 5.0, 100.0, 40.0)
    cut = Cut([(1000.0 / len(pieces), high, low) for high, low in pieces], depth=5.0 * k)
    assert cut.peak() / 1000 == pytest.approx(share, rel=0.015)
    assert cut.peak() / 1000 <= share * 1.001
    step = 0.002
    work = sum(cut.force(-5.0 * k + step * i) * step for i in range(int(5.0 * (1 + k) / step) + 2))
    assert work == pytest.approx(1000 * 5.0 * k, rel=0.03)


def test_the_energy_of_a_cut_is_its_force_over_the_engagement_and_springs_push_all_the_way():
    die = Die(DIE)
    assert die.energy == pytest.approx(180e3 * 2.0 + 18e3 * 3.0)
    assert die.most == pytest.approx(198e3)
    assert Die(DIE | {"penetration": 0.5}).energy == pytest.approx(180e3 * 1.0 + 18e3 * 3.0)
    assert Die(FORMS | {"working_height": 20.0}).energy == pytest.approx(150e3 * 20.0)
    assert Die(DIE | {"stroke_force": 298.0}).energy == pytest.approx(180e3 * 2.0 + 118e3 * 3.0)


# The cases that an assignment flattered.

CUTS = FREE | {"thickness": 1.0, "cut_length": 1000.0, "penetration": 0.3, "stripping_share": 0.0}
CUTS |= {"working_height": None}
GROUPED = CUTS | {"group_cut_lengths": [500.0, 500.0], "group_heights": [6.0, 0.0]}


def test_two_equal_groups_halve_a_cut_and_stagger_alone_lowers_nothing():
    assert Die(GROUPED).most == pytest.approx(150e3)
    assert Die(GROUPED).start == pytest.approx(1 + 1 + 6)
    assert Die(CUTS).most == pytest.approx(300e3)
    assert Die(GROUPED | {"edge_allowance": None}).most == pytest.approx(195e3)
    assert Die(GROUPED | {"group_heights": [0.2, 0.0]}).most == pytest.approx(300e3)
    assert Die(GROUPED | {"group_heights": [0.3, 0.0]}).most == pytest.approx(150e3)
    assert Die(GROUPED | {"group_cut_lengths": [500.0, 400.0]}).most == pytest.approx(300e3)


def test_shear_and_groups_may_meet_where_nobody_says_which_edge_comes_when():
    assert Die(GROUPED | {"shear_height": 6.0}).most == pytest.approx(300e3)
    assert Die(GROUPED | {"shear_height": 2.0}).most == pytest.approx(150e3)


def test_shear_on_a_contour_that_is_not_named_lowers_nothing():
    assert Die(CUTS | {"shear_height": 3.0}).most == pytest.approx(300e3)
    round_one_way = Die(CUTS | {"shear_height": 3.0, "shear_contour": "round one way"})
    assert round_one_way.most == pytest.approx(300e3 * math.acos(0.8) / math.pi, rel=0.015)
    assert round_one_way.start == pytest.approx(1 + 1 + 3)


def test_slugs_pads_and_springs_push_with_the_cut():
    die = CUTS | {"ejection_force": None, "ejection_share": 0.05, "slugs": 4.0, "pad_force": 20.0}
    assert Die(die | {"stripping_share": 0.1}).most == pytest.approx(300e3 * 1.3 + 20e3)


def test_a_stated_force_below_its_parts_counts_only_where_they_do_not_act_together():
    die = FORMS | {"pad_force": 60.0, "stroke_force": 160.0}
    assert Die(die).most == pytest.approx(210e3)
    assert Die(die | {"force_basis": "stated"}).most == pytest.approx(160e3)
    assert Die(die | {"force_basis": "stated", "stroke_force": 100.0}).most == pytest.approx(150e3)
    assert Die(die | {"force_basis": "parts", "stroke_force": 900.0}).most == pytest.approx(900e3)


def test_a_part_as_long_as_the_draw_does_not_come_out_of_a_short_stroke():
    die = FORMS | {"forming_force": 200.0, "working_height": 60.0, "part_height": 60.0, "punch_entry": None}
    found = judged(die | {"stroke_needed": None}, PRESS | {"stroke": 100.0, "rod": 400.0})
    assert {"opening", "stroke"} <= set(found.refused)


def test_the_frame_gives_the_load_limit_and_says_nothing_of_the_drive():
    assert Press(PRESS | {"load_limit": None}).limit == 0.6
    assert Press(PRESS | {"load_limit": None, "press_kind": "straight side"}).limit == 0.8
    assert Press(HYDRAULIC | {"press_kind": "hydraulic C-frame"}).drive == "hydraulic"
    by_bore = Press(HYDRAULIC | {"press_kind": "C-frame"})
    assert (by_bore.drive, by_bore.rating) == ("hydraulic", pytest.approx(math.pi / 4 * 160**2 * 25 * 0.9))
    assert Press(PRESS | {"press_kind": "hydraulic"}).drive is None
    assert Press(PRESS | {"drive": "crank", "bore": 100.0}).drive is None


def test_edges_that_reach_higher_than_the_register_says_push_all_the_same():
    assert Die(DIE | {"working_height": 1.0}).start == pytest.approx(3.0)
    assert Die(GROUPED | {"working_height": 5.0, "punch_entry": None}).impossible


def test_the_registers_of_the_judge_and_of_an_assignment_are_the_same_rows():
    register = shops.register("die", [DIE | {"mass": UNREAD, "group_heights": [6.0, 0.0]}, DIE])
    assert register.unread["mass"].tolist() == [True, False]
    assert register.series["group_heights"] == [(6.0, 0.0), ()]
    assert made.quick("die", [DIE]).number("mass")[0] == register.number("mass")[1]
