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
from groundtone.calibration.checking.check_result import CheckResult, Finding
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
        self._shape = mat.layout.rows, mat.layout.columns
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
        rows, columns = self._shape
        sentences = [(_placed(finding, rows, columns), finding.bad) for finding in result.findings]
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
        self.tell(Verdict(result.verdict.words, result.verdict.value, figures(result), shown, worth(result)))
        return True

    def _none(self, why: str) -> None:
        self.tell(Verdict("no verdict", 3, "", ((why, True),)))


def place_words(row: int, column: int, rows: int, columns: int) -> str:
    """A cell by its place under the foot, for whoever stands there.

    Examples
    --------
    >>> place_words(0, 0, 10, 6), place_words(9, 3, 10, 6), place_words(5, 1, 10, 6)
    ('left heel, outer edge', 'right toes, inner edge', 'left middle')
    """
    half = columns // 2
    foot, across = ("left", column) if column < half else ("right", column - half)
    third = min(2, 3 * row // rows)
    outer = across == (0 if foot == "left" else half - 1)
    inner = across == (half - 1 if foot == "left" else 0)
    edge = ", outer edge" if outer else ", inner edge" if inner else ""
    return f"{foot} {('heel', 'middle', 'toes')[third]}{edge}"


def _placed(finding: Finding, rows: int, columns: int) -> str:
    places = list(dict.fromkeys(place_words(*cell, rows, columns) for cell in finding.cells))
    return f"{' and '.join(places).capitalize()}: {finding.text}" if 0 < len(places) <= 2 else finding.text


def worth(result: CheckResult) -> tuple[tuple[str, str, str], ...]:
    """What today's numbers are worth to a coach, at 95 %; nothing where no figures could be made."""
    if not math.isfinite(result.share_u):
        return ()
    doubts = 100 * result.share_u, result.along_u_mm, 100 * result.foot_u
    share, along, foot = (math.ceil(2 * each) for each in doubts)
    points = "1 point" if share == 1 else f"{share} points"
    return (
        ("Lead share", f"good to {points}", f"{share + 1} points or more: a change."),
        ("Heel to toe", f"good to {along} mm", f"{along + 1} mm or more: a change."),
        ("Force of a foot", f"good to {foot} %", "Compare no newtons." if foot > 10 else "Newtons may be compared."),
    )
