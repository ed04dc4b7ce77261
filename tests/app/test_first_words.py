"""Help and first words come before anything heavy is loaded: which modules are there is asserted, times are a study."""

import os
import subprocess
import sys

import click
import pytest

from groundtone.app import command
from groundtone.app.builder import build
from groundtone.app.click_parts import LazyGroup

# Each takes a tenth of a second or more to be loaded.
HEAVY = {
    "scipy",
    "matplotlib",
    "pypdf",
    "reportlab",
    "jinja2",
    "serial",
    "bleak",
    "bumble",
    "PyQt5",
    "schemdraw",
    "ezdxf",
    "sqlalchemy",
    "alembic",
    "psycopg",
    "fsspec",
    "dask",
    "distributed",
}
# Ends the program with its first words on a terminal and says what had been loaded by then.
AT_FIRST_WORDS = """
import os, sys
class Terminal:
    encoding = "utf-8"
    def isatty(self): return True
    def flush(self): pass
    def fileno(self): return 2
    def write(self, text):
        if text.strip():
            text = text if isinstance(text, str) else text.decode()
            os.write(1, repr((text, sorted({name.partition(".")[0] for name in sys.modules}))).encode())
            os._exit(0)
sys.stdout = sys.stderr = Terminal()
from groundtone.app.command import main
main(sys.argv[1:])
"""


def loaded_by(*arguments):
    """The first words of a command, and the top names of the modules loaded by then."""
    ran = subprocess.run([sys.executable, "-c", AT_FIRST_WORDS, *arguments], capture_output=True, check=True)
    words, names = eval(ran.stdout)
    return words, set(names)


def test_the_list_of_commands_loads_none_of_them():
    words, names = loaded_by("--help")
    assert "Usage" in words
    assert not names & (HEAVY | {"numpy", "sqlite3", "mcap"})


@pytest.mark.parametrize("name", sorted([*command.cli.list_commands(None)]))
def test_help_of_each_command_loads_nothing_heavy(name):
    words, names = loaded_by(name, "--help")
    assert "Usage" in words
    assert not names & HEAVY


@pytest.mark.parametrize(
    "arguments",
    [
        ("practise", "--twin"),
        ("check", "--twin"),
        ("calibrate", "standing", "--twin"),
        ("calibrate", "bench", "--twin"),
        ("demo", "--fast"),
        ("doctor",),
        ("latency",),
        ("review", "last"),
        ("compare", "last:1", "last:2"),
        ("export", "last", "--to", "x"),
        ("strike", "last"),
        ("page", "--example"),
        ("progress", "--example"),
        ("window",),
        ("build", "divider"),
    ],
    ids=" ".join,
)
def test_first_words_come_before_anything_heavy(arguments, tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    _, names = loaded_by(*arguments)
    assert not names & HEAVY


@pytest.mark.parametrize("group", [command.cli, build.build], ids=["groundtone", "build"])
def test_the_list_says_what_the_commands_say_of_themselves(group):
    """The sentences stand twice, so that the list imports nothing: they must agree."""
    assert isinstance(group, LazyGroup)
    for name, (_, sentence) in group._elsewhere.items():
        told = click.Command(name, help=sentence).get_short_help_str(1000)
        assert told == group.get_command(None, name).get_short_help_str(1000), name


@pytest.mark.parametrize(("before", "threads"), [({}, "1"), ({"OPENBLAS_NUM_THREADS": "3"}, "3")])
def test_one_thread_for_small_matrices_is_set_before_numpy_is_loaded(before, threads):
    code = "import os, sys, groundtone.app.command; print(os.environ['OPENBLAS_NUM_THREADS'], 'numpy' in sys.modules)"
    without = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    ran = subprocess.run([sys.executable, "-c", code], env=without | before, capture_output=True, text=True, check=True)
    assert ran.stdout.split() == [threads, "False"]
