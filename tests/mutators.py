"""Small wrongs done to the syntax tree of a module, one at a time: what the mutation check lets loose.

Each `Mutant` knows where it is and how to change its own tree; a test suite that lets one pass unseen would let
the same slip of a programmer pass.
"""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass

LIMITS = {"positive", "not_negative", "finite", "within", "share", "loss", "whole", "require", "one_of"}
BOUNDS = {"within": {"lower", "upper"}, "whole": {"least"}}
"""Keywords of limits that are no arguments to be limited."""

NOISE = 1e-6
"""Numbers below this are allowances for float noise."""

OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}

COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
"""Each comparison with the boundary moved, and turned round."""

_ARRAYS, _ROUNDING = "pressfuncs.arrays", "pressfuncs.functions._rounding"

SWAPS = {
    "minimum": (_ARRAYS, "maximum"),
    "maximum": (_ARRAYS, "minimum"),
    "floor": (_ARRAYS, "ceil"),
    "ceil": (_ARRAYS, "floor"),
    "sin": (_ARRAYS, "cos"),
    "cos": (_ARRAYS, "sin"),
    "tan": (_ARRAYS, "sin"),
    "round_up": (_ROUNDING, "round_down"),
    "round_down": (_ROUNDING, "round_up"),
    "min": ("builtins", "max"),
    "max": ("builtins", "min"),
    "any": ("builtins", "all"),
    "all": ("builtins", "any"),
}
"""Function -> where its opposite is found, and its name."""

OF_ARRAYS = {"fmax": "fmin", "fmin": "fmax", "maximum": "minimum", "minimum": "maximum"}
"""The same for numpy's, called as np.fmax."""

UNWRAPPED = {"settle", "absolute", "abs", "sqrt", "round_up", "round_down", "sorted", "nan_to_num"}
"""Functions whose call may be replaced by its first argument alone."""


@dataclass
class Mutant:
    """One wrong: `apply` does it to the tree it was found in."""

    function: str
    line: int
    change: str
    apply: Callable[[], None]

    @property
    def key(self) -> tuple[str, str]:
        """Function and change, by which a mutant is known when lines have moved."""
        return self.function, self.change


def mutants(tree: ast.Module) -> list[Mutant]:
    """Return every mutant of a module in the order of its lines; the same change met again is numbered."""
    found = sorted(_Finder(tree).found(), key=lambda mutant: mutant.line)
    met: Counter[tuple[str, str]] = Counter()
    for mutant in found:
        met[mutant.key] += 1
        if met[mutant.key] > 1:
            mutant.change += f" ({met[mutant.key]})"
    return found


class _Finder:
    def __init__(self, tree: ast.Module) -> None:
        self.tree = tree
        self.choices = {
            node.targets[0].id: _literals(node.value)
            for node in tree.body
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
        }

    def found(self) -> Iterator[Mutant]:
        for node in self.tree.body:
            if isinstance(node, ast.FunctionDef):
                yield from self._defaults(node)
                for statement in node.body:
                    yield from self._below(statement, node.name)
            elif isinstance(node, (ast.Assign, ast.AnnAssign)) and node.value is not None:
                yield from self._below(node.value, "module")

    def _below(self, node: ast.AST, function: str) -> Iterator[Mutant]:
        """Yield the mutants of a node and of all below it; texts and annotations stay as they are."""
        if isinstance(node, ast.JoinedStr):
            return
        if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id == "Literal":
            return
        yield from self._here(node, function)
        for field in node._fields:
            if field == "annotation":
                continue
            value = getattr(node, field)
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    yield from self._below(child, function)

    def _here(self, node: ast.AST, function: str) -> Iterator[Mutant]:
        if isinstance(node, (ast.BinOp, ast.AugAssign)) and type(node.op) in OPERATORS:
            yield self._set(node, function, "op", OPERATORS[type(node.op)]())
        elif isinstance(node, ast.Compare):
            for place, operator in enumerate(node.ops):
                for other in COMPARISONS.get(type(operator), ()):
                    yield self._set(node, function, "ops", [*node.ops[:place], other(), *node.ops[place + 1 :]])
        elif isinstance(node, ast.BoolOp):
            yield self._set(node, function, "op", ast.Or() if isinstance(node.op, ast.And) else ast.And())
        elif isinstance(node, ast.UnaryOp):
            yield self._replace(node, function, node.operand)
        elif isinstance(node, ast.IfExp):
            yield self._swap(node, function, "body", "orelse")
        elif isinstance(node, ast.Constant):
            if isinstance(node.value, (int, float)):
                yield self._set(node, function, "value", _other_number(node.value))
        elif isinstance(node, (ast.Continue, ast.Break)):
            other = ast.Break() if isinstance(node, ast.Continue) else ast.Continue()
            yield self._replace(node, function, other)
        elif isinstance(node, ast.Expr) and _called(node.value) in LIMITS:
            yield self._replace(node, function, ast.Pass())
            yield from self._limited(node.value, function)
        elif isinstance(node, ast.Call):
            yield from self._call(node, function)

    def _limited(self, call: ast.expr, function: str) -> Iterator[Mutant]:
        """Leave out each of several arguments of one limit."""
        assert isinstance(call, ast.Call)
        named = [keyword for keyword in call.keywords if keyword.arg not in BOUNDS.get(_called(call), ())]
        if _called(call) == "require" or len(named) < 2:
            return
        for keyword in named:
            yield self._set(call, function, "keywords", [k for k in call.keywords if k is not keyword])

    def _call(self, node: ast.Call, function: str) -> Iterator[Mutant]:
        name = _called(node)
        if isinstance(node.func, ast.Attribute) and name in OF_ARRAYS:
            yield self._set(node, function, "func", ast.Attribute(node.func.value, OF_ARRAYS[name], ast.Load()))
        elif name in SWAPS:
            yield self._rename(node, function, *SWAPS[name])
        if name in UNWRAPPED:
            yield self._replace(node, function, node.args[0])
        if name == "where":
            yield self._set(node, function, "args", [node.args[0], node.args[2], node.args[1]])

    def _defaults(self, function: ast.FunctionDef) -> Iterator[Mutant]:
        arguments = function.args.args[-len(function.args.defaults) :] if function.args.defaults else []
        for place, (argument, default) in enumerate(zip(arguments, function.args.defaults, strict=True)):
            other: ast.expr | None = None
            if isinstance(default, ast.Name):  # a named constant
                other = ast.BinOp(default, ast.Mult(), ast.Constant(1.1))
            elif isinstance(default, ast.Constant) and isinstance(default.value, (int, float)):
                other = ast.Constant(_other_number(default.value))
            elif isinstance(default, ast.Constant) and isinstance(argument.annotation, ast.Name):
                rest = [c for c in self.choices.get(argument.annotation.id, []) if c != default.value]
                other = ast.Constant(rest[0]) if rest else None
            if other is not None:
                yield self._default(function, place, argument.arg, other)

    def _default(self, function: ast.FunctionDef, place: int, name: str, other: ast.expr) -> Mutant:
        def apply() -> None:
            function.args.defaults[place] = other

        before = ast.unparse(function.args.defaults[place])
        return Mutant(function.name, function.lineno, f"default {name}={before} -> {ast.unparse(other)}", apply)

    def _set(self, node: ast.AST, function: str, field: str, value: object) -> Mutant:
        before, old = ast.unparse(node), getattr(node, field)
        setattr(node, field, value)
        after = ast.unparse(node)
        setattr(node, field, old)
        return Mutant(function, _line(node), f"{before} -> {after}", lambda: setattr(node, field, value))

    def _swap(self, node: ast.AST, function: str, one: str, two: str) -> Mutant:
        def apply() -> None:
            first, second = getattr(node, one), getattr(node, two)
            setattr(node, one, second)
            setattr(node, two, first)

        before = ast.unparse(node)
        apply()
        after = ast.unparse(node)
        apply()
        return Mutant(function, _line(node), f"{before} -> {after}", apply)

    def _replace(self, node: ast.AST, function: str, other: ast.AST) -> Mutant:
        def apply() -> None:
            _Replacer(node, other).visit(self.tree)

        return Mutant(function, _line(node), f"{ast.unparse(node)} -> {ast.unparse(other)}", apply)

    def _rename(self, node: ast.Call, function: str, module: str, name: str) -> Mutant:
        def apply() -> None:
            node.func = ast.Name(f"mutant_{name}", ast.Load())
            bringing = ast.ImportFrom(module, [ast.alias(name, f"mutant_{name}")], 0)
            here = next(i for i, line in enumerate(self.tree.body) if isinstance(line, ast.FunctionDef))
            if module == _ROUNDING and any(getattr(line, "name", "") == name for line in self.tree.body):
                node.func = ast.Name(name, ast.Load())
            else:
                self.tree.body.insert(here, bringing)

        before = ast.unparse(node)
        return Mutant(function, node.lineno, f"{before} -> {name}({before.partition('(')[2]}", apply)


class _Replacer(ast.NodeTransformer):
    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        return self.new if node is self.old else self.generic_visit(node)


def _called(node: ast.AST) -> str:
    """Return the name of a function that is called, also of one of numpy: `where` for np.where(...)."""
    if not isinstance(node, ast.Call):
        return ""
    if (
        isinstance(node.func, ast.Attribute)
        and isinstance(node.func.value, ast.Name)
        and node.func.value.id == "np"
    ):
        return node.func.attr
    return node.func.id if isinstance(node.func, ast.Name) else ""


def _line(node: ast.AST) -> int:
    return int(getattr(node, "lineno", 0))


def _other_number(value: float) -> float | bool:
    """Return 1 for 0, one more than a whole number, a thousand times a noise, a tenth more than others."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if abs(value) < NOISE:
        return value * 1000 or 1.0
    return value * 1.1


def _literals(node: ast.expr) -> list[str]:
    if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id == "Literal":
        return [one.value for one in ast.walk(node.slice) if isinstance(one, ast.Constant)]
    return []
