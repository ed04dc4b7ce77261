"""A lesson of an invented pupil, recorded as practice records it, with strikes told and two blocks."""

from dataclasses import replace

from groundtone.app.opening import mat_of
from groundtone.app.practice.begin import PracticeWish, begun
from groundtone.link.twin_link import TwinLink
from groundtone.record.about import Block, Golfer
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.twin.scenario import GolferSpec, Scenario, Session, SwingSpec

STYLES = ("trail_hang", "good", "good", "good")
TOLD = ("2f", "5c", "5c", "6c")
BLOCKS = {2: "test"}


def record(name, seed=7, layout="starter-10x3"):
    """Plays the lesson into the data folder; the recording's file."""
    swings = tuple(SwingSpec(style) for style in STYLES)
    scenario = Scenario(replace(mat_of(seed, layout)), Session(GolferSpec(), swings, seed=3))
    wish = PracticeWish(Golfer(name), Block(1, "baseline", "7 iron", "turf", cues=False))
    output = OfflinePlayer(Synth())
    output.start()
    with TwinLink(scenario, fast=True) as link, begun(link, output, wish, simulated=True, threaded=False) as under_way:
        link.start(100)
        practice, told = under_way.practice, 0
        for item in link.frames():
            if item is None:
                break
            practice.take(item)
            if len(practice.session.swings) > told:
                for key in TOLD[told]:
                    practice.key(key)
                told += 1
                if told in BLOCKS:
                    practice.begin_block(BLOCKS[told])
        practice.end()
    return under_way.path
