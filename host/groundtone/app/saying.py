"""Sentences for a person on a console; loads nothing that a quick command does not need."""

from __future__ import annotations

from rich.console import Console


def say(console: Console, text: str) -> None:
    """A sentence: broken between words on a terminal, whole in a file or a pipe, and never taken for markup."""
    console.print(text, highlight=False, markup=False, soft_wrap=not console.is_terminal)


def sentence_of(error: Exception) -> str:
    """A failure as a sentence: with a capital and a full stop."""
    text = str(error)
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"
