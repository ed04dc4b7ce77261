"""A lesson of an invented pupil on the simulated mat, recorded as practice does it: for pictures, studies and tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from groundtone.app.live.practice_setup import PracticeWish, begun
from groundtone.app.twin import mat_of
from groundtone.link.twin_link import TwinLink
from groundtone.record.session import SILENT_BLOCKS, Block, Golfer
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.twin.scenario import GolferSpec, Scenario, Session, SwingSpec


@dataclass(frozen=True)
class Lesson:
    """An invented lesson.

    Attributes
    ----------
    swings : sequence of SwingSpec
    told : sequence of str
        What is told of each strike, in keys.
    blocks : mapping of int to str
        Which block begins with which swing, from 0.
    seed : int
    """

    swings: Sequence[SwingSpec]
    told: Sequence[str]
    blocks: Mapping[int, str] = field(default_factory=lambda: {0: "baseline"})
    seed: int = 3


SHORT = Lesson(
    tuple(SwingSpec(style) for style in ("trail_hang", "good", "good", "good")), ("2f", "5c", "5c", "6c"),
    {0: "baseline", 2: "test"},
)  # fmt: skip
WHOLE = Lesson(
    tuple(SwingSpec(style) for style in ("toe_drift", "good", "toe_drift", "trail_hang", "toe_drift"))
    + tuple(SwingSpec("good", slow=slow) for slow in (2.0, 1.0, 1.0))
    + tuple(SwingSpec("good") for _ in range(5)),
    ("4", "5c", "1t", "2f", "4s", "5c", "5c", "6c", "5c", "5c", "6c", "5c", "8c"),
    {0: "baseline", 5: "drill", 8: "test"},
)


GUESSES = Lesson(
    tuple(SwingSpec("good", down_heel_toe=place) for place in (0.50, 0.42, 0.60, 0.46, 0.52, 0.40, 0.62, 0.47, 0.55)),
    ("6", "5", "6", "5", "6", "4", "6", "5", "6"), {0: "guess"},
)  # fmt: skip


def record(
    name: str, lesson: Lesson = SHORT, *, mat_seed: int = 7, layout: str = "starter-10x3", started: str = ""
) -> Path:
    """Plays a lesson into the data folder; the recording's file.

    Parameters
    ----------
    name : str
        The pupil's code name.
    lesson : Lesson
    mat_seed : int
    layout : str
    started : str
        When, ISO 8601; empty: now.
    """
    scenario = Scenario(mat_of(mat_seed, layout), Session(GolferSpec(), tuple(lesson.swings), seed=lesson.seed))
    kind = lesson.blocks.get(0, "baseline")
    block = Block(1, kind, "7 iron", "turf", 140.0, kind not in SILENT_BLOCKS)
    wish = PracticeWish(Golfer(name), block, started=started)
    output = OfflinePlayer(Synth())
    output.start()
    with TwinLink(scenario, fast=True) as link, begun(link, output, wish, simulated=True, threaded=False) as under_way:
        link.start(100)
        practice, told = under_way.practice, 0
        for item in link.frames():
            if item is None:
                break
            practice.take_item(item)
            if len(practice.session.swings) > told:
                for key in lesson.told[told]:
                    practice.key(key)
                told += 1
                if told in lesson.blocks:
                    practice.begin_block(lesson.blocks[told])
        practice.end()
    assert under_way.path is not None
    return under_way.path
