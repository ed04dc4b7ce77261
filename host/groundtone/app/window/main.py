"""The command `groundtone window`: the coach's window."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import IO, Any

import click

from groundtone.app.click_parts import simulated_layout
from groundtone.app.console import at_once
from groundtone.app.language import SPOKEN
from groundtone.app.window.keys import PLACES
from groundtone.errors import GroundtoneError, Telling
from groundtone.files import data_folder, make_folder

# A thread that waits for the interpreter gets it after so long, s; Python's own is 5 ms.
_SWITCH_S = 0.001
_LOOK_MS = 200


@click.command()
@click.option("--port", help="Serial port of the mat; without it the one mat that answers is taken.")
@click.option("--twin", is_flag=False, flag_value="1", help="The simulated mat of this seed (or scenario).")
@simulated_layout
@click.option("--theme", type=click.Choice(["light", "dark"]), default=None, help="Without it as the last time.")
@click.option("--place", type=click.Choice(("pupils", *PLACES)), help="Shown first.")
def window(port: str | None, twin: str | None, layout_id: str, theme: str | None, place: str | None) -> None:
    """The coach's window: pupils, build, check, practise, review, hand over."""
    if twin is not None and port is not None:
        raise GroundtoneError("--port names a real mat and --twin a simulated one: give one of them")
    at_once("Opening the window.")
    try:
        from PyQt5.QtWidgets import QApplication
    except ImportError as error:
        raise GroundtoneError("the window needs PyQt5: pip install 'groundtone[window]'") from error

    lock = OneWindow(data_folder())
    try:
        app = QApplication(sys.argv[:1])
        shell = opened(port, twin, layout_id, theme or "", place, language=SPOKEN.named)
        close_on_signals(app, shell)
        code = app.exec_()
        while shell.again:
            # Another language: the same window again, with whoever was there.
            shell = in_other_words(shell)
            close_on_signals(app, shell)
            code = app.exec_()
        del shell
    finally:
        lock.release()
    sys.exit(code)


def opened(
    port: str | None, twin: str | None, layout: str, theme: str, place: str | None = None, language: str = ""
) -> Any:
    """The window, shown; a QApplication must be there."""
    from groundtone.app.window.mats import MatChoice
    from groundtone.app.window.shell import Shell

    # The worker has to take its frames from the mat in time, whatever the interface does.
    sys.setswitchinterval(_SWITCH_S)
    choice = None
    if twin is not None:
        from groundtone.app.twin import twin_choice

        choice = MatChoice(twin=twin_choice(twin, layout, False))
    elif port is not None:
        choice = MatChoice(port=port)
    nothing = not any((data_folder() / "recordings").glob("*.mcap"))
    first = choice is None and place is None and nothing
    shell = Shell(
        choice, first=first, theme=theme, language=language, place=place or ("build" if nothing else "pupils")
    )
    shell.show()
    return shell


def in_other_words(before: Any) -> Any:
    """A window that was closed for another language, made anew: the same mat, pupils and place."""
    from groundtone.app.window.shell import Shell

    place = before.shown if before.shown != "start" else ""
    shell = Shell(before.worker.choice, theme=before.look.theme.name, place=place, first=before.shown == "start")
    shell.common.pupils.update(before.common.pupils)
    if before.common.pupil.here:
        shell.common.take(before.common.pupil)
    shell.show()
    return shell


def close_on_signals(app: Any, shell: Any) -> None:
    """A log-out, a service that is stopped or Ctrl-C closes the window as a click does: what runs is saved first."""
    import signal

    from PyQt5.QtCore import QTimer

    def close(*_: object) -> None:
        shell.close()
        app.quit()

    for name in ("SIGTERM", "SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), close)
    # Qt's loop does not come back to Python by itself, and only there is a signal looked at.
    timer = QTimer(shell)
    timer.timeout.connect(lambda: None)
    timer.start(_LOOK_MS)


FILE = "window.lock"


class OneWindow:
    """The lock of a data folder.

    Parameters
    ----------
    folder : Path
        Made where it is missing.

    Raises
    ------
    GroundtoneError
        Another window is open on it, or the folder cannot be written.
    """

    def __init__(self, folder: Path) -> None:
        path = folder / FILE
        with Telling(
            GroundtoneError, f"the data folder {folder} cannot be written", "name another with GROUNDTONE_HOME"
        ):
            make_folder(folder)
            self._file: IO[bytes] | None = path.open("ab")
        if not _locked(self._file):
            self._file.close()
            self._file = None
            raise GroundtoneError(
                "groundtone's window is open already: go on in that one, or close it first and say the command again"
            )

    def release(self) -> None:
        """Another window may be opened; a second call does nothing."""
        if self._file is not None:
            self._file.close()
            self._file = None


def _locked(file: IO[bytes]) -> bool:
    """Holds a file until it is closed, by the system's own lock: a crash leaves nothing behind."""
    import sys

    if sys.platform == "win32":
        import msvcrt

        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
    from groundtone.record.recorder import hold

    return hold(file.fileno())
