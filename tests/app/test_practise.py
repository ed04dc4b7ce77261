"""`groundtone practise`: followed, answered, paused, lost and found, ended and recorded."""

import functools
import itertools
import signal
import sys
import threading
from dataclasses import replace
from types import SimpleNamespace

import pytest
from sound_in import part_in, read, stretches
from terminal import Terminal
from using import film as scans

from groundtone.app.console import first_key
from groundtone.app.live.practice_run import _with_reason
from groundtone.app.live.practice_setup import PracticeWish, begun
from groundtone.app.live.recording import known_golfer
from groundtone.cue.personal import Own, Personal, bands_for, write_personal
from groundtone.cue.rulefile import default_rules
from groundtone.engine.practice_state import Counts, Now, State
from groundtone.lesson.drills import drill_of
from groundtone.link.base import Gap
from groundtone.link.twin_link import TwinLink
from groundtone.record.reader import open_recording
from groundtone.record.session import Block, Golfer
from groundtone.review.session_review import review
from groundtone.review.settings import rules_in, stance_in
from groundtone.review.strikes import Contact, Strike
from groundtone.tone.output import OfflinePlayer
from groundtone.tone.synth import Synth
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec
from groundtone.wire.messages import Event, EventCode

ACT = Session(
    GolferSpec(), (SwingSpec("good"), SwingSpec("trail_hang")), seed=2, empty_s=0.5, rocks=1, rock_s=2.0, setup_s=2.0
)


class Heard(OfflinePlayer):
    """An offline player that writes down what it was asked for, in its own time."""

    def __init__(self):
        super().__init__(Synth())
        self.seconds, self.said, self.echoes, self.cues = 0.0, [], [], []

    def advance(self, seconds):
        self.seconds += seconds
        super().advance(seconds)

    def signal(self, name):
        self.said.append(name)
        super().signal(name)

    def echo(self, path):
        self.echoes.append((self.seconds, path))
        super().echo(path)

    def set_cues(self, sizes):
        if {"toes", "trail side"} & set(sizes):
            self.cues.append(self.seconds)
        super().set_cues(sizes)


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    return tmp_path


class Film:
    """A link that brings what the twin brought once."""

    def __init__(self):
        twin = TwinLink(Scenario(MatSpec.reference(), ACT), fast=True)
        self.hello, self.statistics = twin.hello, twin.statistics
        twin.start(100)
        self.items = list(itertools.takewhile(lambda item: item is not None, twin.frames()))

    def frames(self):
        return iter(self.items)


@functools.cache
def film():
    return Film()


def played(wish=None, meanwhile=None):
    """A practice on the twin, played to its end; `meanwhile(practice, item)` is called before each item is taken."""
    said, output = [], Heard()
    link = film()
    output.start()
    with begun(link, output, wish or PracticeWish(), simulated=True, threaded=False, say=said.append) as under_way:
        practice = under_way.practice
        for item in link.frames():
            if meanwhile is not None:
                meanwhile(practice, item)
            practice.take_item(item)
            if practice.over:
                break
        practice.end()
        now, summary = practice.now(), practice.summary()
    return practice, output, now, summary, under_way.path, said


class Once:
    """Calls `then(practice)` once, when `when(practice)` is first true."""

    def __init__(self, when, then):
        self._when, self._then, self.done = when, then, False

    def __call__(self, practice, item):
        if not self.done and self._when(practice):
            self.done = True
            self._then(practice)


def after(number):
    return lambda practice: len(practice.session.swings) == number


def test_stance_flare_and_the_class_s_limits_are_the_pupil_s(home):
    own = Personal("Ada", own={"trail": Own(0.61, "coach")}, stance_mm=355.0, flare_deg=(12.0, 25.0))
    write_personal(own.with_own({"trail": Own(0.50, "coach")}, "driver"))
    limits = []

    def change(practice):
        limits.append(practice.own_rules().band("trail").low)
        for club in ("1w", "PW"):
            practice.begin_block("drill", club=club)
            limits.append(practice.own_rules().band("trail").low)

    wish = PracticeWish(
        Golfer("Ada"), Block(club="7 iron"), bands_for("Ada", club="7 iron"), stance_mm=own.stance_mm,
        flare_deg=own.flare_deg,
    )  # fmt: skip
    *_, path, _ = played(wish, Once(after(1), change))
    assert limits == [0.61, 0.50, 0.61]
    stance = stance_in(open_recording(path).about.settings)
    assert (stance.width_mm, stance.flare_deg) == (355.0, (12.0, 25.0))


def test_two_swings_are_followed_echoed_counted_and_recorded(home):
    states = []

    def watch(practice, item):
        state = practice.now().state
        if not states or states[-1] is not state:
            states.append(state)

    practice, output, now, summary, path, said = played(PracticeWish(golfer=Golfer("Ada")), watch)
    assert states[:3] == [State.STEP_ON, State.ROCK, State.PLAY]
    assert now.state is State.OVER
    assert output.said.count("tick") == 2
    assert output.said[-1] == "saved"
    assert len(output.echoes) == 2
    for (at_s, path_played), lane in zip(output.echoes, practice.session.lanes, strict=True):
        assert path_played.lead == "left"
        assert path_played.turn_s == lane.turn_s
        assert path_played.t_s[0] >= lane.takeaway_s - 0.2
        assert at_s > 0
    (total,) = summary.blocks
    assert (total.swings, total.inside, total.heard) == (2, 1, {"trail side": 1})
    assert summary.lines()[0] == "practice: 2 swings; 1 of 2 outside; trail side in 1."
    recorded = open_recording(path)
    assert recorded.about.golfer.name == "Ada"
    assert len(recorded.frames.seq) == len(set(recorded.frames.seq.tolist()))
    assert any("not calibrated" in each.text for each in said)


def test_the_echo_begins_soon_after_the_tick(home):
    ticks = []

    def watch(practice, item):
        if len(practice.session.swings) > len(ticks):
            ticks.append(item.device_us * 1e-6)

    began = []
    _, output, *_ = played(PracticeWish(record=False), lambda p, i: (began.append(i.device_us * 1e-6), watch(p, i)))
    for tick, (at_s, _) in zip(ticks, output.echoes, strict=True):
        assert 1.15 < at_s + began[0] - tick < 2.0


def test_without_echo_none_is_played(home):
    _, output, *_ = played(PracticeWish(echo=False, record=False))
    assert output.echoes == []


def test_strikes_told_by_key_and_by_foot_are_recorded_with_their_swing(home):
    first = Once(after(1), lambda p: (p.key("6"), p.key("t")))
    second = Once(after(2), lambda p: p._told(p.answering.foot("fat")))
    _, output, now, summary, path, _ = played(meanwhile=lambda p, i: (first(p, i), second(p, i)))
    assert output.said.count("taken") == 3
    assert now.told == "fat"
    told = [each.strike for each in review(open_recording(path)).swings]
    assert told == [Strike(field=6, contact=Contact.THIN), Strike(contact=Contact.FAT)]
    assert "0 of 1 strikes inside the centre circle; 1 fat; 1 thin" in summary.lines()[0]


def test_what_was_told_can_be_taken_back(home):
    told = Once(after(1), lambda p: (p.key("6"), p.key("u"), p.key("u")))
    _, output, _, _, path, _ = played(meanwhile=told)
    assert (output.said.count("taken"), output.said.count("undone")) == (1, 1)
    assert not review(open_recording(path)).swings[0].strike.told


def test_in_a_silent_block_no_cue_sounds_and_blocks_are_told_apart(home):
    change = Once(after(1), lambda p: p.begin_block("test", club="7 iron"))
    _, output, _, summary, path, _ = played(PracticeWish(block=Block(1, "drill")), change)
    assert [(t.block.kind, t.swings) for t in summary.blocks] == [("drill", 1), ("test", 1)]
    assert output.cues == []
    seen = review(open_recording(path))
    assert [each.block.kind for each in seen.swings] == ["drill", "test"]
    assert seen.swings[1].block.club == "7 iron"


def test_a_pause_is_silent_and_the_button_makes_and_ends_it(home):
    press = Once(after(1), lambda p: p.take_item(Event(EventCode.BUTTON, 0, "")))
    practice, output, *_ = played(PracticeWish(record=False), press)
    assert practice.paused
    assert output.cues == []
    assert len(practice.session.swings) == 2


def test_a_held_button_ends_it(home):
    def held(practice):
        practice.take_item(Event(EventCode.BUTTON, 0, ""))
        practice.take_item(Event(EventCode.BUTTON_HELD, 0, ""))

    _, output, now, summary, *_ = played(PracticeWish(record=False), Once(after(1), held))
    assert now.state is State.OVER
    assert summary.swings == 1
    assert output.said[-1] == "tick"  # nothing was recorded, so nothing is saved


def test_a_gap_is_said_marked_and_survived(home):
    def lose(practice):
        practice.take_item(Gap(True, 1.0, "the mat at X is gone: check its cable and power"))
        assert practice.now().state is State.LOST
        practice.take_item(Gap(False, 9.0, ""))

    practice, _, _, summary, path, said = played(meanwhile=Once(after(1), lose))
    assert summary.gaps == 1
    assert "the mat was away once" in summary.lines()[-1]
    assert len(practice.session.swings) == 2
    events = [each.table["what"] for each in open_recording(path).events]
    assert events.index("lost") < events.index("found again")
    assert [each.text for each in said][-2:] == ["the mat at X is gone: check its cable and power", "The mat is back."]


def test_nobody_who_is_not_recorded_leaves_a_file(home):
    *_, path, _ = played(PracticeWish(record=False))
    assert path is None
    assert not list(home.rglob("*.mcap"))


def test_a_new_golfer_is_known_next_time(home):
    played(PracticeWish(golfer=Golfer("Ada", "left", 61.0, 250.0)))
    assert known_golfer("Ada", None, None) == Golfer("Ada", "left", 61.0, 250.0)


@pytest.mark.parametrize(
    ("sent", "keys"),
    [("", [""]), ("5t", ["5", "t"]), ("\x1b[6~\x1b[5~", ["next", "back"]), ("\x1b", ["escape"]), ("\x1b[3~u", ["u"])],
)  # fmt: skip
def test_keys_of_a_terminal(sent, keys):
    seen = []
    for _ in keys:
        key, sent = first_key(sent)
        seen.append(key)
    assert (seen, sent) == (keys, "")


def test_on_a_terminal_from_power_up_to_the_end_by_one_key(home):
    with_terminal = Terminal(
        ["practise", "--twin", "--fast", "--golfer", "Ada"], {"GROUNDTONE_HOME": str(home)}, size=(36, 110)
    )
    try:
        with_terminal.until("3 swings; 2 of 3 outside")
    finally:
        with_terminal.process.kill()
        with_terminal.process.wait()
    assert "swing 2: lead" in with_terminal.text


def test_without_a_mat_it_waits_and_says_what_to_do(home):
    terminal = Terminal(["practise"], {"GROUNDTONE_HOME": str(home)}, size=(36, 110))
    try:
        terminal.until("It is looked for once a second.")
        terminal.press("q")
        terminal.until("Ended before a mat was there")
    finally:
        terminal.process.kill()
        terminal.process.wait()


def test_who_does_not_want_to_wait_is_told(groundtone, home):
    said = groundtone("practise", "--no-wait", "--port", "/dev/nothing-there")
    assert said.code == 2
    assert said.err.startswith("groundtone: There is no mat at /dev/nothing-there")
    assert groundtone("practise", "--port", "x", "--twin").code == 2


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")
def test_from_power_up_to_the_first_right_tone_nobody_touches_the_computer(home, running, tmp_path, scripted):
    """It waits for a mat; the mat is switched on, the golfer steps on, rocks, and stands on the toes: that is heard."""
    on_toes = GolferSpec(setup_heel_toe=0.78)
    act = Session(on_toes, (SwingSpec("good"),), seed=2, empty_s=1.5, rocks=1, rock_s=2.0, setup_s=2.5)
    frames = scans(Scenario(MatSpec.reference(), act), 12.0)
    port, wav = tmp_path / "mat", tmp_path / "heard.wav"
    practising = running("practise", "--port", port, "--wav", wav, "--no-echo")
    out = practising.process.stdout

    def until(words):
        lines = iter(out.readline, "")
        return next(line for line in lines if words in line)

    until("Waiting for it.")
    mat = scripted(rows=16, columns=8, layout="reference-16x4")
    port.symlink_to(mat.port)
    # The first start only asks whether the mat will do.
    mat.wait_for(lambda: len([1 for command, _ in mat.requests if command == 2]) == 2)
    threading.Thread(target=mat.play, args=(frames,), kwargs={"pace_s": 0.01}, daemon=True).start()
    until("play: ")
    assert "toes" in until("swing 1: lead")
    practising.process.send_signal(signal.SIGINT)
    said = practising.end()
    assert said.code == 0
    assert "1 swing; 1 of 1 outside; toes in 1." in said.out
    # The toes' region, where no other sound has its notes; how long at a time is the machine's matter.
    samples = read(wav)
    assert sum(b - a for a, b in stretches(samples) if part_in(samples, a, b, 1000.0, 1400.0) > 0.5) > 1.0


def test_a_drill_brings_its_cue_and_limit_and_takes_them_away_again(home):
    seen = []

    def look(practice):
        own = practice.engine.cues.book
        practice.begin_block("drill", drill=drill_of("hold-it"))
        seen.append((own.rule("finish").on, practice.engine.cues.book.rule("finish").on))
        practice.begin_block("test")
        seen.append(practice.engine.cues.book == own)

    *_, path, _ = played(meanwhile=Once(after(1), look))
    assert seen == [(False, True), True]
    assert rules_in(open_recording(path).about.settings) == default_rules()


def test_a_drill_that_is_not_there_is_said(groundtone, home):
    said = groundtone("practise", "--twin", "--fast", "--drill", "nothing-known")
    assert said.code == 2
    assert "hold-it" in said.err


def test_a_lost_mat_says_why_it_is_not_back_yet():
    lost = Now(State.LOST, "mat lost", "Look at it.", Counts())
    link = SimpleNamespace(why_not="rows cannot be proven apart: step off")
    assert _with_reason(lost, link).sentence == "Rows cannot be proven apart: step off."
    assert _with_reason(lost, SimpleNamespace()) is lost
    playing = replace(lost, state=State.PLAY)
    assert _with_reason(playing, link) is playing


def test_what_names_no_link_is_not_waited_for(groundtone, home):
    said = groundtone("practise", "--port", "nonsense:x")
    assert said.code == 2
    assert "names no link" in said.err


def test_a_mat_that_brings_nothing_is_shown_as_lost_until_it_does(home, monkeypatch):
    seen = []

    def look(practice):
        now = practice._follower.heard_s
        monkeypatch.setattr("groundtone.engine.practice.time.monotonic", lambda: now + 0.6)
        practice.take_item(None)
        monkeypatch.undo()
        seen.append(practice.now().state)

    played(PracticeWish(record=False), Once(after(1), look))
    assert seen == [State.LOST]
