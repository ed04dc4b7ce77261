"""What people would otherwise take, beside ours, in the same run: the parts that need no sound and no chip.

Runs alternate, so that whatever else the machine does meets both. Times are processor times of this process.
"""

from __future__ import annotations

import csv
import os
import time
import tty
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import lmfit
import numpy as np
import serial
from numpy.typing import NDArray
from scipy import ndimage

from groundtone.calibration.fitting.fit import fit_curves
from groundtone.link.base import Stamped
from groundtone.mat.layout import layout_of
from groundtone.mat.network import conductances, readings
from groundtone.pressure.feet import centres
from groundtone.record.reader import open_recording
from groundtone.record.recorder import begin
from groundtone.twin.scenario import demo_scenario
from groundtone.wire.codec import decode
from groundtone.wire.messages import Frame
from groundtone.wire.stream import StreamDecoder, line_bytes
from studies.calibration_fit import COLUMNS, ROWS, SCATTER, START, Saturating, descended, invented_run, law, looped
from studies.network import BLOCK, dense_inverse, drivers, grids
from studies.record import RATE_HZ, about_of, messages_of, moved
from studies.wire import frames as random_frames

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Beside:
    """One thing measured for ours and for what it stands beside; less is better.

    Attributes
    ----------
    part, what, unit : str
    other : str
        What ours stands beside.
    ours, others : tuple of float
        One for each run, in pairs; a quantity that does not scatter has one.
    """

    part: str
    what: str
    unit: str
    other: str
    ours: tuple[float, ...]
    others: tuple[float, ...]

    def ratio(self) -> Array:
        """Other over ours in each pair of runs."""
        with np.errstate(divide="ignore"):
            out: Array = np.array(self.others) / np.array(self.ours)
        return out


def alternated(ours: Callable[[], object], other: Callable[[], object], runs: int, per: float) -> tuple[Any, Any]:
    """Processor times of both in turn, each divided by `per`, after a run that does not count."""
    times: tuple[list[float], list[float]] = ([], [])
    for run in range(runs + 1):
        for kept, work in zip(times, (ours, other), strict=True):
            began = time.process_time()
            work()
            if run:
                kept.append((time.process_time() - began) / per)
    return tuple(times[0]), tuple(times[1])


def network(runs: int) -> Iterator[Beside]:
    """The inverse of the network against formula and dense solves, over grids of 1 µS to 0.5 mS."""
    lines = drivers()
    cells = grids(BLOCK, True)
    reading = readings(cells, lines)
    near = next(
        t for t in range(2, 40) if np.abs(dense_inverse(reading[:100], lines, t) / cells[:100] - 1).max() < 1e-6
    )

    def divider() -> Array:
        out: Array = 1e-3 * reading / (1 - reading)
        return out

    def ours() -> Array:
        return conductances(reading, lines, tolerance=1e-6)[0]

    def error(found: Array) -> tuple[float, ...]:
        return (float(np.median(np.abs(found / cells - 1))),)

    us = 1e-6 * BLOCK
    single = "each cell as a divider by itself, G = Gs v / (1 - v)"
    yield Beside("network", "error of a cell, median", "of its conductance", single, error(ours()), error(divider()))
    yield Beside("network", "a frame in blocks", "us", single, *alternated(ours, divider, runs, us))
    dense = f"numpy.linalg.solve, {near} turns to the same 1e-6"
    yield Beside(
        "network", "a frame in blocks", "us", dense,
        *alternated(ours, lambda: dense_inverse(reading, lines, near), max(3, runs // 3), us),
    )  # fmt: skip
    yield Beside(
        "network", "a frame in blocks", "us", "one dense forward solve, which inverts nothing",
        *alternated(ours, lambda: readings(cells, lines), runs, us),
    )  # fmt: skip
    one = reading[:1]
    yield Beside(
        "network", "a frame alone", "us", dense,
        *alternated(
            lambda: [conductances(one, lines, tolerance=1e-6) for _ in range(20)],
            lambda: [dense_inverse(one, lines, near) for _ in range(20)], runs, 20e-6,
        ),
    )  # fmt: skip


def by_lmfit(conductance: Array, force: Array) -> Array:
    """Parameters by one lmfit model a cell."""
    model = lmfit.Model(law)
    values = []
    for g, f in zip(conductance, force, strict=True):
        names = dict(zip(("level", "exponent", "inverse"), START, strict=True))
        found = model.fit(f, model.make_params(**names), conductance_s=g, weights=1 / (SCATTER * f))
        values.append([found.params[name].value for name in names])
    return np.array(values)


_LOOPS: tuple[tuple[str, Callable[[Array, Array], object]], ...] = (
    ("scipy's curve_fit", looped),
    ("lmfit", by_lmfit),
)


def calibration(runs: int) -> Iterator[Beside]:
    """A bench run of 128 cells: the fit that users run, and one form by the solver within it, against loops."""
    run = invented_run()
    cells = ROWS * COLUMNS
    conductance = np.array([p.conductance_s[p.row, p.column] for p in run]).reshape(cells, -1)
    force = np.array([p.force_n for p in run]).reshape(cells, -1)
    curve = Saturating(conductance, force)
    runs = max(3, runs // 3)
    for name, other in _LOOPS:
        loop = f"a loop of {name} over the cells"
        yield Beside(
            "calibration", "the whole fit, five forms compared, robust", "s", loop,
            *alternated(lambda: fit_curves(run, ROWS, COLUMNS), partial(other, conductance, force), runs, 1),
        )  # fmt: skip
        yield Beside(
            "calibration", "one form with fixed weights", "s", loop,
            *alternated(lambda: descended(curve), partial(other, conductance, force), runs, 1),
        )  # fmt: skip
    fitted = fit_curves(run, ROWS, COLUMNS).curves
    own, _ = looped(conductance, force)
    truth = _true_levels()
    at = np.geomspace(3.0, 250.0, 40)
    free = 1e-4 * np.exp((np.log(at)[:, None] - truth.ravel()) / 1.1)
    cells_s = free / (1 + free / 5e-3)
    found = fitted.force_n(cells_s.reshape(-1, ROWS, COLUMNS)).reshape(len(at), -1)
    by_loop = np.stack([law(cells_s[:, i], *own[i]) for i in range(cells)], axis=1)
    rms = [float(np.sqrt(np.nanmean((each / at[:, None] - 1) ** 2))) for each in (found, by_loop)]
    yield Beside(
        "calibration", "error of a force, 3 to 250 N, rms", "of it", "a loop of scipy's curve_fit over the cells",
        (rms[0],), (rms[1],),
    )  # fmt: skip


def _true_levels() -> Array:
    """Levels of `invented_run`'s cells: its generator's first draw."""
    return np.random.default_rng(1).normal(np.log(35.0), 0.25, (ROWS, COLUMNS))


def centre(runs: int) -> Iterator[Beside]:
    """Centres of pressure of both feet against scipy.ndimage."""
    layout = layout_of("reference-16x4")
    force = np.random.default_rng(3).gamma(0.6, 4.0, (2000, layout.rows, layout.columns))
    labels = np.repeat([[1] * (layout.columns // 2) + [2] * (layout.columns // 2)], layout.rows, axis=0)

    def theirs(frame: Array) -> list[tuple[float, ...]]:
        return ndimage.center_of_mass(frame, labels, [1, 2])  # type: ignore[no-any-return]

    def ours() -> object:
        return [centres(frame, layout, 30.0) for frame in force[:200]]

    name = "scipy.ndimage.center_of_mass, frame by frame"
    yield Beside(
        "centre of pressure", "both feet of a frame alone", "us", name,
        *alternated(ours, lambda: [theirs(frame) for frame in force[:200]], runs, 200e-6),
    )  # fmt: skip
    yield Beside(
        "centre of pressure", "both feet of a frame in blocks", "us", name,
        *alternated(lambda: centres(force, layout, 30.0), lambda: [theirs(f) for f in force], runs, 2000e-6),
    )  # fmt: skip
    _, along, _ = centres(force[:200], layout, 30.0)
    by_panel = layout.by_panel(force[:200])
    rows = np.array([[ndimage.center_of_mass(panel)[0] for panel in frame] for frame in by_panel])
    pitch, first = layout.u_mm[1] - layout.u_mm[0], layout.u_mm[0]
    assert np.allclose(along, first + pitch * rows, atol=1e-9), "the centres compared are not the same"


def text_line(frame: Frame) -> bytes:
    """A frame as a sketch of the usual kind prints it: time and values, with commas."""
    return (",".join(map(str, [frame.t_us, *frame.cells.tolist()])) + "\n").encode()


def wire(runs: int) -> Iterator[Beside]:
    """Frames through a pseudo-terminal and pyserial: messages against lines of text."""
    raw = random_frames(400)
    known = [decode(message, 128, 14) for message in raw]
    assert all(isinstance(frame, Frame) for frame in known)
    ours, text = [line_bytes(message) for message in raw], [text_line(f) for f in known]  # type: ignore[arg-type]
    far, near = os.openpty()
    tty.setraw(near)
    port = serial.Serial(os.ttyname(near), 115200, timeout=2.0)
    count = len(ours)
    try:

        def messages() -> int:
            decoder, got = StreamDecoder(), 0
            for at in range(0, count, 4):
                os.write(far, b"".join(ours[at : at + 4]))
                want = got + 4
                while got < want:
                    data = port.read(1)
                    data += port.read(port.in_waiting)
                    for message in decoder.feed(data):
                        decode(message, 128, 14)
                        got += 1
            return got

        def by_readline() -> int:
            for at in range(0, count, 4):
                os.write(far, b"".join(text[at : at + 4]))
                for _ in range(4):
                    np.array(port.readline().decode().split(","), dtype=float)
            return count

        def by_pieces() -> int:
            left, got = b"", 0
            for at in range(0, count, 4):
                os.write(far, b"".join(text[at : at + 4]))
                want = got + 4
                while got < want:
                    left += port.read(1)
                    left += port.read(port.in_waiting)
                    *lines, left = left.split(b"\n")
                    for line in lines:
                        np.array(line.split(b","), dtype=float)
                        got += 1
            return got

        per = count * 1e-6
        yield Beside(
            "wire", "a frame over pyserial", "us", "text, readline", *alternated(messages, by_readline, runs, per)
        )
        yield Beside(
            "wire", "a frame over pyserial", "us", "text, read in pieces", *alternated(messages, by_pieces, runs, per)
        )
    finally:
        port.close()
        os.close(far)
        os.close(near)
    size = tuple(float(np.mean([len(line) for line in lines])) for lines in (ours, text))
    yield Beside("wire", "length of a frame", "bytes", "text", (size[0],), (size[1],))
    yield Beside("wire", "delivered wrong of 10,000 with one flipped bit", "frames", "text", *_flipped(ours, text))


def _flipped(ours: list[bytes], text: list[bytes], count: int = 10_000) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """How many of so many damaged frames are delivered with values that nobody measured."""
    rng = np.random.default_rng(5)
    wrong = [0, 0]
    for number in range(count):
        for which, lines in enumerate((ours, text)):
            line = bytearray(lines[number % len(lines)])
            at = int(rng.integers(8 * len(line)))
            line[at // 8] ^= 1 << at % 8
            wrong[which] += _message_wrong(bytes(line)) if which == 0 else _text_wrong(bytes(line), lines[number % 400])
    return (float(wrong[0]),), (float(wrong[1]),)


def _message_wrong(line: bytes) -> bool:
    return bool(StreamDecoder().feed(b"\0" + line + b"\0"))


def _text_wrong(line: bytes, sent: bytes) -> bool:
    """A reader that counts its values and drops what is no number still takes this for a frame."""
    for each in line.split(b"\n"):
        try:
            values = np.array(each.split(b","), dtype=float)
        except ValueError:
            continue
        if values.size == 129 and not np.array_equal(values, np.array(sent.split(b","), dtype=float)):
            return True
    return False


def recording(runs: int, folder: Path, count: int = 12_000) -> Iterator[Beside]:
    """A minute recorded and read again, against rows of CSV written out twice a second."""
    scenario = demo_scenario(1)
    messages = messages_of(scenario)
    items = [moved(messages[i % len(messages)], i) for i in range(count)]
    known = [decode(item, 128, 14) for item in items]
    about = about_of(scenario, _profile(scenario))
    ours_at, csv_at = folder / "a.mcap", folder / "a.csv"

    def write_ours() -> None:
        ours_at.unlink(missing_ok=True)
        recorder = begin(ours_at, about)
        for i, (raw, frame) in enumerate(zip(items, known, strict=True)):
            recorder.frame(Stamped(frame, i * 5000, i * 0.005, 0.0, 0, raw))  # type: ignore[arg-type]
            if i % 100 == 0:
                recorder.pump()
        recorder.close()

    def write_csv() -> None:
        with csv_at.open("w", newline="") as file:
            rows = csv.writer(file)
            for i, frame in enumerate(known):
                rows.writerow([i * 5000, frame.flags, frame.ref_a, frame.ref_b, *frame.cells.tolist()])  # type: ignore[union-attr]
                if i % 100 == 0:
                    file.flush()
                    os.fsync(file.fileno())

    def read_ours() -> object:
        frames = open_recording(ours_at).frames
        return frames.readings(0, len(frames))

    per = count * 1e-6
    yield Beside("recording", "a frame written", "us", "CSV", *alternated(write_ours, write_csv, runs, per))
    with warnings.catch_warnings():
        yield Beside(
            "recording", "a frame read back", "us", "CSV by numpy.loadtxt",
            *alternated(read_ours, lambda: np.loadtxt(csv_at, delimiter=","), runs, per),
        )  # fmt: skip
    hour = 3600 * RATE_HZ / count / 2**20
    size = [path.stat().st_size * hour for path in (ours_at, csv_at)]
    yield Beside("recording", "size of an hour at 200 Hz", "MiB", "CSV", (size[0],), (size[1],))


def _profile(scenario: Any) -> Any:
    from groundtone.app.calibration.demo_profile import quick_profile

    return quick_profile(scenario)
