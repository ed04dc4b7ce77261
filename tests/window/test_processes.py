"""The window as a program: its helper processes end with it, however it ends, and a signal saves what runs."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from patience import until

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="who is whose child is read from /proc")
# The window on the simulated mat, somebody practising on it, and the desk at work.
SCRIPT = """
import sys

from PyQt5.QtCore import QTimer
from PyQt5.QtWidgets import QApplication
from groundtone.app.window.main import close_on_signals, opened
from groundtone.app.window.places.pupil import Pupil
app = QApplication(sys.argv[:1])
shell = opened(None, "3", "reference-16x4", "light", "practise")
close_on_signals(app, shell)
shell.common.take(Pupil("anna"))
QTimer.singleShot(0, shell.places["practise"].start_or_pause)
rows = QTimer(shell)
rows.timeout.connect(lambda: shell.places["practise"].rows and (print("a swing", flush=True), rows.stop()))
rows.start(50)
code = app.exec_()
del rows, shell
sys.exit(code)
"""


def descendants(root):
    """Those started by a process and by its children, by (id, when it was started)."""
    parents = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if fields[0] != "Z":
            parents[int(stat.parent.name)] = (int(fields[1]), fields[19])
    found, new = set(), {root}
    while new:
        new = {pid for pid, (parent, _) in parents.items() if parent in new} - found
        found |= new
    return {(pid, parents[pid][1]) for pid in found}


def left_of(those):
    """Which of them are still there."""
    there = set()
    for pid, begun in those:
        try:
            fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if fields[0] != "Z" and fields[19] == begun:
            there.add((pid, begun))
    return there


@LINUX
@pytest.mark.parametrize(
    "name", ["SIGKILL", "SIGTERM", *(pytest.param(each, marks=pytest.mark.long) for each in ("SIGHUP", "SIGINT"))]
)
def test_no_helper_process_stays(tmp_path, name):
    home = tmp_path / "home"
    env = dict(os.environ, GROUNDTONE_HOME=str(home), QT_QPA_PLATFORM="offscreen")
    window = subprocess.Popen([sys.executable, "-c", SCRIPT], env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    try:
        # The desk, its tracker, the mat and its firmware, and the sound.
        until(lambda: len(descendants(window.pid)) >= 5 or window.poll() is not None)
        assert window.poll() is None, window.stderr.read().decode()
        (file,) = until(lambda: list((home / "recordings").glob("*.mcap")))
        until(lambda: file.stat().st_size > 30_000)
        if name == "SIGTERM":
            # A session without a swing is not kept.
            assert window.stdout.readline() == b"a swing\n"
        those = descendants(window.pid)
        window.send_signal(getattr(signal, name))
        _, err = window.communicate()
        until(lambda: not left_of(those), lambda: str(left_of(those)))
    finally:
        window.kill()
        window.wait()
    assert b"Traceback" not in err
    if name != "SIGKILL":
        assert window.returncode == 0
        assert file.exists() == (name == "SIGTERM")
    if name == "SIGTERM":
        listed = subprocess.run(
            [sys.executable, "-m", "groundtone", "library", "list", "anna"], env=env, capture_output=True, text=True
        )
        assert file.stem[:10] in listed.stdout
