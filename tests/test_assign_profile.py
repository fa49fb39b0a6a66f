"""The shop profile: what blanks mean, what need not be checked, and what is refused in it."""

from __future__ import annotations

import pytest
import registers_made as made
from click.testing import CliRunner
from registers_made import DIE, PRESS

from pressfuncs.batch.assignment.profile import Profile, read_profile
from pressfuncs.batch.refusals import Refused
from pressfuncs.cli import app

GOOD = """
[blank.die]
pad_force = 0
lift = "0.5 in"
stripper = "fixed"
edge_allowance = 0.15

[blank.press]
clamping_length = 40

[not_checked]
shank = "no die of this shop has one"
"""


def profile(folder, text: str, system: str = "metric") -> Profile:
    path = folder / "shop.toml"
    path.write_text(text, encoding="utf-8")
    return read_profile(path, system)


def test_a_profile_is_read_in_core_units(tmp_path):
    found = profile(tmp_path, GOOD)
    assert found.blanks["die"] == {"pad_force": 0.0, "lift": 12.7, "stripper": "fixed", "edge_allowance": 0.15}
    assert found.blanks["press"] == {"clamping_length": 40.0}
    assert profile(tmp_path, GOOD, "inch").blanks["press"] == {"clamping_length": 40 * 25.4}
    assert found.not_checked == {"shank": "no die of this shop has one"}


def test_a_profile_says_what_it_declares(tmp_path):
    assert profile(tmp_path, GOOD).words("metric") == [
        "die register: a blank under pad force means 0 kN",
        "die register: a blank under lift means 12.7 mm",
        "die register: a blank under stripper means fixed",
        "die register: a blank under edge allowance means 0.15",
        "press register: a blank under clamping length means 40 mm",
        "declared, not checked: shank: no die of this shop has one",
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[blank.die]\npad_force = -1", "pad_force must not be less than 0"),
        ("[blank.die]\npad_force = nan", "pad_force"),
        ("[blank.die]\npad_force = true", "pad_force"),
        ('[blank.die]\npad_force = "2 t"', "tonf_metric"),
        ("[blank.die]\nshank_force = 1", '"shank_force" is no field'),
        ('[blank.die]\nid = "D1"', '"id" is no field'),
        ("[blank.die]\ngroup_heights = 1", '"group_heights" is no field'),
        ("[blank.tool]\nlift = 1", "may hold [blank.die] and [blank.press]"),
        ("blank = 1", 'holds "blank"'),
        ("[blanks.die]\nlift = 1", 'holds "blanks"'),
        ('[not_checked]\ntonnage = "no"', 'there is no check "tonnage"'),
        ("[not_checked]\nshank = true", "write why shank need not be checked"),
        ('[not_checked]\nshank = " "', "write why shank need not be checked"),
        ("[not_checked", "is no TOML file"),
    ],
)
def test_what_a_profile_cannot_hold_is_refused_with_a_sentence(tmp_path, text, words):
    with pytest.raises(Refused) as caught:
        profile(tmp_path, text)
    assert words in str(caught.value)
    assert "shop.toml" in str(caught.value)


def test_the_command_says_what_the_profile_declares(tmp_path):
    die = {name: value for name, value in DIE.items() if name not in ("pad_force", "shank_diameter")}
    dies = made.write_csv(tmp_path / "dies.csv", made.table("die", [die]))
    presses = made.write_csv(tmp_path / "presses.csv", made.table("press", [PRESS]))
    (tmp_path / "shop.toml").write_text(GOOD, encoding="utf-8")
    names = [str(dies), str(presses), "-o", str(tmp_path / "out.xlsx")]
    plain = CliRunner().invoke(app.main, ["assign", *names])
    assert "1 partly checked" in plain.stdout
    assert "not checked on the best press of 1 die: shank" in plain.stdout
    declared = CliRunner().invoke(app.main, ["assign", *names, "--profile", str(tmp_path / "shop.toml")])
    assert "1 suitable on paper" in declared.stdout
    assert "declared, not checked: shank: no die of this shop has one" in declared.stdout
    assert "a blank under pad force means 0 kN" in declared.stdout
