"""The studies by name.

A study takes the number of seeds (None: its own) and returns its figures, a dict that prints; the key "ok" says whether
every figure is what is asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any


@dataclass(frozen=True)
class Named:
    """A study of the list.

    Attributes
    ----------
    place : str
        "module:function", imported when it is asked for.
    about : str
        What it tells, a line.
    long : bool
        It takes many minutes, so "all" leaves it out.
    """

    place: str
    about: str
    long: bool = False

    def function(self) -> Callable[[int | None], dict[str, Any]]:
        """The study itself."""
        module, name = self.place.split(":")
        function: Callable[[int | None], dict[str, Any]] = getattr(import_module(module), name)
        return function


STUDIES: dict[str, Named] = {
    "wire": Named("studies.wire:study_wire", "decoding a frame, and finding it in a stream of bytes"),
    "hostile": Named("studies.hostile:study_hostile", "changed bytes and files put to every reader", True),
    "guided": Named("studies.guided:study_guided", "inputs that coverage guides, put to every reader (atheris)", True),
    "mishaps": Named("studies.mishaps:study_mishaps", "kills, disks, clocks, cables, bytes: docs/faults.md", True),
    "beside": Named("studies.beside:study_beside", "beside what people would take: docs/benchmarks.md", True),
    "network": Named("studies.network:study_network", "the network inverse: exactness and time, against dense solves"),
    "scan": Named("studies.scan:study_scan", "the scan's time by design: its instructions counted"),
    "settle": Named("studies.settle:study_settle", "settle time and readings a value against the scan's time"),
    "strike-sensor": Named("studies.strike_sensor:study_strike_sensor", "strikes timed, and what is taken for one"),
    "live": Named("studies.live:study_live", "message to cue decision; memory; demo sessions over the firmware"),
    "disconnects": Named("studies.disconnects:study_disconnects", "a thousand lost links, by cable and radio", True),
    "endurance": Named("studies.endurance:study_endurance", "two hours at 200 Hz: frames and memory", True),
    "commission": Named("studies.commission:study_commission", "wiring mistakes found and named", True),
    "films": Named("studies.films:study_films", "films pooled: placements spared on mats that were not pooled", True),
    "calibration-fit": Named("studies.calibration_fit:study_calibration_fit", "how long the fit of a bench run takes"),
    "calibration": Named("studies.calibration:study_calibration", "all parts of the calibration below", True),
    "calibration-ordinary": Named("studies.calibration:study_ordinary", "mats as they are expected, in shoes", True),
    "calibration-hard": Named("studies.calibration:study_hard", "mats whose cells differ by 40 %", True),
    "calibration-standing": Named("studies.calibration:study_standing", "calibrated by standing alone", True),
    "calibration-ageing": Named("studies.calibration:study_ageing", "the check of aged, good and ruined mats", True),
    "calibration-coverage": Named("studies.calibration:study_coverage", "whether stated uncertainties hold", True),
    "calibration-without-pads": Named("studies.calibration:study_without_pads", "crossings without pads", True),
    "as-they-come": Named("studies.as_they_come:study_as_they_come", "films, hands and golfers as they come", True),
    "elsewhere": Named("studies.elsewhere:study_elsewhere", "a mat and golfers of another hand, by the commands", True),
    "findings": Named("studies.findings:study_findings", "findings and their odds on wide golfers", True),
    "film-causes": Named("studies.film_causes:study_film_causes", "what of a wide film's error is from where", True),
    "page": Named("studies.page:study_page", "the page: time, size, colours"),
    "record": Named("studies.record:study_record", "recording beside the live loop; an hour read; a large library"),
    "desks": Named("studies.academy:study_desks", "eight desks of an academy file at once, cut and killed", True),
    "remeasure": Named("studies.academy:study_remeasure", "all sessions measured anew, one worker against two", True),
    "sound": Named("studies.sound:study_sound", "loudness, peak, clicks, what tells the cues apart"),
    "underruns": Named("studies.underruns:study_underruns", "how often the sound card ran dry in two hours", True),
    "strikes": Named("studies.strikes:study_strikes", "links claimed where there are none, and found where there are"),
    "evidence": Named("studies.evidence:study_evidence", "what lessons of chained swings claim, and find", True),
    "evidence-lessons": Named("studies.evidence:study_lessons", "its part before and after", True),
    "evidence-links": Named("studies.evidence:study_links", "its part of links and pairs", True),
    "evidence-mats": Named("studies.evidence_mats:study_mats", "its part of the mat's own doubt", True),
    "feel": Named("studies.feel:study_feel", "intervals of feel, strikes foretold, a plan a week later", True),
    "learn-swings": Named("studies.learn_swings:study_learn_swings", "what speaks for a swing, learnt anew", True),
    "stranger-balls": Named("studies.stranger_balls:study_stranger_balls", "golfers of another model, bad mats", True),
    "balls": Named("studies.balls:study_balls", "every struck ball of wide golfers, every drill", True),
    "intervals": Named("studies.intervals:study_intervals", "whether stated intervals meet the truth", True),
    "swings": Named("studies.swings:study_swings", "swings, events, findings and their odds", True),
    "window": Named("studies.window:study_window", "how busy and how quick the window is"),
    "practice": Named("studies.practice:study_practice", "cues that must sound, and answers with the foot", True),
    "mutants": Named(
        "studies.mutants:study_mutants", "small faults in the code, and which of them the tests find", True
    ),
}
