"""The ways a function refuses input. Each takes the arguments by name, so that the sentence can name them.

They take single numbers, series, numpy arrays and Quantities alike. For arrays the error also carries
`bad`, the mask of refused elements, so that one bad element can be set aside instead of spoiling the rest.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from difflib import get_close_matches
from typing import Any, NoReturn, Optional

from pressfuncs import registry
from pressfuncs.arrays import where
from pressfuncs.errors import Impossible, NotInTable, OutOfRange, PressError, WrongChoice, WrongType
from pressfuncs.quantities import Kind

INF = math.inf
_PLAIN = (float, int)
_BLOCK = 65_536
_LISTED = 12
"""How many choices a sentence may list."""
_Numbers = dict[str, tuple[float, Optional[Kind]]]


def positive(**arguments: Any) -> None:
    """Refuse what is not greater than 0."""
    for value in arguments.values():
        if not (value.__class__ in _PLAIN and 0.0 < value < INF):
            break
    else:
        return
    _check(arguments, lambda value: value > 0, "must be greater than {}", (0.0,))


def not_negative(**arguments: Any) -> None:
    """Refuse what is less than 0."""
    for value in arguments.values():
        if not (value.__class__ in _PLAIN and 0.0 <= value < INF):
            break
    else:
        return
    _check(arguments, lambda value: value >= 0, "must not be less than {}", (0.0,))


def finite(**arguments: Any) -> None:
    """Refuse infinities and what is not a number; any sign is allowed."""
    for value in arguments.values():
        if not (value.__class__ in _PLAIN and -INF < value < INF):
            break
    else:
        return
    _check(arguments, lambda value: value == value, "must be a finite number", ())


def within(lower: float, upper: float, **arguments: Any) -> None:
    """Refuse what is not from `lower` to `upper`, both allowed."""
    for value in arguments.values():
        if not (value.__class__ in _PLAIN and lower <= value <= upper):
            break
    else:
        return
    _check(arguments, lambda value: (value >= lower) & (value <= upper), "must be from {} to {}", (lower, upper))


def share(**arguments: Any) -> None:
    """Refuse what is not greater than 0 and at most 1; the sentence reminds that 10 % is 0.1."""
    for value in arguments.values():
        if not (value.__class__ in _PLAIN and 0.0 < value <= 1.0):
            break
    else:
        return
    _check(
        arguments,
        lambda value: (value > 0) & (value <= 1),
        "must be greater than {} and at most {} (10 % is 0.1)",
        (0.0, 1.0),
    )


def loss(**arguments: Any) -> None:
    """Refuse a share that is less than 0, or 1 and more, at which nothing is left."""
    for value in arguments.values():
        if not (value.__class__ in _PLAIN and 0.0 <= value < 1.0):
            break
    else:
        return
    _check(
        arguments,
        lambda value: (value >= 0) & (value < 1),
        "must be {} or more and less than {} (10 % is 0.1)",
        (0.0, 1.0),
    )


def whole(least: int = 1, **arguments: Any) -> None:
    """Refuse what is not a whole number of at least `least`."""
    for value in arguments.values():
        if not (value.__class__ in _PLAIN and least <= value < INF and value == int(value)):
            break
    else:
        return
    _check(
        arguments,
        lambda value: (value >= least) & (value % 1 == 0),
        "must be a whole number, {} or more",
        (float(least),),
        interval=False,
    )


def require(condition: Any, rule: str, **values: Any) -> None:
    """Refuse numbers that are each in range but not together, unless the condition holds.

    `rule` is the sentence with `{name}` for each value: `require(rod < bore, "rod {rod} is not smaller
    than bore {bore}", rod=rod, bore=bore)`. A value is written in the unit of the argument of its name; for
    others give `(value, KIND)`.
    """
    if condition is True or (condition.__class__ is not bool and _all(condition)):
        return
    spec = _caller()
    bad = _not(condition)
    numbers: _Numbers = {}
    for name, value in values.items():
        number, kind = value if isinstance(value, tuple) else (value, spec.kinds.get(name) if spec else None)
        numbers[name] = (_first(number, bad), kind)
    first = next(iter(values), "")
    _raise(Impossible, rule, numbers, bad, spec, first, numbers[first][0] if first else None)


def one_of(choices: Iterable[str], **arguments: Any) -> None:
    """Refuse a text that is none of the choices; the sentence lists them and names the nearest."""
    known = tuple(choices)
    for name, value in arguments.items():
        if value not in known:
            refuse_choice(name, value, known)


def refuse_choice(argument: str, value: object, known: Sequence[str]) -> NoReturn:
    """Raise WrongChoice for a text that is not among the known ones."""
    in_lower_case = {word.lower(): word for word in reversed(known)}
    nearest = get_close_matches(str(value).lower(), in_lower_case, n=1)
    cures = [f"nearest: {in_lower_case[nearest[0]]}"] if nearest else []
    if not nearest or len(known) <= _LISTED:
        more = ", ..." if len(known) > _LISTED else ""
        cures.append(f"choose from {', '.join(known[:_LISTED])}{more}")
    spec = _caller()
    raise WrongChoice(
        f'{argument} "{value}" is not known, {"; ".join(cures)}',
        function=spec.name if spec else "",
        argument=argument,
        value=value,
    )


def not_in_table(sentence: str, argument: str = "", value: object = None) -> NoReturn:
    """Raise NotInTable with a sentence that says what is missing and what to do."""
    spec = _caller()
    raise NotInTable(sentence, function=spec.name if spec else "", argument=argument, value=value)


def _check(
    arguments: dict[str, Any],
    test: Callable[[Any], Any],
    rule: str,
    bounds: tuple[float, ...],
    interval: bool = True,
) -> None:
    """Find every argument that fails the test or is not finite, and refuse them in one sentence.

    Where the test asks for an `interval`, an array passes it if its least and greatest elements do.
    """
    spec = _caller()
    sentences: list[str] = []
    numbers: _Numbers = {}
    first: tuple[str, float] | None = None
    bad: Any = False
    if interval:
        arguments = {name: value for name, value in arguments.items() if not _series_holds(value, test)}
    for name, value in _elements(arguments):
        if isinstance(value, (bool, str)) or value is None:
            found = "blank" if value is None else f'"{value}"'
            raise WrongType(
                f"{name} is {found}, a number is wanted",
                function=spec.name if spec else "",
                argument=name,
                value=value,
            )
        if interval and getattr(value, "ndim", False) and value.size:
            if all(test(end) and _finite(end) for end in _ends(value)):
                continue
        is_finite = _finite(value)
        holds = test(value if _all(is_finite) else where(is_finite, value, 0.0)) & is_finite
        if _all(holds):
            continue
        kind = spec.kinds.get(name.split(" ")[0]) if spec else None
        key = f"v{len(numbers)}"
        shown = [f"{{{key}_{i}}}" for i in range(len(bounds))]
        refused = _first(value, _not(holds))
        if _finite(refused):
            sentences.append(f"{name} {rule.format(*shown)}, got {{{key}}}")
            numbers.update({f"{key}_{i}": (bound, kind) for i, bound in enumerate(bounds)})
        else:
            sentences.append(f"{name} is not a finite number")
        bad = bad | _not(holds)
        numbers[key] = (refused, kind)
        first = first or (name, refused)
    if first:
        _raise(OutOfRange, "; ".join(sentences), numbers, bad, spec, *first)


def _series_holds(value: Any, test: Callable[[Any], Any]) -> bool:
    """Whether a list of plain numbers passes a test for an interval, found by its least and greatest."""
    if value.__class__ is not list or {*map(type, value)} != {float}:
        return False
    total = sum(value)
    return total - total == 0.0 and bool(test(min(value)) and test(max(value)))


def _ends(value: Any) -> Iterator[Any]:
    """Yield least and greatest of each block of an array: short enough to be read from memory only once."""
    flat = value.reshape(-1)
    for start in range(0, len(flat), _BLOCK):
        block = flat[start : start + _BLOCK]
        yield block.min()
        yield block.max()


def _elements(arguments: dict[str, Any]) -> Iterable[tuple[str, Any]]:
    for name, value in arguments.items():
        if isinstance(value, (list, tuple)):
            for i, element in enumerate(value):
                yield f"{name} number {i + 1}", element
        else:
            yield name, value


def _raise(
    error: type[PressError],
    rule: str,
    numbers: _Numbers,
    bad: Any,
    spec: registry.FunctionSpec | None,
    argument: str,
    value: float | None,
) -> NoReturn:
    raised = error(
        rule,
        function=spec.name if spec else "",
        argument=argument,
        value=value,
        numbers=numbers,
    )
    raised.bad = bad  # type: ignore[attr-defined]
    raise raised


def _all(condition: Any) -> bool:
    return bool(condition.all()) if hasattr(condition, "all") else bool(condition)


def _not(condition: Any) -> Any:
    return ~condition if hasattr(condition, "all") else not condition


def _finite(value: Any) -> Any:
    """Whether a number, or each element, is neither infinite nor NaN; pint compares no unit with infinity."""
    return abs(getattr(value, "magnitude", value)) < INF


def _first(value: Any, bad: Any) -> float:
    """Return the (first refused) number, bare."""
    value = getattr(value, "magnitude", value)
    if getattr(value, "ndim", 0):
        value = value[bad] if getattr(bad, "shape", None) == value.shape else value
        value = value.flat[0]
    return float(value)


def _caller() -> registry.FunctionSpec | None:
    """Find the library function that is being evaluated: it knows the kinds of its arguments.

    Looked up on the stack, and only once something is refused, so that a plain function pays nothing for it.
    """
    frame: Any = sys._getframe(1)
    while frame is not None:
        spec = registry.by_code(frame.f_code)
        if spec is not None:
            return spec
        frame = frame.f_back
    return None
