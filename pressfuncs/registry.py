"""The register of functions: everything a host, a help text or a page needs, read from the function itself.

`@function` leaves a function as it is and enters it in `FUNCTIONS`. Its signature gives arguments, defaults
and choices; its annotations give kinds; its docstring gives every text. Nothing is kept a second time.
"""

from __future__ import annotations

import inspect
import json
import re
from collections.abc import Callable, Sequence
from functools import cached_property, lru_cache
from importlib import import_module
from pathlib import Path
from threading import Lock
from types import CodeType
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, TypeVar, Union, get_args, get_origin, get_type_hints

from pressfuncs.quantities import TEXT, Columns, Kind, Rows, Series

PREFIX = "PF_"
UNITS_ARGUMENT = "units"
UNITS_HELP = "how bare numbers are read and the result is given: metric (default) or inch"
SOURCES_FILE = Path(__file__).parent / "generated" / "sources.json"

F = TypeVar("F", bound=Callable[..., Any])
REQUIRED = object()
"""Stands for the default of an argument that has none."""


class Argument(NamedTuple):
    """One argument of a function, as hosts and help texts need it; `default` is in core units."""

    name: str
    kind: Kind
    help: str
    default: Any
    choices: tuple[str, ...]
    series: bool
    variadic: bool
    table: bool = False

    @property
    def whole(self) -> bool:
        """Whether it takes a range as one value, where others are computed cell by cell."""
        return self.series or self.table

    @property
    def required(self) -> bool:
        """Whether the argument must be given."""
        return self.default is REQUIRED and not self.variadic

    @property
    def label(self) -> str:
        """The name in words, as a heading or a sentence has it."""
        return self.name.replace("_", " ")


class Docs(NamedTuple):
    """The parts of a function's docstring."""

    summary: str
    formula: str
    notes: str
    arguments: dict[str, str]
    example: str


class FunctionSpec:
    """One function of the library with all that is said about it; parsed when first asked for."""

    def __init__(
        self,
        call: Callable[..., Any],
        chapter: str,
        source: str,
        place: str,
        result_kind: Callable[..., Kind] | None,
        cite: Callable[..., str] | None = None,
    ) -> None:
        """Keep the function and the words its decorator was given."""
        self.call = call
        self.name: str = call.__name__
        self.chapter = chapter
        self.source = source
        self.place = place
        self.result_kind = result_kind
        self.cite = cite

    def __repr__(self) -> str:
        return f"FunctionSpec({self.name})"

    @property
    def sheet_name(self) -> str:
        """The name of the worksheet function."""
        return PREFIX + self.name.upper()

    @cached_property
    def docs(self) -> Docs:
        """The parsed docstring."""
        return parse_docstring(self.call.__doc__ or "")

    @cached_property
    def _hints(self) -> dict[str, Any]:
        return get_type_hints(self.call, include_extras=True)

    @cached_property
    def arguments(self) -> tuple[Argument, ...]:
        """The arguments in order."""
        return tuple(
            _argument(parameter, self._hints[name], self.docs.arguments.get(name, ""))
            for name, parameter in inspect.signature(self.call).parameters.items()
        )

    @cached_property
    def kinds(self) -> dict[str, Kind]:
        """The kind of each argument by name."""
        return {argument.name: argument.kind for argument in self.arguments}

    @cached_property
    def columns(self) -> Columns | None:
        """The columns of the result, for a function that returns rows."""
        columns: Columns | None = _marker(self._hints["return"], Columns)
        return columns

    @cached_property
    def result(self) -> Kind:
        """The kind of the result (for rows: the kind of the first column)."""
        return self.columns.kinds[0] if self.columns else _kind(self._hints["return"])

    @cached_property
    def has_units(self) -> bool:
        """Whether the worksheet function takes the last argument `units`."""
        if self.variadic:
            return False
        kinds = [self.result, *self.kinds.values(), *(self.columns.kinds if self.columns else ())]
        return self.result_kind is not None or any(kind.has_unit for kind in kinds)

    @cached_property
    def elementwise(self) -> bool:
        """Whether the function itself computes on arrays of numbers, element by element."""
        return (
            self.columns is None
            and self.result is not TEXT
            and self.result_kind is None
            and not any(argument.whole for argument in self.arguments)
        )

    @cached_property
    def variadic(self) -> bool:
        """Whether the function takes any further values, as they stand in their cells."""
        return any(argument.variadic for argument in self.arguments)

    @cached_property
    def most_arguments(self) -> int | None:
        """How many arguments a worksheet call may have, `units` included; None for any number."""
        return None if self.variadic else len(self.arguments) + self.has_units

    @property
    def citation(self) -> str:
        """The source in words, with the place in it, and how far it was checked."""
        entry = sources()[self.source]
        parts = [str(entry[key]) for key in ("author", "title", "edition", "year") if entry.get(key)]
        recalled = " (recalled)" if entry.get("recalled") else ""
        return ", ".join([*parts, self.place] if self.place else parts) + recalled

    def citation_of(self, values: Sequence[Any]) -> str:
        """The source of the result of one call, which for a table depends on what was asked."""
        return self.cite(*values) if self.cite is not None else self.citation


_ENTERED: dict[str, FunctionSpec] = {}
_ORDERING = Lock()

if TYPE_CHECKING:
    FUNCTIONS: dict[str, FunctionSpec]
    """Every function of the library by name."""
else:

    def __getattr__(name):
        """Return FUNCTIONS, and load the library for it: whoever asks wants the whole of it."""
        if name != "FUNCTIONS":
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        return _all()


@lru_cache(maxsize=1)
def _all() -> dict[str, FunctionSpec]:
    """Load the library and put its functions in order, whichever of its modules was wanted first."""
    for module in ("edge", "functions"):
        import_module(f"{__package__}.{module}")
    with _ORDERING:  # two threads may want the first function at once
        in_order = sorted(_ENTERED.values(), key=_place)
        if in_order != list(_ENTERED.values()):
            _ENTERED.clear()
            _ENTERED.update((spec.name, spec) for spec in in_order)
    return _ENTERED


def _place(spec: FunctionSpec) -> tuple[str, int]:
    return spec.call.__module__, spec.call.__code__.co_firstlineno


_BY_CODE: dict[CodeType, FunctionSpec] = {}


def function(
    *,
    chapter: str,
    source: str,
    place: str = "",
    result_kind: Callable[..., Kind] | None = None,
    cite: Callable[..., str] | None = None,
) -> Callable[[F], F]:
    """Enter a function in the register under its chapter and source (a key of sources.toml).

    `result_kind`, for the few functions whose answer may be of any kind, takes the same arguments as the
    function and returns the kind of its result. So does `cite`, for those whose source depends on the arguments.
    """

    def enter(call: F) -> F:
        spec = FunctionSpec(call, chapter, source, place, result_kind, cite)
        _ENTERED[spec.name] = spec
        _BY_CODE[call.__code__] = spec
        return call

    return enter


def by_code(code: CodeType) -> FunctionSpec | None:
    """Return the function whose body this code is."""
    return _BY_CODE.get(code)


def find(name: str) -> FunctionSpec:
    """Return the function of this name, with or without PF_, in any letter case; KeyError if there is none.

    >>> find("PF_SHEARING_FORCE").name
    'shearing_force'
    """
    plain = name.strip().lower()
    return _all()[plain[len(PREFIX) :] if plain.startswith(PREFIX.lower()) else plain]


@lru_cache(maxsize=1)
def sources() -> dict[str, dict[str, Any]]:
    """Return the bibliography by key."""
    loaded: dict[str, dict[str, Any]] = json.loads(SOURCES_FILE.read_text(encoding="utf-8"))
    return loaded


def parse_docstring(text: str) -> Docs:
    """Split a docstring into summary, formula, notes, argument help and example.

    The first paragraph is the summary, the second the formula; paragraphs before `Arguments:` are notes.
    """
    lines = inspect.cleandoc(text).splitlines()
    example_at = next((i for i, line in enumerate(lines) if line.startswith(">>>")), len(lines))
    example = "\n".join(lines[example_at:]).strip()
    arguments: dict[str, str] = {}
    body: list[str] = []
    inside, current = False, ""
    for line in lines[:example_at]:
        if line == "Arguments:":
            inside = True
        elif inside and (match := re.match(r" {4}(\w+): (.*)", line)):
            current = match[1]
            arguments[current] = match[2].strip()
        elif inside and line.startswith(" " * 6):
            arguments[current] += " " + line.strip()
        elif not inside or line.strip():
            inside = False
            body.append(line)
    paragraphs = [" ".join(part.split()) for part in re.split(r"\n\s*\n", "\n".join(body)) if part.strip()]
    summary, formula, *notes = [*paragraphs, "", ""][: max(2, len(paragraphs))]
    return Docs(summary, formula, "\n\n".join(notes), arguments, example)


def _marker(hint: Any, wanted: type) -> Any:
    return next((mark for mark in getattr(hint, "__metadata__", ()) if isinstance(mark, wanted)), None)


def _given(hint: Any) -> Any:
    """Return what an argument is when it is given: Optional[Force] may stay blank without a default."""
    return get_args(hint)[0] if get_origin(hint) is Union else hint


def _kind(hint: Any) -> Kind:
    if get_origin(hint) is Literal:
        return TEXT
    kind = _marker(_given(hint), Kind)
    if kind is None:
        raise TypeError(f"{hint!r} names no kind of quantity")
    return kind  # type: ignore[no-any-return]


def _argument(parameter: inspect.Parameter, hint: Any, help_text: str) -> Argument:
    return Argument(
        name=parameter.name,
        kind=_kind(hint),
        help=help_text,
        default=REQUIRED if parameter.default is parameter.empty else parameter.default,
        choices=tuple(get_args(hint)) if get_origin(hint) is Literal else (),
        series=_marker(_given(hint), Series) is not None,
        variadic=parameter.kind is parameter.VAR_POSITIONAL,
        table=_marker(_given(hint), Rows) is not None,
    )
