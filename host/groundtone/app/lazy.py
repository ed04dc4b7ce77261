"""A group of commands whose files are imported only when a command is asked for: the program starts quickly."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click


class LazyGroup(click.Group):
    """A group with commands that live in files of their own.

    Parameters
    ----------
    elsewhere : mapping of str to str
        "module:name of the click command" of each.
    """

    def __init__(self, *arguments: Any, elsewhere: Mapping[str, str], **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._elsewhere = elsewhere

    def list_commands(self, ctx: click.Context) -> list[str]:
        """See `click.Group`; those elsewhere among them."""
        return sorted({*super().list_commands(ctx), *self._elsewhere})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """See `click.Group`; imports the file of the command."""
        if cmd_name not in self._elsewhere:
            return super().get_command(ctx, cmd_name)
        module, name = self._elsewhere[cmd_name].split(":")
        command = getattr(import_module(module), name)
        assert isinstance(command, click.Command)
        return command
