"""What the frame path may not do where small integers have 31 bits, found by reading the firmware's source."""

import ast

LIMIT = 1 << 30
_WRAPS = {"ticks_us", "ticks_add", "now"}  # calls whose result is a reading of the wrapping counter


def big_values(tree):
    """Lines of constant expressions outside viper functions that are no small integer on the chip."""
    out = []
    for node in _outside_viper(tree):
        if isinstance(node, ast.BinOp | ast.UnaryOp | ast.Constant) and abs(_value(node) or 0) >= LIMIT:
            out.append(node.lineno)
    return out


def unsafe_ticks(tree):
    """Lines that add, subtract or order readings of the counter without ticks_diff or ticks_add."""
    attributes = {_name(t) for n in ast.walk(tree) for t, v in _assigned(n) if _is_ticks(v, set()) and "." in _name(t)}
    out = []
    for function in (n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)):
        ticks = set(attributes)
        for node in ast.walk(function):
            ticks |= {_name(t) for t, v in _assigned(node) if _is_ticks(v, ticks)}
        for node in ast.walk(function):
            operands = []
            if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Sub | ast.Mult | ast.FloorDiv):
                operands = [node.left, node.right]
            elif isinstance(node, ast.AugAssign):
                operands = [node.target, node.value]
            elif isinstance(node, ast.Compare) and not isinstance(node.ops[0], ast.Eq | ast.NotEq | ast.Is | ast.IsNot):
                operands = [node.left, *node.comparators]
            if any(_is_ticks(operand, ticks) for operand in operands):
                out.append(node.lineno)
    return out


def calls(tree, names):
    """Lines where one of these names is used or imported."""
    out = []
    for node in ast.walk(tree):
        found = {getattr(node, "attr", None), getattr(node, "id", None)}
        if isinstance(node, ast.ImportFrom):
            found = {node.module, *(alias.name for alias in node.names)}
        if found & names:
            out.append(node.lineno)
    return out


def _outside_viper(node):
    if any(getattr(decorator, "attr", "") == "viper" for decorator in getattr(node, "decorator_list", ())):
        return
    yield node
    for child in ast.iter_child_nodes(node):
        yield from _outside_viper(child)


def _value(node):
    constant = ast.BinOp | ast.UnaryOp | ast.Constant | ast.operator | ast.unaryop
    if not all(isinstance(part, constant) for part in ast.walk(node)):
        return None
    try:
        value = eval(compile(ast.Expression(node), "", "eval"))
    except (TypeError, ValueError):
        return None
    return value if isinstance(value, int) else None


def _assigned(node):
    if isinstance(node, ast.Assign):
        return [(t, node.value) for t in node.targets if isinstance(t, ast.Name | ast.Attribute)]
    return []


def _name(node):
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        return f"{_name(node.value)}.{node.attr}"
    return "?"


def _is_ticks(node, ticks):
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        return node.func.attr in _WRAPS
    return isinstance(node, ast.Name | ast.Attribute) and _name(node) in ticks
