"""A guided run as lines of JSON, for a jig, a screen reader or another window: docs/json-lines.md is its contract.

`JsonLines` takes the place of a command's console. Whatever is said on it becomes a line; `ask`, `seen` and `result`
say more on it than a sentence can, and nothing on any other console.
"""

from __future__ import annotations

import contextlib
import functools
import io
import json
import os
import queue
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

import click
from rich.console import Console

from groundtone.app.command import LOST, WRONG
from groundtone.app.console import at_once, keys, say
from groundtone.app.language import ENGLISH, SPOKEN
from groundtone.errors import GroundtoneError, LostError, sentence_of

if TYPE_CHECKING:
    from groundtone.mat.layout import Layout
    from groundtone.wire.messages import Hello

VERSION = 1
"""Of docs/json-lines.md: one more where a line loses or changes a field, not where it gains one."""

ENDS = {"q": "q", "end": "q"}
"""The answers that end a run, in every command."""

# A longer line is no answer of anybody's.
_LONGEST = 1000


class JsonLines(Console):
    """A console that writes lines of JSON on standard output, and reads answers as lines from standard input.

    Parameters
    ----------
    command : str
        Its words, for example "calibrate bench".
    """

    def __init__(self, command: str) -> None:
        super().__init__(file=io.StringIO(), force_terminal=False)
        # Programs read these lines: they do not depend on whom a person wants to hear.
        SPOKEN.choose(ENGLISH)
        self._t_s: float | None = None
        self._second: int | None = None
        self._asked: dict[str, Any] | None = None
        self._answers: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self._ended = False
        self._put({"groundtone": "json-lines", "version": VERSION, "command": command})
        threading.Thread(target=_read_lines, args=(self._answers,), name="answers", daemon=True).start()

    def print(self, *objects: Any, **_: Any) -> None:
        """A sentence becomes a line; what is drawn for eyes alone is left out."""
        text = " ".join(part for part in objects if isinstance(part, str)).strip()
        if text:
            self.write("said", text)

    def at(self, t_s: float) -> None:
        """The mat's clock has come so far, s; told once a second."""
        self._t_s = round(t_s, 6)
        if self._second != int(t_s):
            self._second = int(t_s)
            self.write("seen", "time")

    def write(self, kind: str, value: str, **fields: Any) -> None:
        """One line, on its way before anything else happens; an ask that was the last one is not repeated."""
        from groundtone.record.channels import without_nan

        if kind == "ask":
            asked = {"ask": value, **fields}
            if asked == self._asked:
                return
            self._asked = asked
        self._put({kind: value, "t_s": self._t_s, **without_nan(fields)})

    def pressed(self, known: Mapping[str, str]) -> str:
        """The key that the next answer stands for, or an empty text; an answer that means nothing gets a line."""
        while not self._ended:
            try:
                told = self._answers.get_nowait()
            except queue.Empty:
                return ""
            if (word := self._word(told, known)) is not None:
                return known[word]
        return ""

    def question(self, name: str, sentence: str, known: Mapping[str, str]) -> str:
        """What was answered, waited for; an empty text where the input has ended."""
        self.write("ask", name, sentence=sentence, answers=sorted(known))
        while not self._ended:
            if (word := self._word(self._answers.get(), known)) is not None:
                return known[word]
        self.write("error", "The input has ended: the question is taken as not answered.")
        return ""

    def _word(self, told: bytes | None, known: Mapping[str, str]) -> str | None:
        """An answer that is known, or None; what is wrong with it is told."""
        if told is None:
            self._ended = True
            return None
        if not told.strip():
            return None
        try:
            word = word_of(told).lower()
        except ValueError as error:
            self.write("error", sentence_of(f"the answer cannot be read: {error}"))
            return None
        if word in known:
            return word
        self.write("error", f"Nothing is asked that {word!r} answers: say one of {', '.join(sorted(known))}.")
        return None

    def _put(self, table: dict[str, Any]) -> None:
        try:
            sys.stdout.write(json.dumps(table, allow_nan=False) + "\n")
            sys.stdout.flush()
        except OSError as error:
            raise _UnreadError("nobody reads the lines any more: the run ends") from error


class _UnreadError(GroundtoneError):
    """Nobody reads the lines any more."""


def word_of(line: bytes) -> str:
    r"""The word of an answer's line: {"answer": "word"}, or the word as a person types it.

    Raises
    ------
    ValueError
        It is neither; the sentence says why.

    Examples
    --------
    >>> word_of(b'{"answer": "u"}\n'), word_of(b" take back ")
    ('u', 'take back')
    """
    if len(line) > _LONGEST:
        raise ValueError(f"it is longer than {_LONGEST} characters")
    try:
        text = line.decode("utf-8").strip()
    except UnicodeDecodeError as error:
        raise ValueError("it is not UTF-8") from error
    if not text.startswith("{"):
        return text
    try:
        told = json.loads(text)
    except json.JSONDecodeError as error:
        raise ValueError(f"it is not JSON ({error.msg})") from error
    if set(told) != {"answer"} or not isinstance(told["answer"], str):
        raise ValueError('it is to be {"answer": "…"}, with a text')
    return str(told["answer"]).strip()


def _read_lines(into: queue.SimpleQueue[bytes | None]) -> None:
    """Reads standard input to its end; past Python's own buffer, whose lock must be free when the program ends."""
    fd, rest = 0, b""
    with contextlib.suppress(OSError):
        while data := os.read(fd, 4096):
            *lines, rest = (rest + data).split(b"\n")
            for line in lines:
                into.put(line)
            if len(rest) > _LONGEST:
                # Of a line without an end no more is kept than shows that it is too long.
                rest = rest[: _LONGEST + 1]
    if rest:
        into.put(rest)
    into.put(None)


def line(console: Console | None, kind: str, value: str, **fields: Any) -> bool:
    """A line where lines are wanted; False where they are not."""
    if not isinstance(console, JsonLines):
        return False
    console.write(kind, value, **fields)
    return True


def ask(console: Console, what: str, sentence: str, **fields: Any) -> None:
    """Something that a person is to do: a line, or both in a sentence."""
    if not line(console, "ask", what, sentence=sentence, **fields):
        say(console, f"{what}: {sentence}")


def at(console: Console | None, t_s: float) -> None:
    """The mat's clock has come so far, s."""
    if isinstance(console, JsonLines):
        console.at(t_s)


def ended(console: Console | None) -> bool:
    """An answer says that the run is to end; on a terminal Ctrl-C does."""
    return isinstance(console, JsonLines) and console.pressed(ENDS) != ""


def frames_begin(console: Console | None, hello: Hello, layout: Layout, rate_hz: int) -> None:
    """Frames are on their way from a mat."""
    line(
        console, "seen", "mat", name=hello.name, layout=layout.id, rows=layout.rows, columns=layout.columns,
        rate_hz=rate_hz,
    )  # fmt: skip


@contextlib.contextmanager
def keys_for(console: Console, known: Mapping[str, str]) -> Iterator[Callable[[], str]]:
    """A function that gives the newest key: from answers where lines are read, else from the terminal."""
    if isinstance(console, JsonLines):
        yield lambda: console.pressed(known)
        return
    with keys() as pressed:
        yield pressed


def guided(command: Callable[..., None]) -> Callable[..., None]:
    """The options --json-lines and --device-time; the command gets its `console`, and `device_time`.

    In lines, a failure is one too, with the exit code that it has on a terminal.
    """

    @functools.wraps(command)
    def run(*arguments: Any, json_lines: bool, **others: Any) -> None:
        if not json_lines:
            at_once("Getting ready.")
            command(*arguments, console=Console(), **others)
            return
        console = JsonLines(click.get_current_context().command_path.partition(" ")[2])
        try:
            command(*arguments, console=console, **others)
        except _UnreadError:
            # There is nobody left to be told; what would be written when the program ends goes nowhere.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(WRONG)
        except GroundtoneError as error:
            code = LOST if isinstance(error, LostError) else WRONG
            console.write("error", sentence_of(error), exit=code)
            sys.exit(code)

    for option in (
        click.option(
            "--device-time", is_flag=True, help="Only the mat's clock counts, not the computer's: for a mat that is "
            "faster or slower than time. Nothing is heard.",
        ),
        click.option(
            "--json-lines", is_flag=True, help="One JSON object a line for all that is asked and seen; answers as "
            "lines. See docs/json-lines.md.",
        ),
    ):  # fmt: skip
        run = option(run)
    return run
