"""The check before a lesson, led step by step; the verdict and its reasons, kept where the command keeps them."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from typing import Any

from groundtone.app.calibration.check_run import RATE_HZ, figures, wanted
from groundtone.app.mat import OpenMat
from groundtone.app.window.mats import CHECK
from groundtone.app.window.modes.mode import Courier, Mode, Tell
from groundtone.app.window.views import Said, Verdict, Wanted
from groundtone.calibration.checking.check_log import append_check, kept_from
from groundtone.calibration.checking.check_steps import ORDER, CheckRun, Step
from groundtone.calibration.own_profile import checks_path, own_profile
from groundtone.errors import CalibrationError, GroundtoneError, sentence_of
from groundtone.files import try_place
from groundtone.gravity import STANDARD_GRAVITY
from groundtone.link.base import Gap, Stamped
from groundtone.mat.conductance import ConductanceMeter
from groundtone.wire.messages import Event

# A common change of this size with a stated mass is asked about.
_MASS_DOUBT = 0.08


@dataclass(frozen=True)
class CheckWish:
    """What is known of the pupil.

    Attributes
    ----------
    mass_kg, mark_kg : float or None
        Of the pupil with all they wear; of a known weight for the marks.
    hand : str
        "right", "left" or empty.
    """

    mass_kg: float | None = None
    mark_kg: float | None = None
    hand: str = ""


class Check(Mode):
    """One check; ends by itself."""

    name, purpose, rate_hz = "check", CHECK, RATE_HZ

    def __init__(self, wish: CheckWish) -> None:
        self._wish = wish
        self._finished = False

    def begin(self, mat: OpenMat, tell: Tell, courier: Courier) -> None:
        """See `Mode.begin`."""
        super().begin(mat, tell, courier)
        hello, wish = mat.link.hello, self._wish
        profile, self._path = own_profile(hello, mat.layout)
        if profile is None:
            raise CalibrationError(
                f"mat {hello.name} has no profile: calibrate it once (groundtone calibrate standing takes a minute)"
            )
        try_place(checks_path(self._path))
        self._profile = profile
        mark_n = None if wish.mark_kg is None else wish.mark_kg * STANDARD_GRAVITY
        self._marks = mark_n is not None
        self._check = CheckRun(mat.layout, self._profile.film, mass_kg=wish.mass_kg, mark_n=mark_n)
        self._meter = ConductanceMeter(mat.layout)
        self._shown: tuple[str, int] | None = None

    def take(self, item: Stamped | Event | Gap | None) -> bool:
        """See `Mode.take`."""
        if not isinstance(item, Stamped):
            return False
        now = self._check.step(item.device_us * 1e-6, self._meter.measure(item.frame))
        want = wanted(now, self._marks)
        shown = (want.words, round(100 * want.progress))
        if shown != self._shown:
            self._shown = shown
            steps = [s for s in ORDER if s is not Step.DONE and (self._marks or not s.name.startswith("MARK"))]
            at = steps.index(now.step) if now.step in steps else len(steps)
            self.tell(Wanted(want.words, want.sentence, want.progress, tuple(s.value for s in steps), at))
        self._finished = now.step is Step.DONE
        return self._finished

    def end(self) -> Any:
        """See `Mode.end`: tells the verdict; True where there is one."""
        if not self._finished:
            self._none("The check was ended before it was done: nothing was kept.")
            return False
        try:
            result = self._check.result()
        except GroundtoneError as error:
            self._none(sentence_of(error))
            return False
        sentences = [(finding.text, finding.bad) for finding in result.findings]
        mass = self._wish.mass_kg
        if mass is not None and abs(result.common) >= _MASS_DOUBT and math.isfinite(result.mass_kg):
            alone = mass / (1.0 + result.common)
            sentences.append((f"{mass:.1f} kg were stated, and by its calibration the mat says {alone:.0f} kg: if that "
                "is not this pupil's mass, check again with the right one", True))  # fmt: skip
        date = datetime.datetime.now().astimezone().isoformat(timespec="seconds")
        try:
            kept = kept_from(result, self._profile.film, date, self._profile, self._wish.hand)
            append_check(checks_path(self._path), kept)
        except GroundtoneError as error:
            self.tell(Said(sentence_of(error), bad=True, about="check"))
        shown = tuple((sentence_of(text), bad) for text, bad in sentences)
        self.tell(Verdict(result.verdict.words, result.verdict.value, figures(result), shown))
        return True

    def _none(self, why: str) -> None:
        self.tell(Verdict("no verdict", 3, "", ((why, True),)))
