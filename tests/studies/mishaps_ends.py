"""Processes killed or stopped while they record or file, and two programs on one mat: each function tries once.

What is killed is a fork of a server that has imported everything, so that hundreds are tried in minutes; it writes into
a pipe what it has committed, and what it was at when it was killed is judged by a reader of its own.
"""

from __future__ import annotations

import contextlib
import importlib
import multiprocessing
import os
import signal
import sqlite3
import struct
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from groundtone.engine.recording import recording
from groundtone.errors import GroundtoneError
from groundtone.link.serial_link import SerialLink
from groundtone.record.contents import put
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.recorder import FLUSH_S, begin
from groundtone.record.swing_rows import SwingRow
from groundtone.review.golfers import rename
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario
from studies.mishaps_disk import about, item

# The disk's own time besides `FLUSH_S`, s: of a machine that has other things to do.
_DISK_S = 1.0
_SWINGS = 3
# So many looks in a row without a frame, a twentieth of a second each, are an end.
_QUIET = 400


def _forks() -> Any:
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["studies.mishaps_ends"])
    return context


def _child_ended(work: Callable[..., None], folder: Path, how: int, after_s: float) -> tuple[bytes, float, int | None]:
    """Starts it, ends it so and so long after its first word; what it said, when it was ended, and its exit code."""
    context = _forks()
    here, there = context.Pipe(duplex=False)
    child = context.Process(target=work, args=(there, folder, how == signal.SIGTERM))
    child.start()
    there.close()
    said = b""
    with contextlib.suppress(EOFError):
        said = here.recv_bytes()
        until = time.monotonic() + after_s
        while time.monotonic() < until:
            if here.poll(max(0.0, until - time.monotonic())):
                said += here.recv_bytes()
    ended = time.monotonic()
    os.kill(child.pid, how)
    with contextlib.suppress(EOFError, ConnectionResetError):
        while True:
            said += here.recv_bytes()
    child.join(120)
    code: int | None = child.exitcode
    if code is None:
        child.kill()
    return said, ended, code


def _records(out: Any, folder: Path, in_order: bool) -> None:
    """A session at 200 frames a second until it is ended."""
    signal.signal(signal.SIGTERM, signal.default_int_handler if in_order else signal.SIG_DFL)
    with contextlib.suppress(KeyboardInterrupt), recording(folder / "a.mcap", about(), threaded=True) as log:
        number = 0
        while True:
            log.frame(item(number, time.monotonic()))
            out.send_bytes(struct.pack("<Id", number, time.monotonic()))
            number += 1
            time.sleep(0.005)


def _recording_ended(seed: int, folder: Path, how: int) -> list[str]:
    after_s = float(np.random.default_rng([seed, how]).uniform(0, 3))
    said, ended, code = _child_ended(_records, folder, how, after_s)
    came = [struct.unpack_from("<Id", said, at) for at in range(0, len(said) - len(said) % 12, 12)]
    if code is None:
        return ["it hangs"]
    if how == signal.SIGTERM and code != 0:
        return [f"it ended with {code}"]
    before = ended - FLUSH_S - _DISK_S if how == signal.SIGKILL else ended
    committed = sum(at < before for _, at in came)
    got = open_recording(folder / "a.mcap")
    wrong = []
    if len(got.frames) < committed:
        wrong.append(f"{committed} frames had been committed and {len(got.frames)} are there")
    if got.frames.seq.tolist() != list(range(len(got.frames))):
        wrong.append("frames are missing in the midst")
    wrong += ["a frame is another" for n in range(len(got.frames)) if got.frames.raw[n].tobytes() != item(n, 0.0).raw][
        :1
    ]
    if how == signal.SIGTERM and got.lost:
        wrong.append(f"ended in order, and yet: {got.lost[0]}")
    if how == signal.SIGKILL and not got.lost:
        wrong.append("it is not said that the end is missing")
    return wrong


def recording_killed(seed: int, folder: Path) -> list[str]:
    """Kill -9 up to three seconds after the first frame."""
    return _recording_ended(seed, folder, signal.SIGKILL)


def recording_stopped(seed: int, folder: Path) -> list[str]:
    """SIGTERM up to three seconds after the first frame."""
    return _recording_ended(seed, folder, signal.SIGTERM)


def _files(out: Any, folder: Path, in_order: bool) -> None:
    """Sessions into the library one after the other; every fourth time Ann is renamed, in library and recordings."""
    signal.signal(signal.SIGTERM, signal.default_int_handler if in_order else signal.SIG_DFL)
    events = {"impact": (1.0, "pressure", 0.03)}
    rows = [SwingRow(i, "swing", float(i), events, {"share": (0.5, 0.01, "")}) for i in range(_SWINGS)]
    with contextlib.suppress(KeyboardInterrupt), Library(folder) as library:
        number = 0
        while True:
            path = library.recordings / f"{number}.mcap"
            recorder = begin(path, about())
            for n in range(5):
                recorder.frame(item(n, time.monotonic()))
            recorder.close()
            put(library, open_recording(path), rows, [])
            out.send_bytes(struct.pack("<I", number))
            number += 1
            if number % 4 == 0:
                rename(library, "Ann", f"Ann {number}")
                out.send_bytes(struct.pack("<I", 1 << 20 | number))


def _library_ended(seed: int, folder: Path, how: int) -> list[str]:
    after_s = float(np.random.default_rng([seed, how, 1]).uniform(0, 0.8))
    said, _, code = _child_ended(_files, folder, how, after_s)
    told = [word for (word,) in struct.iter_unpack("<I", said[: len(said) // 4 * 4])]
    if code is None:
        return ["it hangs"]
    if how == signal.SIGTERM and code != 0:
        return [f"it ended with {code}"]
    wrong = []
    with contextlib.closing(sqlite3.connect(folder / "library.sqlite")) as bare:
        if (state := bare.execute("PRAGMA integrity_check").fetchone()[0]) != "ok":
            wrong.append(str(state))
        rows = bare.execute(
            "SELECT r.path, (SELECT COUNT(*) FROM swings s JOIN blocks b ON s.block_id = b.id "
            "WHERE b.recording_id = r.id) FROM recordings r"
        ).fetchall()
        there = {int(Path(path).stem): swings for path, swings in rows}
    with Library(folder) as library:
        filed = {word for word in told if word < 1 << 20}
        if missing := filed - set(there):
            wrong.append(f"session {min(missing)} had been filed and is not there")
        if len(set(there) - filed) > 1:
            wrong.append("more than one session is there that had not been told of")
        if set(there.values()) - {_SWINGS}:
            wrong.append("a session is there with half of its swings")
        renamed = {f"Ann {word & 0xFFFFF}" for word in told if word >> 20}
        known = {each.golfer.name for each in library.golfers()}
        if missing_names := renamed - known:
            wrong.append(f"{min(missing_names)} had been renamed and is not there")
        if "Ann" in known:  # a renaming that was cut is done again
            rename(library, "Ann", "Zoe")
            if {row.path for row in library.recordings_of("Zoe")} - {
                row.path for row in library.recordings_of("Zoe")
                if open_recording(library.file_of(row)).about.golfer.name == "Zoe"
            }:  # fmt: skip
                wrong.append("renamed again, a recording still carries another name")
    return wrong


def library_killed(seed: int, folder: Path) -> list[str]:
    """Kill -9 while sessions are filed."""
    return _library_ended(seed, folder, signal.SIGKILL)


def library_stopped(seed: int, folder: Path) -> list[str]:
    """SIGTERM while sessions are filed."""
    return _library_ended(seed, folder, signal.SIGTERM)


def _window_ended(seed: int, folder: Path, how: int) -> list[str]:
    known: Any = importlib.import_module("window.test_processes")
    env = dict(os.environ, GROUNDTONE_HOME=str(folder), QT_QPA_PLATFORM="offscreen")
    window = subprocess.Popen(
        [sys.executable, "-c", known.SCRIPT], env=env, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    wrong = []
    try:
        while not list(folder.glob("recordings/*.mcap")) and window.poll() is None:
            time.sleep(0.02)
        time.sleep(float(np.random.default_rng([seed, how, 2]).uniform(0, 12)))
        those = known.descendants(window.pid)
        window.send_signal(how)
        _, said = window.communicate(timeout=120)
        until = time.monotonic() + 30
        while known.left_of(those) and time.monotonic() < until:
            time.sleep(0.05)
        if known.left_of(those):
            wrong.append(f"{len(known.left_of(those))} processes stay")
        if b"Traceback" in said:
            wrong.append("a traceback")
    finally:
        window.kill()
        window.wait()
    wrong += ["a recording cannot be opened" for path in folder.glob("recordings/*.mcap") if not _opens(path)]
    listed = subprocess.run(
        [sys.executable, "-m", "groundtone", "library", "list"], env=env, capture_output=True, text=True, check=False
    )
    left = len(list(folder.glob("recordings/*.mcap")))
    if listed.returncode or (left and "anna" not in listed.stdout):
        wrong.append("the session is not filed by the next command")
    return wrong


def _opens(path: Path) -> bool:
    try:
        open_recording(path)
    except GroundtoneError:
        return False
    return True


def window_killed(seed: int, folder: Path) -> list[str]:
    """Kill -9 up to 12 s after a practice has begun in the window."""
    return _window_ended(seed, folder, signal.SIGKILL)


def window_stopped(seed: int, folder: Path) -> list[str]:
    """SIGTERM up to 12 s after a practice has begun in the window."""
    return _window_ended(seed, folder, signal.SIGTERM)


def two_programs(seed: int, folder: Path) -> list[str]:
    """A second program opens the port of a mat that a first one reads: refused, it takes nothing away."""
    del folder
    draw = np.random.default_rng(seed)
    wrong: list[str] = []
    scenario = Scenario(MatSpec.reference(layout="starter-10x3", seed=seed), Empty(3600.0))
    # A mat that is let go on scan by scan skips nothing, however busy the machine is.
    with MatProcess(scenario, fast=True) as mat, SerialLink(mat.port) as link:
        link.start(100)
        mat.allow(2)
        second_at = int(draw.integers(5, 40))
        count = quiet = 0
        for got in link.frames():
            if got is None:
                quiet += 1
                if quiet > _QUIET:
                    return [*wrong, f"the first program got {count} frames and then no more"]
                continue
            mat.allow(1)
            count, quiet = count + 1, 0
            if count == second_at:
                try:
                    SerialLink(mat.port).close()
                    wrong.append("the second program was let in")
                except GroundtoneError as error:
                    if "use" not in str(error) and "busy" not in str(error):
                        wrong.append(f"it is told: {error}")
            if count >= 60:
                break
        # What a mat skips since its host was slow is no loss; a byte that a second reader took away is.
        stream = link.statistics.stream
        if damaged := stream.bad + stream.oversized + stream.unknown:
            wrong.append(f"{damaged} messages were damaged")
    return wrong
