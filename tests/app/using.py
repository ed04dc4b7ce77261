"""The command in a process of its own, and films for a scripted mat."""

import functools
import os
import signal
import subprocess
import sys
from types import SimpleNamespace

from patience import PATIENCE_S
from scripted_mat import frame

from groundtone.twin.inprocess import InProcessMat

DEMO = ("--fast", "--seed", "3", "--hand", "left", "--weight", "62")


@functools.cache
def film(scenario, until_s):
    """Messages (seq, bytes) of a scenario's scans at 100 Hz up to a time, for a scripted mat to send."""
    out = []
    for scan in InProcessMat(scenario).frames(100.0):
        if scan.t_us > until_s * 1e6:
            break
        strike = scan.strike_peak, scan.strike_offset_us
        cells = scan.cells.tolist()
        whole = frame(scan.seq, scan.t_us, len(cells), 14, scan.flags, cells, (scan.ref_a, scan.ref_b), strike)
        out.append((scan.seq, whole))
    return out


class Running:
    """The command in a process of its own."""

    def __init__(self, arguments):
        command = [sys.executable, "-m", "groundtone", *map(str, arguments)]
        env = dict(os.environ, COLUMNS="80", PYTHONUNBUFFERED="1")
        # A suite that runs in the background has Ctrl-C ignored, and its children would inherit that.
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=env,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )

    def end(self):
        """Wait for its end: code, out, err."""
        out, err = self.process.communicate(timeout=PATIENCE_S)
        assert "Traceback" not in err + out
        return SimpleNamespace(code=self.process.returncode, out=out, err=err)
