"""The window: how busy the interface thread is, how soon it answers, what of the link is lost, how soon it opens.

Measured on the offscreen platform: what a graphics card does afterwards is not in it. The mat sends the twin's messages
from a process of its own, 200 a second in real time, and skips what is not taken in time (`steady_mat`); the window
follows, sounds, records and draws the live lane at 60 Hz at 1280 x 720. Processor time of the interface thread is the
thread's own. On a machine that is busy with other things frames are lost that would not be lost on a quiet one.
"""

from __future__ import annotations

import contextlib
import os
import struct
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from zlib import crc32

import numpy as np

from groundtone.app.mat import OpenMat
from groundtone.app.window.mats import MatChoice
from groundtone.files import data_folder
from groundtone.link.base import Stamped
from groundtone.mat.layout import layout_for
from groundtone.record.recorder import begin
from studies.steady_mat import SteadyMat, messages

_LIVE_S, _DRAG_S = 12.0, 6.0
_ANSWERS = 60
_SWINGS = 300


def study_window(_seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with tempfile.TemporaryDirectory() as home:
        before = os.environ.get("GROUNDTONE_HOME")
        os.environ["GROUNDTONE_HOME"] = home
        try:
            return _figures(Path(home))
        finally:
            if before is None:
                del os.environ["GROUNDTONE_HOME"]
            else:
                os.environ["GROUNDTONE_HOME"] = before


def _figures(home: Path) -> dict[str, Any]:
    opening = usable_s(home)
    live = live_figures()
    session = long_session(home)
    busy, answers, missed = live["busy"], live["answers"], live["missed"]
    p50, p95, most = (float(v) * 1e3 for v in np.percentile(answers, [50, 95, 100]))
    return {
        "command to usable, s (2 asked), third of three": round(opening[-1], 2),
        "all three, the first from a cold disk": [round(v, 2) for v in opening],
        "interface thread busy, % of a core (30 asked)": round(100 * busy, 1),
        "pictures drawn a second": round(live["drawn"], 1),
        "frames a second over the link": round(live["rate"], 1),
        "key to drawn answer, ms (50 asked)": {"p50": round(p50, 1), "p95": round(p95, 1), "max": round(most, 1)},
        "next pupil, from the wish to practising by keys, s (10 asked)": round(live["next"][0], 2),
        "of it: the hand's own; after its last key; the window's processor": [round(s, 2) for s in live["next"][1:]],
        "frames lost (none asked), live, dragged, with a page written": missed,
        f"a session of {_SWINGS} swings: to its list, s (1 asked)": round(session["listed"], 3),
        "the same with its lanes, kept before, s": round(session["lanes"], 3),
        "ok": opening[-1] < 2 and busy < 0.30 and p95 < 50 and sum(missed) == 0 and session["listed"] < 1
        and live["next"][0] < 10,
    }  # fmt: skip


_OPENS = """
import sys, time
from PyQt5.QtWidgets import QApplication
from PyQt5.QtTest import QTest
from PyQt5.QtCore import Qt
from groundtone.app.window.main import opened
app = QApplication(sys.argv[:1])
shell = opened(None, None, "reference-16x4", "light", "build")
QTest.qWaitForWindowExposed(shell)
QTest.keyClick(shell, Qt.Key_F2)
app.processEvents()
print("usable", flush=True)
shell.close()
"""


def usable_s(home: Path) -> list[float]:
    """Seconds from the start of Python to a window that has answered a key, three times."""
    out = []
    for _ in range(3):
        began = time.perf_counter()
        with subprocess.Popen(
            [sys.executable, "-c", _OPENS], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
            env={**os.environ, "GROUNDTONE_HOME": str(home)},
        ) as process:  # fmt: skip
            assert process.stdout is not None
            assert process.stdout.readline().strip() == "usable"
            out.append(time.perf_counter() - began)
    return out


def live_figures() -> dict[str, Any]:
    """The practice place, live: busy part of the interface thread, answers to keys, frames lost."""
    from PyQt5.QtCore import Qt
    from PyQt5.QtTest import QTest
    from PyQt5.QtWidgets import QApplication

    from groundtone.app.window.main import _SWITCH_S
    from groundtone.app.window.shell import Shell

    app = QApplication.instance() or QApplication(sys.argv[:1])
    sys.setswitchinterval(_SWITCH_S)
    mat = SteadyMat(messages())
    shell = Shell(_SteadyChoice(mat=mat), theme="light")
    shell.resize(1280, 720)
    shell.show()
    shell.go("practise")
    place: Any = shell.places["practise"]
    drawn = [0]
    shell.worker.picture.connect(lambda _: drawn.__setitem__(0, drawn[0] + 1))
    place.start_or_pause()
    _spin(lambda: place.lane.points > 50, 60.0)
    lost = mat.missed
    began, busy, count, frames = time.monotonic(), time.thread_time(), drawn[0], place.lane._t[-1]
    _spin(lambda: False, _LIVE_S)
    span = time.monotonic() - began
    figures: dict[str, Any] = {
        "busy": (time.thread_time() - busy) / span,
        "drawn": (drawn[0] - count) / span,
        "rate": (place.lane._t[-1] - frames) * 200 / span,
    }
    answers = []
    for i in range(_ANSWERS):
        kind = ("baseline", "drill")[i % 2]
        pressed = time.perf_counter()
        QTest.keyClick(place, (Qt.Key.Key_B, Qt.Key.Key_D)[i % 2])  # type: ignore[call-overload]
        while not place.blocks[kind].isChecked():
            app.processEvents()
        place.blocks[kind].repaint()
        answers.append(time.perf_counter() - pressed)
        _spin(lambda: False, 0.03)
    figures["answers"] = answers
    missed = [mat.missed - lost]
    end = time.monotonic() + _DRAG_S
    while time.monotonic() < end:
        # A window that is dragged holds its thread up between moves.
        shell.resize(1280 + int(40 * np.sin(time.monotonic() * 9)), 720)
        app.processEvents()
        time.sleep(0.12)
    missed.append(mat.missed - lost - missed[0])
    done: list[Any] = []
    example = Path(tempfile.mkdtemp())
    shell.desk.do(example_page, example, done=done.append, failed=done.append)
    _spin(lambda: bool(done), 60.0)
    assert isinstance(done[0], list), done[0]
    _spin(lambda: False, 1.0)
    missed.append(mat.missed - lost - sum(missed))
    figures["next"] = _next_pupil_s(shell, place)
    shell.close()
    mat.close()
    return {**figures, "missed": missed}


# Of a hand on keys, s: a key, and making up one's mind before each of the three acts (keystroke-level model: Card,
# Moran and Newell, Communications of the ACM 23(7), 1980; from memory).
_KEY_S, _MIND_S, _NAME = 0.28, 1.35, "Bertil"


def _next_pupil_s(shell: Any, place: Any) -> tuple[float, float, float, float]:
    """Seconds from the wish for the next pupil, while one practises, to their practice, by keys in a hand's time.

    The program works while the hand is under way, as it does with a person.

    Returns
    -------
    whole, hand, after, processor : float
        All of it; a hand's keys and decisions in it; from the last key on; processor time of the window's process.
    """
    from PyQt5.QtCore import Qt
    from PyQt5.QtTest import QTest

    begun: list[Any] = []
    shell.worker.told.connect(lambda what: begun.append(what) if getattr(what, "state", "") == "running" else None)
    began, busy = time.perf_counter(), time.process_time()
    _spin(lambda: False, _MIND_S + _KEY_S)
    QTest.keyClick(place, Qt.Key.Key_N)  # type: ignore[call-overload]
    _spin(lambda: False, _MIND_S)
    search = shell.places["pupils"].search
    for letter in _NAME:
        _spin(lambda: False, _KEY_S)
        QTest.keyClicks(search, letter)  # type: ignore[call-arg, arg-type]
    _spin(lambda: False, _MIND_S + 2 * _KEY_S)
    pressed = time.perf_counter()
    QTest.keyClick(search, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)  # type: ignore[call-overload]
    _spin(lambda: bool(begun) and place.lane.points > 0, 60.0)
    assert begun, "the next practice did not begin"
    now = time.perf_counter()
    hand = 3 * _MIND_S + (len(_NAME) + 3) * _KEY_S
    return now - began, hand, now - pressed, time.process_time() - busy


def example_page(folder: Path) -> list[str]:
    """Writes the page of an invented lesson, at the window's desk; the files."""
    from groundtone.lesson.report.example import example
    from groundtone.lesson.report.page import build_page, write_page

    return [str(path) for path in write_page(build_page(example()), folder)]


@dataclass(frozen=True)
class _SteadyChoice(MatChoice):
    """The mat that costs nearly nothing."""

    mat: SteadyMat | None = None

    @contextlib.contextmanager
    def opened(self, purpose: str, hand: str = "right") -> Iterator[OpenMat]:
        """See `MatChoice.opened`."""
        assert self.mat is not None
        yield OpenMat(self.mat, layout_for(self.mat.hello))


def _spin(until: Callable[[], bool], most_s: float) -> None:
    """Lets the interface thread work as its own loop does: it sleeps until there is something to do."""
    from PyQt5.QtCore import QEventLoop, QTimer

    loop = QEventLoop()
    look = QTimer()
    look.timeout.connect(lambda: loop.quit() if until() else None)
    look.start(20)
    QTimer.singleShot(round(most_s * 1000), loop.quit)
    loop.exec_()
    look.stop()


def long_session(home: Path) -> dict[str, float]:
    """Seconds to open a session of 300 swings: its list, and its lanes where they were measured before."""
    from groundtone.app.window import jobs
    from studies.invented_lesson import record

    path = _many_times(record("bench"), home / "recordings" / "long.mcap")
    began = time.perf_counter()
    view = jobs.opened_session(path)
    listed = time.perf_counter() - began
    assert len(view.swings) == _SWINGS
    jobs.lanes(view)
    began = time.perf_counter()
    lanes = jobs.lanes(jobs.opened_session(path))
    assert len(lanes) == _SWINGS
    return {"listed": listed, "lanes": time.perf_counter() - began}


def _many_times(path: Path, to: Path) -> Path:
    """A lesson of four swings as often as makes 300: its frames one after the other, and its swings in the library."""
    from groundtone.record.contents import put
    from groundtone.record.library import Library
    from groundtone.record.reader import open_recording
    from groundtone.record.swing_rows import SwingRow
    from groundtone.review.session_review import analysed

    short = open_recording(path)
    rows, doubts = analysed(short)
    frames, times = short.frames, _SWINGS // len(rows)
    step_us = round(1e6 / short.about.settings.rate_hz)
    recorder = begin(to, replace(short.about, session=uuid.uuid4().hex))
    first_s, whole_s = float(frames.t_s[0]), len(frames) * step_us * 1e-6
    raw = [row.tobytes() for row in frames.raw]
    for i in range(times * len(raw)):
        message = _moved(raw[i % len(raw)], i, step_us)
        recorder.frame(Stamped(None, i * step_us, i * step_us * 1e-6, 0.0, 0, message))  # type: ignore[arg-type]
        if i % 1000 == 0:
            recorder.pump()
    recorder.close()
    swings: list[SwingRow] = []
    for k in range(times):
        late_s = k * whole_s - first_s
        for row in rows:
            events = {name: (at + late_s, source, doubt) for name, (at, source, doubt) in row.events.items()}
            swings.append(replace(row, number=len(swings) + 1, impact_s=row.impact_s + late_s, events=events))
    with Library(data_folder()) as library:
        put(library, open_recording(to), swings, doubts)
    return to


def _moved(message: bytes, number: int, step_us: int) -> bytes:
    """A frame's message as the `number`-th of a longer recording."""
    body = bytearray(message[:-4])
    struct.pack_into("<HI", body, 2, number & 0xFFFF, number * step_us & 0xFFFFFFFF)
    return bytes(body) + struct.pack("<I", crc32(body))
