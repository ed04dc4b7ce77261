"""A board for the installer's tests: MicroPython's Unix port with a folder as its flash, bare or at a serial port."""

import ast
import contextlib
import os
import pty
import selectors
import subprocess
import threading
import tty
from pathlib import Path

from mpremote.transport import Transport, TransportError, TransportExecError

from groundtone.twin.firmware_ops import REQUEST_BYTES, FirmwareOps
from groundtone.twin.scenario import Hands, MatSpec, Scenario
from groundtone.twin.serve import DEVICE, micropython_command
from groundtone.twin.world import World

# Runs pieces of code in one set of globals, as a raw REPL does: output, 0x04, error, 0x04.
LOOP = """
import sys
g = {}
while True:
    line = sys.stdin.buffer.readline()
    if not line:
        break
    code = sys.stdin.buffer.read(int(line))
    try:
        exec(code, g)
        sys.stdout.buffer.write(b"\\x04")
    except BaseException as error:
        sys.stdout.buffer.write(b"\\x04")
        sys.print_exception(error, sys.stdout)
    sys.stdout.buffer.write(b"\\x04")
"""


class Prompt:
    """The board's interpreter at its prompt."""

    def __init__(self, folder):
        self.child = subprocess.Popen(
            [micropython_command(), "-c", LOOP], stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=folder, bufsize=0
        )

    def run(self, code):
        """What the code printed, and its error."""
        self.child.stdin.write(b"%d\n" % len(code) + code)
        parts = []
        for _ in range(2):
            data = b""
            while not data.endswith(b"\x04"):
                got = self.child.stdout.read(1)
                if not got:
                    raise TransportError("the board is gone")
                data += got
            parts.append(data[:-1])
        return parts[0], parts[1]

    def close(self):
        self.child.kill()
        self.child.wait()
        self.child.stdin.close()
        self.child.stdout.close()


class Direct(Transport):
    """mpremote's file commands straight to a prompt; the power goes after so many pieces of code."""

    def __init__(self, folder, cut_after=None):
        self.prompt = Prompt(folder)
        self.left = cut_after
        self.ran = 0

    def exec(self, command, data_consumer=None):
        if self.left is not None and self.ran >= self.left:
            self.prompt.close()
            raise TransportError("power cut")
        self.ran += 1
        out, error = self.prompt.run(command.encode() if isinstance(command, str) else command)
        if error:
            raise TransportExecError(1, f"{error.decode()} in {command!r}")
        if data_consumer:
            data_consumer(out)
        return out

    def eval(self, expression, parse=True):
        return ast.literal_eval(self.exec(f"print(repr({expression}))").decode().strip())


def boot(folder):
    """Power up with a firmware that says who it is and ends: what it said."""
    done = subprocess.run([micropython_command(), "main.py"], cwd=folder, capture_output=True, text=True, timeout=120)
    return done.stdout.strip()


class SerialBoard:
    """A board behind a serial port: starts its main.py as the chip does, else shows a prompt, raw mode included.

    `mat` gives the firmware the simulated mat's electricity; without it main.py must be something plain.
    """

    def __init__(self, folder, mat=False, banner=b"MicroPython v1.28 on a double\r\n>>> "):
        self.folder, self.banner = Path(folder), banner
        self.ops = FirmwareOps(World(Scenario(MatSpec.reference(), Hands()))) if mat else None
        self.master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        self.port = os.ttyname(self.slave)
        self.raw, self.code = False, b""
        self.prompt = self.child = None
        self.request = self.answer = -1
        self.select = selectors.DefaultSelector()
        self.select.register(self.master, selectors.EVENT_READ, self._from_host)
        self.wake_r, self.wake_w = os.pipe()
        self.select.register(self.wake_r, selectors.EVENT_READ, None)
        self.start()
        self.thread = threading.Thread(target=self._loop, daemon=True)
        self.thread.start()

    def start(self):
        """Power-up, or a soft reset."""
        self._end_prompt()
        if (self.folder / "main.py").exists():
            self._run_main()
        else:
            self._say(self.banner)

    def close(self):
        os.write(self.wake_w, b"x")
        self.thread.join()
        self._end_child()
        self._end_prompt()
        for fd in (self.master, self.slave, self.wake_r, self.wake_w):
            os.close(fd)
        self.select.close()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def _loop(self):
        while True:
            for key, _ in self.select.select():
                if key.data is None:
                    return
                if key.fd in self.select.get_map():  # not closed by the one before it
                    key.data()

    def _say(self, data):
        with contextlib.suppress(OSError):
            os.write(self.master, data)

    def _run_main(self):
        env = dict(os.environ)
        fds = ()
        if self.ops is not None:
            self.request, to_twin = os.pipe()
            from_twin, self.answer = os.pipe()
            fds = (to_twin, from_twin)
            env["MICROPYPATH"] = ":".join(map(str, (DEVICE / "real", DEVICE, ".frozen")))
            env["GROUNDTONE_TWIN"] = f"{to_twin},{from_twin},16,67742d7477696e21"
            env["GROUNDTONE_TICKS0"], env["GROUNDTONE_TICKS_BITS"] = "0", "30"
        self.child = subprocess.Popen(
            [micropython_command(), "main.py"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0,
            cwd=self.folder, env=env, pass_fds=fds,
        )  # fmt: skip
        for fd in fds:
            os.close(fd)
        if self.ops is not None:
            self.select.register(self.request, selectors.EVENT_READ, self._from_firmware)
        self.select.register(self.child.stdout, selectors.EVENT_READ, self._from_child)

    def _from_firmware(self):
        request = os.read(self.request, REQUEST_BYTES)
        if not request:
            return
        rest = self.ops.length(request) - len(request)
        request += os.read(self.request, rest) if rest else b""
        with contextlib.suppress(BrokenPipeError):
            os.write(self.answer, self.ops.answer(request))

    def _from_child(self):
        data = os.read(self.child.stdout.fileno(), 4096)
        if data:
            self._say(data)
        else:
            self._end_child()
            self._say(self.banner)

    def _end_child(self):
        if self.child is None:
            return
        self.select.unregister(self.child.stdout)
        if self.ops is not None:
            self.select.unregister(self.request)
            os.close(self.request)
            os.close(self.answer)
        self.child.kill()
        self.child.wait()
        self.child.stdin.close()
        self.child.stdout.close()
        self.child = None

    def _end_prompt(self):
        if self.prompt is not None:
            self.prompt.close()
            self.prompt = None

    def _from_host(self):
        try:
            data = os.read(self.master, 4096)
        except OSError:
            return
        if self.child is not None:
            with contextlib.suppress(OSError):
                self.child.stdin.write(data)
            return
        for byte in data:
            self._byte(bytes((byte,)))

    def _byte(self, byte):
        if byte == b"\x01":
            if self.code == b"\x05A":  # raw paste is asked for
                self.code = b""
                self._say(b"R\0")
                return
            self.raw, self.code = True, b""
            self._say(b"raw REPL; CTRL-B to exit\r\n>")
        elif byte == b"\x02":
            self.raw = False
            self._say(self.banner)
        elif byte == b"\x04" and self.raw:
            self.prompt = self.prompt or Prompt(self.folder)
            code, self.code = self.code, b""
            out, error = self.prompt.run(code)
            self._say(b"OK" + out + b"\x04" + error + b"\x04>")
        elif byte == b"\x04":
            self._say(b"\r\nMPY: soft reboot\r\n")
            self.start()
        elif self.raw:
            self.code += byte
