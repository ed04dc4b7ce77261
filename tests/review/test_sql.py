"""Queries stand in the rooms that write and read the library; SQL as words only where its file is opened or mended."""

import ast
import re
from functools import cache
from pathlib import Path

HOST = Path(__file__).parents[2] / "host" / "groundtone"
SQL = re.compile(r"\b(SELECT\s.+\sFROM|INSERT\s(OR\s\w+\s)?INTO|DELETE\sFROM|UPDATE\s\w+\sSET)\b", re.DOTALL)


@cache
def nodes():
    paths = [(path.relative_to(HOST).parts[0], path) for path in HOST.rglob("*.py")]
    return [(room, node) for room, path in paths for node in ast.walk(ast.parse(path.read_text("utf-8")))]


def test_only_the_room_of_the_library_speaks_sql():
    strings = ((room, node.value) for room, node in nodes() if isinstance(node, ast.Constant))
    assert {room for room, value in strings if isinstance(value, str) and SQL.search(value)} == {"record"}


def test_queries_stand_where_the_library_is_written_and_read():
    asking = {
        room
        for room, node in nodes()
        if isinstance(node, ast.ImportFrom | ast.Import)
        for name in ([node.module] if isinstance(node, ast.ImportFrom) else [each.name for each in node.names])
        if name and name.split(".")[0] == "sqlalchemy"
    }
    assert asking == {"record", "review"}
