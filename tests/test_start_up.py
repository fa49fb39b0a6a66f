"""The start: help loads no function and nothing heavy, the library comes whole when the first of it is wanted."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from books import F, make

import pressfuncs
from pressfuncs import functions

PACKAGE = Path(pressfuncs.__file__).parent
HEAVY = ["pint", "numpy", "openpyxl", "formualizer", "formulon", "xlwings", "ezdxf", "matplotlib"]
HEAVY += ["multiprocessing", "importlib.metadata", "doctest"]
HEAVY += ["pressfuncs.functions", "pressfuncs.edge", "pressfuncs.batch"]
"""What no help may load."""


def python(code: str, *words: str) -> str:
    """Run a program text in a fresh Python; return what it prints."""
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=True)
    return done.stdout.strip()


HELP = f"""
import atexit, sys
wanted = {HEAVY!r}
atexit.register(lambda: print("loaded:", *sorted(set(wanted) & set(sys.modules))))
from pressfuncs.cli import main
main()
"""


@pytest.mark.parametrize(
    "words", [[], ["recalc"], ["assign"], ["draw"], ["new"], ["doctor"], ["connect"], ["demo"]]
)
def test_help_loads_nothing_heavy_and_no_function(words: list[str]) -> None:
    shown = python(HELP, *words, "--help")
    assert shown.startswith("Usage: pressfuncs")
    assert shown.endswith("\nloaded:")


TIMED = """
import atexit, sys, time
atexit.register(lambda: print(time.process_time(), file=sys.stderr))
from pressfuncs.cli import main
main()
"""


def test_help_comes_at_once(tmp_path: Path) -> None:
    """Compiled modules are kept, as an installed package has them; processor seconds, whatever else runs here."""
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(tmp_path)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    command = [sys.executable, "-c", TIMED, "--help"]
    runs = [subprocess.run(command, capture_output=True, text=True, env=environment, check=True) for _ in range(6)]
    assert min(float(run.stderr) for run in runs) < 0.15


RECALC = """
import sys
from pathlib import Path
import pressfuncs.batch.workers as workers
from pressfuncs.batch.many import recalculate_many
from pressfuncs.batch.recalc import Options, recalculate
from pressfuncs.batch.report import Wanted
heavy = {"openpyxl", "formulon", "pint", "lxml", "pandas"}
print("at the start:", *sorted((heavy | {"click"}) & set(sys.modules)))
book = Path(sys.argv[1])
print(*(digest.row[1] for digest in recalculate_many([(book, None)], Options(), Wanted(True), workers.Bounds())))
if workers.CAN_FORK:
    print("afterwards:", *sorted((heavy | {"click"}) & set(sys.modules)))
recalculate(book, None)
print("in the worker:", *sorted(heavy & set(sys.modules)))
"""


def test_recalculating_a_small_book_loads_only_what_it_needs(tmp_path: Path) -> None:
    """No book without dates needs openpyxl, which takes longer than the book."""
    cells = {f"{column}{row}": F(f"PF_SHEARING_FORCE({row},1,1000)") for row in range(1, 41) for column in "BCD"}
    path = make(tmp_path / "a.xlsx", {"Dies": cells | {"A1": 1.0, "E1": F("SUM(B1:D40)")}})
    said = python(RECALC, str(path)).splitlines()
    assert said[0] == "at the start:"
    assert said[1].split()[0] == "121"
    assert [line for line in said[2:] if not line.endswith(":")] == []


def test_the_first_function_that_is_wanted_brings_all() -> None:
    assert python("from pressfuncs import shearing_force; print(shearing_force(100.0, 2.0, 300.0))") == "60000.0"
    assert python("from pressfuncs import *; print(shearing_force.__name__, with_units.__name__)") == (
        "shearing_force with_units"
    )
    assert (
        python("import pressfuncs; print(pressfuncs.functions.cutting.__name__)") == "pressfuncs.functions.cutting"
    )
    assert python("import pressfuncs; print(pressfuncs.edge.evaluate.__name__)") == "evaluate"


def test_the_package_lists_every_function_and_no_more_than_there_are() -> None:
    code = "import pressfuncs; print(*dir(pressfuncs)); print(*pressfuncs.__all__)"
    listed, starred = (set(line.split()) for line in python(code).splitlines())
    assert starred == {*functions.__all__, "explain", "with_units", "__version__"}
    assert starred <= listed


def test_a_name_that_is_not_there_is_refused_as_python_does() -> None:
    with pytest.raises(AttributeError, match="module 'pressfuncs' has no attribute 'shear_force'"):
        pressfuncs.shear_force()  # type: ignore[attr-defined]
    with pytest.raises(ImportError, match="cannot import name 'shear_force' from 'pressfuncs'"):
        exec("from pressfuncs import shear_force")
    with pytest.raises(AttributeError, match="no attribute 'functions'"):
        sys.modules["pressfuncs.registry"].functions()


def test_no_function_has_the_name_of_a_module() -> None:
    """The package answers with the module where a name is both."""
    modules = {path.stem for path in PACKAGE.glob("*.py")} | {
        path.name for path in PACKAGE.iterdir() if path.is_dir()
    }
    assert not modules & {*functions.__all__, "explain", "with_units"}


ORDER = "from pressfuncs.registry import FUNCTIONS; print(*FUNCTIONS)"


@pytest.mark.parametrize(
    "before",
    ["", "import pressfuncs.functions.throughput", "import pressfuncs.edge", "from pressfuncs import bend_k"],
)
def test_the_register_is_whole_and_in_the_same_order_whatever_was_loaded_before(before: str) -> None:
    names = python(f"{before}\n{ORDER}").split()
    assert set(names) == {*functions.__all__, "explain"}
    assert names == python(ORDER).split()


THREADS = """
import sys, threading
sys.setswitchinterval(1e-6)
from pressfuncs import registry
found = []
threads = [threading.Thread(target=lambda: found.append(tuple(registry.FUNCTIONS))) for _ in range(8)]
for thread in threads: thread.start()
for thread in threads: thread.join()
print(len(found), len(set(found)), len(found[0]))
"""


def test_threads_that_want_the_register_at_once_all_get_the_whole_of_it() -> None:
    assert python(THREADS).split() == ["8", "1", str(len(functions.__all__) + 1)]


def test_a_function_is_found_by_name_without_anything_loaded_before() -> None:
    assert python("from pressfuncs.registry import find; print(find('PF_BEND_K').chapter)") == "Bending"
