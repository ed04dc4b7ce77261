"""SQL stands in the rooms that write and read the library, and nowhere else."""

import ast
import re
from pathlib import Path

HOST = Path(__file__).parents[2] / "host" / "groundtone"
SQL = re.compile(r"\b(SELECT\s.+\sFROM|INSERT\s(OR\s\w+\s)?INTO|DELETE\sFROM|UPDATE\s\w+\sSET)\b", re.DOTALL)


def test_only_the_rooms_of_the_library_speak_sql():
    found = set()
    for path in HOST.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and SQL.search(node.value):
                found.add(path.relative_to(HOST).parts[0])
    assert found == {"record", "review"}
