"""One grid is taken where nobody says another: on the board, by the installer, by every command and its twin."""

import ast
from pathlib import Path

import click
import pytest

from groundtone.app.builder.build_install import NEW_BOARD
from groundtone.app.click_parts import USUAL_LAYOUT
from groundtone.app.command import cli
from groundtone.app.twin import mat_of, twin_choice
from groundtone.build.mat_file import read_mat

SETTINGS = Path(__file__).parents[2] / "firmware" / "mat" / "settings.py"


def of_the_board():
    """The firmware's own default."""
    for node in ast.parse(SETTINGS.read_text()).body:
        if isinstance(node, ast.Assign) and node.targets[0].id == "_DEFAULTS":
            return ast.literal_eval(node.value)["layout"]
    raise AssertionError("no defaults")


def commands(group, path=()):
    """(words, command) of all commands under a group."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from commands(command, (*path, name))
        else:
            yield (*path, name), command


def test_board_installer_and_twin_take_the_same_grid():
    assert of_the_board() == USUAL_LAYOUT
    assert read_mat(NEW_BOARD).layout.id == USUAL_LAYOUT
    assert mat_of(3).layout == USUAL_LAYOUT
    assert (mat_of(3).rows, mat_of(3).columns_per_panel) == (10, 3)


@pytest.mark.parametrize("option", ["layout_id", "name"])
def test_every_command_that_can_be_told_a_build_takes_the_usual_one(option):
    usual = {"layout_id": USUAL_LAYOUT, "name": NEW_BOARD}[option]
    flag = {"layout_id": "--layout", "name": "--mat"}[option]
    told = {
        words: parameter.default
        for words, command in commands(cli)
        for parameter in command.params
        if parameter.name == option and flag in parameter.opts
    }
    assert len(told) >= 4
    assert set(told.values()) == {usual}, told


def test_a_scenario_keeps_the_grid_that_it_names(tmp_path):
    file = tmp_path / "scenario.json"
    file.write_text('{"mat": {"seed": 4, "layout": "reference-16x4"}, "act": {"kind": "empty", "duration_s": 1.0}}')
    assert twin_choice(str(file), USUAL_LAYOUT, True).mat.layout == "reference-16x4"
