"""The live engine: a frame in, what the golfer should hear out. The same code serves the live path and a replay."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from groundtone.calibration.film import Film, ForceMeter
from groundtone.calibration.shoes.body_weight import Gains
from groundtone.calibration.shoes.shoe import ShoeLearner
from groundtone.cue.bands import Bands
from groundtone.cue.heard_cues import HeardCues
from groundtone.cue.rulebook import Rulebook
from groundtone.cue.rules import SILENT, CueSizes
from groundtone.engine.answers import UNDO, AnswerReader
from groundtone.engine.asking import Asking
from groundtone.engine.one_foot import OneFoot, only_panel
from groundtone.engine.stander import Stander
from groundtone.engine.told_feet import ToldFeet
from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import Layout
from groundtone.pressure.cell_watch import CellWatch
from groundtone.pressure.feet import OUTWARDS, Feet, Stance, feet_of, lead_share, least_force_n, overall_centre
from groundtone.pressure.footprint import Footprint, FootprintFinder
from groundtone.swing.events import Kind, Phase, Swing
from groundtone.swing.tracker import OWN_LEAST, SwingTracker, Tracked
from groundtone.wire import messages as wire
from groundtone.wire.messages import Flag, Frame

# Nobody is on the mat below this; the smallest golfer of the design weighs 25 kg.
_NOBODY_N = 60.0
# With one panel alone its foot tells it: the least that has a centre of pressure.
_NO_FOOT_N = 30.0
# After so long without a frame (the mat was away) nobody knows who stands there, or where.
_ANOTHER_S = 10.0
# The shoes are learnt when the footprints have been found, and again so often for so long, s: what comes after the rock
# (waggles, the way into the setup) tells a little more.
_LEARN_AGAIN_S, _LEARN_S = 2.0, 30.0
# Slow swings sound in a drill, and for so long after a slow rehearsal was seen: who waits shifts about as slowly.
_REHEARSES_S = 120.0
# In a drill about holding the finish it is watched for so long after impact: what the drill asks for, and some more.
_HELD_S = 2.4
_CALM = (Phase.AWAY, Phase.STANDING, Phase.SETUP)


@dataclass(frozen=True)
class Live:
    """What the engine knows after one frame.

    Attributes
    ----------
    t_s : float
        Device time, s.
    force_n : ndarray, shape (rows, columns)
    feet : Feet
    share, overall : float
        Lead share, and overall heel-toe position (the feet's positions weighted by their force). With one panel alone
        there is no share (NaN), and the overall position is its foot's.
    position : (float, float)
        Heel-toe position of the left and the right foot; NaN before the footprint has been found.
    centre_mm : (float, float)
        Overall centre of pressure in the stance frame.
    phase : Phase
    sizes : CueSizes
        What is to be heard.
    out, left : CueSizes, tuple of str
        What is out of its band, heard or not; the same of the swing that ended with this frame.
    signals : tuple of str
        One-shot sounds due now: "ready", "rock", "tick", "unseen", "taken", "undone", "tightened".
    ended : Swing or None
        The swing that ended with this frame.
    answer : str or None
        The answer with the foot that was recognised in this frame: "toe", "heel", "fat", "thin", "good" or "undo".
    said : tuple of str
        Sentences about bands that have moved with this frame, and about cells that have gone ill.
    """

    t_s: float
    force_n: NDArray[np.float64]
    feet: Feet
    share: float
    overall: float
    position: tuple[float, float]
    centre_mm: tuple[float, float]
    phase: Phase
    sizes: CueSizes
    signals: tuple[str, ...] = ()
    ended: Swing | None = None
    answer: str | None = None
    said: tuple[str, ...] = ()
    out: CueSizes = field(default_factory=dict)
    left: tuple[str, ...] = ()


class LiveEngine:
    """Follows one golfer on one mat.

    Parameters
    ----------
    layout : Layout
    film : Film
        The mat's calibration.
    stance : Stance
    bands : Rulebook or Bands, optional
        The rules; `Bands` changes the limits of the two main cues alone.
    shoe_mm : float, optional
        Outer length of the shoes, where it is known.
    cues : bool
        False keeps both cues silent (a block without them); signals sound all the same.
    panel : int, optional
        The one panel that is there, LEFT or RIGHT; the other foot stands on the ground beside it, at the same height.
        Only the toes cue sounds then, while the foot stands or rocks (see `one_foot`); no swing is seen.
    weight_n : float, optional
        The golfer's weight with all they wear, where the mass is known: then forces are right as well as shares.
    gains : Gains, optional
        What a check in the same shoes has found.
    bits : int
        Of the mat's readings, as its hello says.

    Attributes
    ----------
    drills : bool
        A drill is being practised: slow swings sound. Set by whoever knows.
    """

    def __init__(
        self,
        layout: Layout,
        film: Film,
        stance: Stance,
        bands: Bands | Rulebook | None = None,
        shoe_mm: float | None = None,
        *,
        cues: bool = True,
        panel: int | None = None,
        weight_n: float | None = None,
        gains: Gains | None = None,
        bits: int = 14,
    ) -> None:
        self._bits = bits
        self.layout, self.stance = layout, stance
        self.sounds = cues
        self.panel = panel
        self.meter = ConductanceMeter(layout, panel)
        self.prints = FootprintFinder(layout, shoe_mm, panel)
        self.tracker = SwingTracker()
        self.shoe = ShoeLearner(layout, film, weight_n=weight_n, gains=gains)
        self._told = ToldFeet(layout, self.shoe)
        self._forces = ForceMeter(film, layout.pitch_mm)
        self.watch = CellWatch(layout, film.dead)
        self._ready_s = self._learnt_s = -math.inf
        self.cues = HeardCues(bands)
        self.cues.trusting = panel is not None
        self.answers = AnswerReader(layout, stance.lead)
        self._one_foot = OneFoot(layout.length_mm)
        self.stander = Stander(_NOBODY_N if panel is None else _NO_FOOT_N)
        self._least_n = least_force_n(0.0)
        self._newest_s = math.inf
        self.drills = False
        self._rehearsed_s = -math.inf
        self._asking = Asking()

    @property
    def ready(self) -> bool:
        """The footprints have been found."""
        return self.prints.prints is not None

    def take_frame(self, frame: Frame, device_us: int, feet: wire.Feet | None = None) -> Live:
        """One frame.

        Parameters
        ----------
        frame : Frame
        device_us : int
            Its device time, unwrapped, µs.
        feet : Feet, optional
            What the mat itself has made of the scan, in place of cells; frames before have shown the footprints.
        """
        t_s = device_us * 1e-6
        strike_s, peak = self._strike(frame, t_s)
        if feet is not None:
            return self.take_forces(t_s, self._told.force_n(feet), strike_s, peak, whole=False)
        live = self.take_forces(t_s, self._forces.force_n(t_s, self.meter.measure(frame)), strike_s, peak)
        hums = self.meter.hum.sentence()
        return replace(live, said=(*live.said, hums)) if hums is not None else live

    def _strike(self, frame: Frame, t_s: float) -> tuple[float | None, float]:
        """The moment, s, and the peak of a frame's strike."""
        told = t_s - frame.strike_offset_us * 1e-6, frame.strike_peak / (1 << self._bits)
        return told if frame.flags & Flag.STRIKE else (None, math.nan)

    def take_forces(
        self,
        t_s: float,
        force_n: NDArray[np.float64],
        strike_s: float | None = None,
        strike_peak: float = math.nan,
        *,
        whole: bool = True,
    ) -> Live:
        """One frame whose forces are known already: all of `take_frame` but the conversion from counts.

        Parameters
        ----------
        t_s : float
            Device time, s, never falling.
        force_n : ndarray, shape (rows, columns)
            What the film's curves say, N.
        strike_s : float, optional
            Moment of a strike that came with it.
        strike_peak : float, optional
            Its peak, 0-1.
        whole : bool
            The cells are those of the film; without that only what they say of each foot as a whole is believed.
        """
        if t_s - self._newest_s > _ANOTHER_S:
            self._forget()
        self._newest_s = t_s
        # What began from no stillness is no swing to be judged: a rock goes on telling of the shoes.
        # Ill cells are filled from now on; of one panel alone nobody knows what the other foot would show.
        said = tuple(self.watch.take(t_s, force_n)) if self.panel is None and whole else ()
        force_n = self.watch.mended(force_n) if whole else force_n
        calm = self.tracker.phase in _CALM or not self.cues.trusted
        force = self.shoe.take(t_s, force_n, gather=calm and self.panel is None) if whole else force_n
        if self.panel is not None:
            force = only_panel(force, self.layout, self.panel)
        feet = feet_of(force, self.layout, self._least_n)
        share = lead_share(feet, self.stance.lead, self.stander.nobody_n) if self.panel is None else math.nan
        signals: list[str] = []
        was_back = self.stander.back
        if self.stander.take(t_s, feet, calm=self.tracker.phase in _CALM, known=self.ready):
            self._forget()
        if whole:
            self._find_feet(t_s, force, feet, signals, calm=calm, came_back=self.stander.back and not was_back)
        if calm and whole:
            self._learn(t_s)
        position, overall = self._positions(feet)
        weights = feet.total_n / self.stander.weight_n
        toes = position[self.stance.trail] - position[self.stance.lead]
        tracked = self.tracker.step(
            t_s,
            share if self.ready or self.stander.back else math.nan,
            strike_s=strike_s,
            strike_peak=strike_peak,
            weights=weights,
            toes=toes,
        )
        if self.panel is not None:
            tracked = Tracked(self._phase_of_foot(t_s, feet.force_n[self.panel], feet.u_mm[self.panel], overall))
        swing = tracked.ended or self.tracker.swing
        answer = self._answered(t_s, force, tracked, signals)
        out = set(self.cues.out)
        sizes = self._cues(t_s, tracked.phase, share, overall, position, feet)
        self.cues.log(t_s, sizes, swing, over=tracked.ended is not None)
        if tracked.ended is not None:
            if tracked.ended.kind is Kind.REHEARSAL:
                self._rehearsed_s = t_s
            signals.append("tick")
            said = (*said, *self._succeed(out, signals))
        there = not self.ready and feet.total_n >= self.stander.nobody_n
        said = (
            *said,
            *self._asking.rock(t_s, signals, due=there, struck=strike_s is not None and not strike_peak < OWN_LEAST),
        )
        if tracked.unseen_s is not None and self.panel is None:
            said = (*said, *self._asking.unseen(tracked.unseen_s, signals, faint=tracked.faint))
        centre = overall_centre(feet, self.stance, self.layout)
        return Live(
            t_s, force, feet, share, overall, position, centre, tracked.phase, sizes, tuple(signals), tracked.ended,
            answer, said, self.cues.now, tuple(sorted(out)) if tracked.ended is not None else (),
        )  # fmt: skip

    def _find_feet(
        self, t_s: float, force: NDArray[np.float64], feet: Feet, signals: list[str], *, calm: bool, came_back: bool
    ) -> None:
        """Looks for the footprints until they are known: by a rock, or by a golfer's coming back."""
        if came_back and self.panel is None and self.prints.take_over():
            self.shoe.take_over(_soles(self.prints.prints))
        elif (calm or not self.prints.taken_over) and self.prints.add(force, feet.u_mm):
            self.stander.found()
        else:
            return
        signals.append("ready")
        self._ready_s = t_s
        if self.panel is None:
            weight_n = self.stander.weight_n
            self._least_n = least_force_n(0.0 if math.isnan(weight_n) else weight_n)
        else:
            # What one foot carries is no body weight: the least force stays. The rock was slow: the cue may sound.
            self._one_foot.arm()

    def _succeed(self, out: set[str], signals: list[str]) -> tuple[str, ...]:
        """What a swing that has just ended changes in the bands; silent blocks change nothing."""
        changes = self.cues.over(out) if self.sounds else []
        if any(change.tighter for change in changes):
            signals.append("tightened")
        return tuple(change.sentence for change in changes)

    def _answered(self, t_s: float, force_n: NDArray[np.float64], tracked: Tracked, signals: list[str]) -> str | None:
        """An answer with the foot that is recognised in this frame."""
        prints = self.prints.prints
        swing = self.tracker.swing
        # Shifting onto the other foot looks like a backswing for a while: only impact shows that the next swing is one.
        struck = swing is not None and swing.impact is not None and swing.impact.source != "estimate"
        if self.panel is not None or prints is None or struck:
            self.answers.close()
            return None
        if tracked.ended is not None:
            self.answers.open(t_s, prints, self.stander.weight_n)
        answer = self.answers.look(t_s, force_n)
        if answer is not None:
            signals.append("undone" if answer == UNDO else "taken")
        return answer

    def doing(self, *, drill: bool, putting: bool) -> None:
        """What is being done from now on."""
        self.drills, self.tracker.putting = drill, putting

    def answers_again(self, t_s: float) -> None:
        """From now on the golfer may answer about the last swing once more: what came before was a guess."""
        if (prints := self.prints.prints) is not None:
            self.answers.open(t_s, prints, self.stander.weight_n)

    def _learn(self, t_s: float) -> None:
        """Learns the shoes once the footprints are known, and again for a while; it holds from the next frame on.

        One panel alone never sees the whole weight, so nothing can be learnt from it.
        """
        prints = self.prints.prints
        if (
            prints is None
            or self.panel is not None
            or t_s - self._ready_s > _LEARN_S
            or t_s - self._learnt_s < _LEARN_AGAIN_S
        ):
            return
        self._learnt_s = t_s
        self.shoe.solve(_soles(prints))

    def _forget(self) -> None:
        """Whoever stands there next may be another, or stand elsewhere."""
        self.stander.forget()
        self.prints.forget()
        self.shoe.forget()
        self._ready_s = self._learnt_s = -math.inf
        self._one_foot.forget()
        self._least_n = least_force_n(0.0)

    def _positions(self, feet: Feet) -> tuple[tuple[float, float], float]:
        prints = self.prints.prints
        if prints is None:
            return (math.nan, math.nan), math.nan
        left, right = (
            mark.position(u) if mark is not None else math.nan for mark, u in zip(prints, feet.u_mm, strict=True)
        )
        sums = [(f * p, f) for f, p in zip(feet.force_n, (left, right), strict=True) if not math.isnan(p)]
        weight = sum(force for _, force in sums)
        return (left, right), (sum(moment for moment, _ in sums) / weight if weight > 0 else math.nan)

    def _phase_of_foot(self, t_s: float, force_n: float, u_mm: float, position: float) -> Phase:
        """What one foot tells: it is not ready, it stands as before ("setup"), or it does something else."""
        if not self.ready:
            self._one_foot.gather(t_s, force_n, u_mm)
            return Phase.AWAY
        self._one_foot.watch(t_s, force_n, u_mm, inside=position <= self.cues.bands.toes_setup)
        return Phase.SETUP if self._one_foot.armed else Phase.STANDING

    def _cues(
        self, t_s: float, phase: Phase, share: float, overall: float, position: tuple[float, float], feet: Feet
    ) -> CueSizes:
        weights = feet.total_n / self.stander.weight_n
        if not self.ready or self.answers.tapping or (self.tracker.putting and phase not in _CALM):
            self.cues.watch(t_s, phase, self.tracker.swing, share=share, overall=overall, weights=weights)
            return SILENT
        self.cues.patient = self.drills
        self.tracker.watch_finish(_HELD_S if self.drills and self.cues.book.rule("finish").on else 0.0)
        self.cues.rehearsing = self.drills or t_s - self._rehearsed_s <= _REHEARSES_S
        sizes = self.cues.sizes(
            t_s,
            phase,
            self.tracker.swing,
            share=share,
            overall=overall,
            lead_foot=position[self.stance.lead],
            sure=self.tracker.sure,
            slow=self.tracker.slow,
            lead_out_mm=OUTWARDS[self.stance.lead] * feet.v_mm[self.stance.lead],
            weights=weights,
        )
        return sizes if self.sounds else SILENT


def _soles(prints: tuple[Footprint | None, Footprint | None] | None) -> tuple[tuple[float, float], tuple[float, float]]:
    """Heel and toe edges of both feet, mm."""
    assert prints is not None
    left, right = ((mark.heel_mm, mark.toe_mm) for mark in prints if mark is not None)
    return left, right
