"""An emulated Raspberry Pi Pico in lock-step: its time goes on only when a test says so (server.mjs)."""

import json
import os
import subprocess
from pathlib import Path

HERE = Path(__file__).parent
IMAGE, BOOTROM = "GROUNDTONE_CHIP_UF2", "GROUNDTONE_CHIP_BOOTROM"
MISS = 60
"""Cycles of a miss of the flash's cache; a rough figure, nearer to a chip than none."""


class PromptError(Exception):
    """The board's prompt did not do what was asked."""


class Board:
    """The Pico on the desk, its circuit, and the bytes of its USB."""

    def __init__(self):
        self._node = subprocess.Popen(
            ["node", "server.mjs", os.environ[IMAGE], os.environ[BOOTROM]],
            cwd=HERE, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1,
        )  # fmt: skip
        self.us = 0.0
        self.restarts = []
        self.heard = bytearray()  # all bytes since power-up that nobody took

    def do(self, what, **more):
        self._node.stdin.write(json.dumps({"do": what, **more}) + "\n")
        self._node.stdin.flush()
        line = self._node.stdout.readline()
        assert line, "the emulator has ended"
        answer = json.loads(line)
        assert "error" not in answer, answer["error"]
        return answer

    def power(self, flash=None, cache=True, wait=True, **more):
        """Power up with this flash (None: plain MicroPython), and wait until the host knows the board."""
        self.restarts.clear()
        self.heard.clear()
        given = {"flash": str(flash)} if flash else {}
        self.do("power", flash_cache_miss=MISS if cache else 0, **given, **more)
        self.us = 0.0
        if wait:
            self.run(5e6, until_connected=True)

    def run(self, us, **until):
        """Let so much time go by, or less: [(us, bytes)] that came."""
        answer = self.do("run", us=us, **until)
        self.us = answer["us"]
        if answer["restarted"]:
            self.restarts.append(answer["restarted"])
        return [(at, bytes.fromhex(text)) for at, text in answer["received"]]

    def circuit(self, **set_):
        self.do("circuit", set=set_)

    def state(self):
        return self.do("state")

    def close(self):
        self._node.kill()
        self._node.wait()

    # The prompt

    def wait_for(self, text, us=20e6):
        """What came up to and with a text."""
        end = self.us + us
        while text not in self.heard:
            if self.us >= end:
                raise PromptError(f"no {text!r} in {bytes(self.heard[-400:])!r}")
            for _, data in self.run(2000):
                self.heard += data
        upto = self.heard.index(text) + len(text)
        got = bytes(self.heard[:upto])
        del self.heard[:upto]
        return got

    def prompt(self, flash=None, cache=False):
        """Power up with the button held and enter the raw prompt."""
        self.do("button", down=True)
        self.power(flash, cache)
        self.run(400_000)
        self.type(b"\r\x03\x03\x01")
        self.wait_for(b"raw REPL; CTRL-B to exit\r\n>")
        self.do("button", down=False)

    def type(self, data):
        self.do("send", hex=data.hex())

    def paste(self, code):
        """Start a piece of MicroPython at the raw prompt; what it prints is still to come."""
        self.type(code.encode() + b"\x04")
        self.wait_for(b"OK")

    def python(self, code, us=60e6):
        """What a piece of MicroPython prints."""
        self.paste(code)
        out = self.wait_for(b"\x04", us)[:-1]
        error = self.wait_for(b"\x04>")[:-2]
        if error:
            raise PromptError(error.decode())
        return out.decode().replace("\r\n", "\n")

    def write(self, name, data):
        """A file onto the board."""
        self.python(f"f=open({name!r},'wb')")
        for at in range(0, len(data), 1024):
            self.python(f"f.write({data[at : at + 1024]!r})")
        self.python("f.close()")
