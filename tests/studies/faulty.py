"""Small faults as people make them: a boundary, a sign, a constant, a condition, a result, a forgotten line."""

from __future__ import annotations

import ast
import copy
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

_COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
_COUNTED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult, ast.Pow: ast.Mult, ast.LShift: ast.RShift, ast.RShift: ast.LShift, ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd, ast.BitXor: ast.BitOr, ast.MatMult: ast.Mult,
}  # fmt: skip
_LARGER = 1.1  # a constant that is not whole grows by so much


@dataclass(frozen=True)
class Mutant:
    """A file with one fault.

    Attributes
    ----------
    path : str
        Of the file, from the tree's root.
    line : int
    key : str
        Of the fault and the function it is in; hexadecimal.
    before, after : str
        The piece of code.
    source : callable
        Gives the whole file.
    """

    path: str
    line: int
    key: str
    before: str
    after: str
    source: Callable[[], str]

    def words(self) -> str:
        """Where it is and what it is, one line."""
        return f"{self.path}:{self.line}: {_short(self.before)}  ->  {_short(self.after)}"


def mutants_of(path: str, source: str) -> list[Mutant]:
    """Every fault of a file that this module knows; texts, annotations and imports are left as they are."""
    tree = ast.parse(source)
    _drop_docstrings(tree)
    found = []
    for top in tree.body:
        whole = ast.dump(top)
        for number, (node, faulty) in enumerate(_faults(top)):
            before, after = ast.unparse(node), ast.unparse(faulty) if faulty is not None else "pass"
            text = f"{path} {whole} {number} {before} {after}"
            key = hashlib.sha256(text.encode()).hexdigest()[:16]
            written = partial(_written, tree, node, faulty if faulty is not None else ast.Pass())
            found.append(Mutant(path, node.lineno, key, before, after, written))
    return found


def _faults(top: ast.stmt) -> Iterator[tuple[ast.expr | ast.stmt, ast.expr | ast.stmt | None]]:
    """A node, and what stands in its place; None is nothing."""
    for node in _looked_at(top):
        match node:
            case ast.Compare(left, [op], [right]) if type(op) in _COMPARED:
                yield node, ast.Compare(left, [_COMPARED[type(op)]()], [right])
            case ast.Compare(left, [first, *ops], rights) if type(first) in _COMPARED:
                yield node, ast.Compare(left, [_COMPARED[type(first)](), *ops], rights)
                last = ops[-1]
                yield node, ast.Compare(left, [first, *ops[:-1], _COMPARED[type(last)]()], rights)
            case ast.BinOp(left, op, right) if type(op) in _COUNTED and not _is_text(left):
                yield node, ast.BinOp(left, _COUNTED[type(op)](), right)
            case ast.BoolOp(op, values):
                yield node, ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)
            case ast.UnaryOp(ast.Not() | ast.USub() | ast.Invert(), operand):
                yield node, operand
            case ast.Constant(value) if isinstance(value, bool):
                yield node, ast.Constant(not value)
            case ast.Constant(value) if isinstance(value, int):
                yield node, ast.Constant(value + 1)
            case ast.Constant(value) if isinstance(value, float):
                yield node, ast.Constant(value * _LARGER if value else 1.0)
            case ast.If(test, body, orelse):
                yield node.test, ast.UnaryOp(ast.Not(), test)
            case ast.IfExp(test, body, orelse):
                yield node, ast.IfExp(test, orelse, body)
            case ast.Return(value) if value is not None and not _is_none(value):
                yield node, ast.Return(ast.Constant(None))
            case ast.AugAssign(target, op, value) if type(op) in _COUNTED:
                yield node, ast.AugAssign(target, _COUNTED[type(op)](), value)
            case ast.Expr(ast.Call()) | ast.Raise() | ast.Continue() | ast.Break():
                yield node, None


def _looked_at(node: ast.AST) -> Iterator[ast.expr | ast.stmt]:
    """All that may hold a fault: not annotations, decorators, bases and texts."""
    if isinstance(node, ast.Import | ast.ImportFrom | ast.JoinedStr):
        return
    if isinstance(node, ast.expr | ast.stmt):
        yield node
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "bases"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _looked_at(child)


def _written(tree: ast.Module, node: ast.AST, other: ast.AST) -> str:
    """The code with another node in this one's place."""
    return ast.unparse(ast.fix_missing_locations(copy.deepcopy(tree, {id(node): other})))


def _drop_docstrings(tree: ast.Module) -> None:
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and ast.get_docstring(node) is not None:
            node.body = node.body[1:] or [ast.Pass()]


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str | bytes))


def _is_none(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _short(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 100 else f"{line[:97]}..."
