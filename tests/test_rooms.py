"""The one-way rule of DEVELOPERS.md: a room imports only rooms to its left, and no two modules import each other."""

import ast
from functools import cache
from pathlib import Path

HOST = Path(__file__).parents[1] / "host"
FLOW = (
    "wire", "link", "mat", "calibration", "pressure", "swing", "cue", "tone", "feel", "record", "review", "lesson",
    "engine", "onboard",
)  # fmt: skip
# Rooms that may see less than what stands to their left: what is written down knows neither film nor swing, and the two
# beside the flow. The twin shares nothing with what it judges.
ONLY = {
    "record": {"wire", "link", "mat"},
    "build": {"wire", "mat"},
    "twin": {"wire"},
}
# The twin's own link plays it in this process: the one place where the flow meets the twin.
EXTRA = {"link": {"twin"}}
OPEN = {path.stem for path in (HOST / "groundtone").glob("*.py") if path.stem not in ("__init__", "__main__")}
ROOMS = {path.name for path in (HOST / "groundtone").iterdir() if (path / "__init__.py").exists()}


@cache
def imports():
    """Each module of the program with the modules it imports; within functions too."""
    out = {}
    for path in sorted((HOST / "groundtone").rglob("*.py")):
        parts = path.relative_to(HOST).with_suffix("").parts
        out[".".join(parts)] = set(_imported(ast.parse(path.read_text("utf-8"))))
    return out


def _imported(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def room_of(module):
    """The room a module lies in, or its own name at the top."""
    return module.split(".")[1] if module.startswith("groundtone.") else None


def allowed(room):
    """The rooms that a room may import from."""
    if room == "app" or room == "__main__":
        return ROOMS
    left = set(FLOW[: FLOW.index(room)]) if room in FLOW else set()
    return ONLY.get(room, left) | EXTRA.get(room, set()) | {room}


def test_every_room_has_its_place():
    assert {*FLOW, "app", "build", "twin"} == ROOMS


def test_a_room_imports_only_rooms_to_its_left():
    wrong = sorted(
        f"{module} imports {other}"
        for module, others in imports().items()
        if room_of(module) in ROOMS
        for other in others
        if room_of(other) in ROOMS - allowed(room_of(module))
    )
    assert not wrong, "\n".join(wrong)


def test_what_is_open_to_all_imports_no_room():
    wrong = [m for m, others in imports().items() if room_of(m) in OPEN and {room_of(o) for o in others} & ROOMS]
    assert wrong == []


def test_the_program_imports_no_tests_and_no_studies():
    outside = {"tests", "studies", "pytest", "hypothesis"}
    assert [m for m, others in imports().items() if {o.split(".")[0] for o in others} & outside] == []


def test_no_modules_import_each_other_in_a_circle():
    known = imports()
    graph = {module: {other for other in others if other in known} for module, others in known.items()}
    done, path = set(), []

    def walk(module):
        assert module not in path, " → ".join([*path[path.index(module) :], module])
        if module not in done:
            path.append(module)
            for other in sorted(graph[module] - {module}):
                walk(other)
            path.pop()
            done.add(module)

    for module in graph:
        walk(module)
