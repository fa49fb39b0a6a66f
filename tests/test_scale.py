"""Past one machine: the pair computation runs unchanged on a cluster, and gives what it gives here."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import distributed
import numpy as np
import pytest

from pressfuncs.batch.assignment.checks import Pairs, pair_margins
from pressfuncs.batch.assignment.demand import die_demand
from pressfuncs.batch.assignment.ranking import assign
from pressfuncs.batch.assignment.registers import Register, read_register
from pressfuncs.batch.assignment.supply import press_supply
from pressfuncs.demo import REGISTERS

PAGE = Path(__file__).parent.parent / "docs" / "scale.md"


@pytest.fixture(scope="module")
def shop() -> tuple[Register, Register]:
    return read_register(REGISTERS / "dies.csv", "die"), read_register(REGISTERS / "presses.csv", "press")


def test_the_script_of_the_page_gives_what_the_command_gives(tmp_path, shop):
    (script,) = re.findall(r"^```python\n(.*?)^```$", PAGE.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    (tmp_path / "scale.py").write_text(script, encoding="utf-8")
    for name in ("dies.csv", "presses.csv"):
        shutil.copyfile(REGISTERS / name, tmp_path / name)
    done = subprocess.run([sys.executable, "scale.py"], cwd=tmp_path, capture_output=True, text=True, timeout=180)
    assert done.returncode == 0, done.stderr
    local = assign(*shop)
    assert np.array_equal(np.load(tmp_path / "status.npy"), local.status)
    assert done.stdout == f"3 pieces, {54 * 14} pairs, {(local.status == 0).sum()} suitable on paper\n"


def test_the_function_itself_runs_in_other_processes_on_pieces_of_both_tables(shop):
    """Submitted as it is: nothing in it, or in what it gives back, hangs on this process."""
    dies, presses = die_demand(shop[0]), press_supply(shop[1])
    whole = pair_margins(dies, presses)
    rows = [slice(0, 1), slice(1, 30), slice(30, 54)]
    columns = [slice(0, 5), slice(5, 14)]
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        futures = [
            [
                client.submit(
                    pair_margins,
                    {name: column[some] for name, column in dies.items()},
                    {name: column[others] for name, column in presses.items()},
                )
                for others in columns
            ]
            for some in rows
        ]
        pieces: list[list[Pairs]] = client.gather(futures)
    for name in ("margins", "applies", "capacity", "part_rate", "cost"):
        joined = np.concatenate(
            [np.concatenate([getattr(p, name) for p in line], axis=-1) for line in pieces], axis=-2
        )
        assert np.array_equal(joined, getattr(whole, name), equal_nan=name != "applies"), name
    failed = np.concatenate([np.concatenate([p.failed for p in line], axis=1) for line in pieces])
    assert np.array_equal(failed, whole.failed)
