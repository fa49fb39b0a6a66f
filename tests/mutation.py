"""Mutation check: does a test fail when a function is made wrong? Run `python tests/mutation.py [MODULE...]`.

Every mutant runs in a forked process of its own, on the libraries that its parent has imported already: first
the golden cases through the plain call, then the example and the tests of the chapter, then the proofs that run
on every function. Prints the share killed and the survivors; exits with 1 if the share is below `AIM`, if the
unharmed module fails, or if a mutant said to be equivalent is killed.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # a fork keeps only one thread

import ast
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import sys
import time
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import CodeType, ModuleType

import pytest
from mutators import Mutant, mutants

AIM = 0.95
WORKERS = 2
TIME_LIMIT = 60.0

TESTS = Path(__file__).parent
FUNCTIONS_PACKAGE, ASSIGNMENT_PACKAGE = "pressfuncs.functions", "pressfuncs.batch.assignment"
JUDGING = ("checks", "cuts", "demand", "figures", "kinds", "supply")
"""The modules of an assignment that decide what passes; its reading and writing are tested, not mutated."""
EQUIVALENT_FILE = TESTS / "equivalent_mutants.toml"

JUDGES = ["assign_dies", "assign_presses", "assign_checks", "assign_ranking"]
"""Tests of these."""

CHAPTER_TESTS = {
    "_crank": ["mechanical", "underdrive"],
    "_rounding": ["rounding", "closed_height", "throughput", "cutting"],
    "cutting": ["cutting", "rounding"],
    "cutting_sizes": ["cutting"],
    "die_space": ["closed_height"],
    "flywheel": ["mechanical"],
    "mechanical": ["mechanical", "underdrive"],
    "reference": ["materials", "own_tables"],
}
"""Module -> the test files of its chapter, where they are not called after the module."""

PROOFS = ["test_refusals.py", "test_unit_proof.py", "test_edge_columns.py"]
"""Tests that run on every function of the library, by its name."""

PRELOADED = ["hypothesis.strategies", "numpy", "pint", "scipy.integrate", "scipy.optimize", "sympy"]

QUIET = ["-x", "-q", "--assert=plain", "-p", "no:cacheprovider", "-o", "addopts="]

KILLED, SURVIVED = 1, 0


class Planted(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module of the library from changed code, and leaves all others as they are."""

    def __init__(self, name: str, path: Path, code: CodeType) -> None:
        """Plant the code under the module's name."""
        self.name, self.path, self.code = name, path, code

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Answer for the planted module only."""
        if fullname != self.name:
            return None
        return importlib.util.spec_from_file_location(fullname, self.path, loader=self)

    def exec_module(self, module: ModuleType) -> None:
        """Run the changed code as the module."""
        exec(self.code, module.__dict__)


def package_of(module: str) -> str:
    """Return the package of a module."""
    return ASSIGNMENT_PACKAGE if module in JUDGING else FUNCTIONS_PACKAGE


def path_of(module: str) -> Path:
    """Return the file of a module."""
    return TESTS.parent.joinpath(*package_of(module).split("."), f"{module}.py")


def golden_case_fails(module: str) -> bool:
    """Whether a golden case fails through the plain call; those of the module itself come first."""
    import golden

    from pressfuncs.quantities import Wording

    for case in sorted(golden.ALL, key=lambda case: case.spec.call.__module__ != f"{FUNCTIONS_PACKAGE}.{module}"):
        try:
            result = case.spec.call(*case.core())
        except Exception as error:
            if type(error) is not case.error:
                return True
            continue
        try:
            assert case.error is None
            case.judge(result.shown("metric") if isinstance(result, Wording) else result, "core")
        except Exception:
            return True
    return False


def pytest_fails(*words: str) -> bool:
    """Whether one of these tests fails."""
    return pytest.main([*QUIET, *words]) != pytest.ExitCode.OK


def test_fails(module: str) -> bool:
    """Whether any test of the module fails, the quickest first."""
    importlib.import_module("pressfuncs")
    if module not in JUDGING and golden_case_fails(module):
        return True
    files = JUDGES if module in JUDGING else CHAPTER_TESTS.get(module, [module])
    chapter = [TESTS / f"test_{name}.py" for name in files]
    here = [str(path) for path in (path_of(module), *chapter) if path.exists()]
    few = ["--hypothesis-profile=few"] if module in JUDGING else []
    if pytest_fails("--doctest-modules", "-o", "doctest_optionflags=NUMBER NORMALIZE_WHITESPACE", *few, *here):
        return True
    if module in JUDGING:
        return False
    from pressfuncs.registry import FUNCTIONS

    concerned = {f"{FUNCTIONS_PACKAGE}.{name}" for name in (module, *CHAPTER_TESTS.get(module, []))}
    names = [name for name, spec in FUNCTIONS.items() if spec.call.__module__ in concerned]
    names.append("exceptions_are_in_use")
    return pytest_fails("-k", " or ".join(names), *(str(TESTS / name) for name in PROOFS))


def run_forked(module: str, tree: ast.Module, mutant: Mutant | None) -> int:
    """Start a child that tests one mutant (or the unharmed module) and ends with KILLED or SURVIVED."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return child
    status = KILLED
    try:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        if mutant is not None:
            mutant.apply()
        path = path_of(module)
        code = compile(ast.fix_missing_locations(tree), str(path), "exec")
        sys.meta_path.insert(0, Planted(f"{package_of(module)}.{module}", path, code))
        status = KILLED if test_fails(module) else SURVIVED
    except BaseException:  # whatever a mutant brings down, its tests have seen it
        status = KILLED
    finally:
        os._exit(status)


def statuses(module: str, tree: ast.Module, those: Sequence[Mutant | None]) -> Iterator[tuple[int, int]]:
    """Yield the place of each mutant and its status, as they come; one that takes too long is killed."""
    waiting = list(enumerate(those))
    running: dict[int, tuple[int, float]] = {}
    while waiting or running:
        while waiting and len(running) < WORKERS:
            place, mutant = waiting.pop(0)
            running[run_forked(module, tree, mutant)] = (place, time.monotonic() + TIME_LIMIT)
        time.sleep(0.002)
        for child, (place, until) in list(running.items()):
            done, status = os.waitpid(child, os.WNOHANG)
            if not done and time.monotonic() > until:
                os.kill(child, 9)
                done, status = os.waitpid(child, 0)
            if done:
                del running[child]
                yield place, SURVIVED if status == SURVIVED else KILLED


def equivalents() -> dict[str, dict[tuple[str, str], str]]:
    """Return module -> (function, change) -> why no test can tell that mutant from the original."""
    found: dict[str, dict[tuple[str, str], str]] = {}
    for entry in tomllib.loads(EQUIVALENT_FILE.read_text(encoding="utf-8"))["mutant"]:
        found.setdefault(entry["module"], {})[entry["function"], entry["change"]] = entry["reason"]
    return found


def check(module: str, excused: dict[tuple[str, str], str]) -> tuple[int, int, int, list[str]]:
    """Return how many mutants were killed, survived and are equivalent, and what is to be said."""
    tree = ast.parse(path_of(module).read_text(encoding="utf-8"))
    found = mutants(tree)
    said: list[str] = []
    killed = survived = equivalent = 0
    unknown = set(excused) - {mutant.key for mutant in found}
    said += [f"{module}: no such mutant any more: {function}: {change}" for function, change in unknown]
    for place, status in statuses(module, tree, [None, *found]):
        if place == 0:
            if status == KILLED:
                said.append(f"{module}: the tests fail on the unharmed module")
            continue
        mutant = found[place - 1]
        if status == KILLED:
            killed += 1
            if mutant.key in excused:
                said.append(f"{module}:{mutant.line}: called equivalent, but killed: {mutant.change}")
        elif mutant.key in excused:
            equivalent += 1
        else:
            survived += 1
            print(f"survived {module}.py:{mutant.line} {mutant.function}: {mutant.change}", flush=True)
    return killed, survived, equivalent, said


def main(modules: Sequence[str]) -> int:
    """Check the modules (all of them by default) and print the table."""
    sys.path[:0] = [str(TESTS), str(TESTS.parent)]  # this checkout, wherever another one is installed
    for name in PRELOADED:
        importlib.import_module(name)
    library = path_of("cutting").parent
    every = [path.stem for path in sorted(library.glob("*.py")) if path.stem != "__init__"] + list(JUDGING)
    excused = equivalents()
    rows: list[tuple[str, int, int, int]] = []
    said: list[str] = []
    for module in modules or every:
        killed, survived, equivalent, words = check(module, excused.get(module, {}))
        rows.append((module, killed, survived, equivalent))
        said += words
    rows.append(("all", *(sum(row[i] for row in rows) for i in (1, 2, 3))))
    print("\n| module | mutants | killed | survived | equivalent | share killed |\n|---|---|---|---|---|---|")
    for module, killed, survived, equivalent in rows:
        share = killed / (killed + survived) if killed + survived else 1.0
        total = killed + survived + equivalent
        print(f"| {module} | {total} | {killed} | {survived} | {equivalent} | {share:.1%} |")
    print("\n".join(["", *said]))
    return int(bool(said) or share < AIM)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
