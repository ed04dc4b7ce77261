"""What lies on the board: `build install` brings firmware and layout, `build settings` shows and changes the rest."""

from __future__ import annotations

import contextlib
import io
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
from rich.console import Console
from serial.tools import list_ports

from groundtone.app.console import say
from groundtone.build.compiled import compiled
from groundtone.build.install import (
    CHOOSER,
    InstallError,
    back,
    check_board,
    firmware_files,
    look,
)
from groundtone.build.install import (
    install as install_files,
)
from groundtone.build.mat_file import read_mat
from groundtone.errors import GroundtoneError, LinkError, RequestError, VersionError
from groundtone.link.base import Link
from groundtone.link.find import find_mat
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import Layout, keep_layout, layout_of
from groundtone.twin.errors import TwinError
from groundtone.twin.serve import firmware_dir
from groundtone.wire.codec import string, strings
from groundtone.wire.messages import Command, Status

# USB vendors of the boards that can be a mat: Raspberry Pi, Espressif (their USB vendor ids, from memory).
VENDORS = (0x2E8A, 0x303A)
PATIENCE_S = 4.0
TRIES, PROMPT_S = 4, 1.0
SILENCE_S, CHATTER_S = 0.3, 8.0
ANSWER_S = 10.0
NEW_BOARD = "starter"


@click.command()
@click.option("--port", help="Serial port of the board; without it the one board that is there is taken.")
@click.option("--mat", "mat_name", help="Which mat it becomes: starter, reference, or a mat's TOML file. Without it "
              "a mat keeps its layout, and a new board becomes a starter.")  # fmt: skip
@click.option("--back", "go_back", is_flag=True, help="Back to the version before.")
@click.option("--any-board", is_flag=True, help="Install on a board whose name is not known, too.")
@click.option(
    "--firmware", "folder", type=click.Path(file_okay=False, path_type=Path),
    help="Install this folder instead of the firmware that came with the program.",
)  # fmt: skip
def install(port: str | None, mat_name: str | None, go_back: bool, any_board: bool, folder: Path | None) -> None:
    """Put the mat's firmware onto its board, checked file by file, and set its layout; the other settings stay."""
    console = Console()
    wanted = read_mat(mat_name).layout if mat_name else None
    try:
        source = folder or firmware_dir()
    except TwinError as error:
        raise InstallError(str(error)) from error
    new = firmware_files(source)
    try:
        chooser = (source / CHOOSER).read_bytes()
    except OSError as error:
        raise InstallError(f"{source / CHOOSER} is missing: install groundtone again") from error
    name = port or find_board()
    was = stop_mat(name)
    with prompt(name) as board:
        machine = check_board(board, any_board)
        say(console, f"{machine} at {name}.")
        if go_back:
            say(console, f"Back to {back(board, chooser)}; the settings stay.")
        else:
            state = look(board, chooser)
            if state.by_hand:
                say(console, "Its files were copied by hand: they are kept as the version before.")
            if wanted is None and not state.settings:
                # Never set, so it is what its own firmware takes it for; the new one may take it for something else.
                wanted = layout_of(was) if was else read_mat(NEW_BOARD).layout
            mpy = board.eval("getattr(__import__('sys').implementation, '_mpy', 0)")
            new = compiled(new, mpy if isinstance(mpy, int) else 0)
            install_files(board, new, chooser, lambda line: say(console, f"  {line}"))
    sys.exit(0 if answers(console, name) and (wanted is None or has_layout(console, name, wanted)) else 1)


def has_layout(console: Console, port: str, layout: Layout) -> bool:
    """Give the mat its layout, which also goes among this user's own, and see that it scans that grid."""
    path = keep_layout(layout)
    try:
        with SerialLink(port) as link:
            link.request(Command.SET, string("layout") + string(layout.id))
        with SerialLink(port) as link:
            hello = link.hello
    except GroundtoneError as error:
        say(console, f"The layout could not be set ({error}): say the same again.")
        return False
    if (hello.layout, hello.rows, hello.columns) != (layout.id, layout.rows, layout.columns):
        say(console, f"The mat says it is {hello.layout} and scans {hello.rows} x {hello.columns} cells, and not "
                     f"{layout.id}: say the same again.")  # fmt: skip
        return False
    say(console, f"It is a {layout.id} now: {layout.rows} rows by {layout.columns_per_panel} columns a foot"
                 + (f" (layout kept in {path})." if path else "."))  # fmt: skip
    return True


def find_board() -> str:
    """The port of the one board that may be a mat.

    Raises
    ------
    InstallError
        None, or more than one.
    """
    ports = sorted((p.device, p.description or "") for p in list_ports.comports() if p.vid in VENDORS)
    if not ports:
        raise InstallError(
            "no board was found: plug it in with a cable that carries data; a new board first needs MicroPython "
            "(hardware/firmware.md), and another kind of port can be named with --port"
        )
    if len(ports) > 1:
        raise InstallError(
            f"more than one board is there ({', '.join(device for device, _ in ports)}): choose one with --port"
        )
    return str(ports[0][0])


def stop_mat(port: str) -> str | None:
    """Bring a running mat to its prompt: the layout it has. What does not answer as a mat is left as it is: None.

    Raises
    ------
    LinkError
        The port is missing or in use.
    """
    try:
        with SerialLink(port, hello_s=1.0) as link:
            link.request(Command.PROMPT)
            return link.hello.layout
    except (RequestError, VersionError) as error:
        raise InstallError(
            f"the mat at {port} does not go to its prompt ({error}): hold its button while you plug it in"
        ) from error
    except LinkError as error:
        if "does not answer" not in str(error):
            raise
    return None


@contextlib.contextmanager
def prompt(port: str) -> Iterator[Any]:
    """The board at its prompt, through mpremote's transport; started anew at the end.

    Raises
    ------
    InstallError
        There is no MicroPython prompt, or the board went away.
    """
    # Imported here: the program starts without it.
    from mpremote.transport import TransportError, TransportExecError
    from mpremote.transport_serial import SerialTransport

    try:
        board = SerialTransport(port, timeout=PATIENCE_S)
    except (TransportError, OSError) as error:
        raise InstallError(f"{port} cannot be opened ({error}): close what uses it, or plug it in again") from error
    try:
        _wait_for_silence(board.serial, port)
        try:
            _enter(board, TransportError)
        except (TransportError, OSError) as error:
            raise InstallError(
                f"what is at {port} gives no MicroPython prompt: it may be another device, or a new board that first "
                "needs MicroPython (hardware/firmware.md); a mat that hangs gives one when its button is held while "
                "it is plugged in"
            ) from error
        try:
            yield board
        finally:
            # Whatever happened, the board starts what it has.
            board.exit_raw_repl()
            board.serial.write(b"\x04")
            board.serial.flush()
    except TransportExecError as error:
        last = (error.error_output.strip().splitlines() or ["no reason"])[-1]
        raise InstallError(f"the board refused a step ({last}): try again, what it ran before still starts") from error
    except (TransportError, OSError, TypeError, IndexError, SyntaxError) as error:
        raise InstallError(
            f"the board at {port} went away on the way: plug it in and say it again, what it ran before still starts"
        ) from error
    finally:
        with contextlib.suppress(OSError):
            board.close()


def _wait_for_silence(line: Any, port: str) -> None:
    """Stop what runs there; a board that was stopped falls silent.

    Raises
    ------
    InstallError
        It goes on sending.
    """
    until = time.monotonic() + CHATTER_S
    line.write(b"\r\x03\x03")
    quiet = time.monotonic()
    while time.monotonic() - quiet < SILENCE_S:
        if line.in_waiting:
            line.read(line.in_waiting)
            quiet = time.monotonic()
        if time.monotonic() > until:
            raise InstallError(
                f"what is at {port} sends without pause and does not stop: it is another device, or a mat that hangs; "
                "name another port with --port, or hold the mat's button while you plug it in"
            )
        time.sleep(0.01)


def _enter(board: Any, failure: type[Exception]) -> None:
    """Get the raw prompt; a mat that was just told to end takes a moment until it listens."""
    for attempt in range(TRIES):
        try:
            # It prints what it got instead of a prompt; a sentence says enough.
            with contextlib.redirect_stdout(io.StringIO()):
                board.enter_raw_repl(soft_reset=False, timeout_overall=PROMPT_S)
            return
        except failure:
            if attempt == TRIES - 1:
                raise


def answers(console: Console, port: str) -> bool:
    """Does the mat answer after its restart? Says which version it runs."""
    until = time.monotonic() + ANSWER_S
    why = ""
    while time.monotonic() < until:
        try:
            with SerialLink(port, hello_s=1.5) as link:
                version = ".".join(map(str, link.hello.version))
                say(console, f"The mat answers: firmware {version}, {link.hello.board}, layout {link.hello.layout}.")
                return True
        except GroundtoneError as error:
            why = str(error)
            time.sleep(0.3)
    say(console, f"The files are on the board, but no mat answers ({why}): unplug it and plug it in again; "
                 "if it stays silent, go back with 'groundtone build install --back'.")  # fmt: skip
    return False


KEYS = {
    "name": "what it is called, also over the radio; 1 to 20 characters",
    "layout": "its build, as in starter-10x3; 'groundtone build install --mat' sets and checks it",
    "oversample": "readings a value: 1, 2, 4, 8",
    "settle_us": "wait before a reading, 1 to 200 µs",
    "row_settle_us": "wait before a row's first reading, up to 200 µs; 0: what the mat measures",
    "window": "frames under way on the cable, 2 to 32",
    "radio": "on or off",
}


@click.command("settings")
@click.argument("changes", nargs=-1, metavar="[KEY=VALUE]...")
@click.option("--port", help="Serial port of the mat; without it the one mat that answers is taken.")
def settings(changes: tuple[str, ...], port: str | None) -> None:
    """What the mat remembers: its name, layout, readings, radio. KEY=VALUE changes it, as in radio=off."""
    wanted = [_split(change) for change in changes]
    console = Console()
    with SerialLink(port or find_mat()) as link:
        for key, value in wanted:
            (stored,) = strings(link.request(Command.SET, string(key) + string(value)), 1)
            say(console, f"{key} is now {stored}.")
        if not wanted:
            for key, what in KEYS.items():
                say(console, f"{key}: {value_of(link, key)} ({what})")


def value_of(link: Link, key: str) -> str:
    """A setting as the mat tells it; "not known" from firmware that has no such setting."""
    try:
        (value,) = strings(link.request(Command.GET, string(key)), 1)
    except RequestError as error:
        if error.status != Status.UNKNOWN_SETTING:
            raise
        return "not known"
    return value


def _split(change: str) -> tuple[str, str]:
    key, equals, value = change.partition("=")
    if not equals or key not in KEYS:
        raise GroundtoneError(f"{change!r} changes nothing: give KEY=VALUE with one of {', '.join(KEYS)}")
    return key, value
