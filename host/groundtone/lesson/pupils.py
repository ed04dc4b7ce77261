"""The pupils of a library as a coach looks for them: last time, what was found, the drill, and what was kept."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from groundtone.cue.personal import Personal, read_personal
from groundtone.errors import RulesError
from groundtone.lesson.drills import drills_for, words_of
from groundtone.lesson.outside import main_fault, of_role, outside
from groundtone.lesson.wording import words
from groundtone.record.library import Library
from groundtone.review.library_reader import sessions_of
from groundtone.review.swings import BlockRows, RecordedSession, balls


@dataclass(frozen=True)
class PupilLine:
    """A pupil, or a walk-in whom nobody has named.

    Attributes
    ----------
    name : str
        Empty: a walk-in; `lesson` tells which.
    last : str
        When the last session began, ISO 8601; empty without one.
    finding, found : str
        Name of what the last lesson was about, and its counts in words; empty where nothing stood out.
    drill : str
        Title of the drill for it.
    kept : str
        From the last test of the lesson before to the first baseline of the last one; empty with one lesson.
    swings : int
        At a ball, in the last lesson.
    club, lie : str
        Of the last block.
    paths : tuple of Path
        Recordings of the last lesson.
    shoe_mm, stance_mm, flare_deg
        As the library and the pupil's own file have them; None: as usual.
    """

    name: str
    hand: str
    lesson: str = ""
    last: str = ""
    finding: str = ""
    found: str = ""
    drill: str = ""
    kept: str = ""
    swings: int = 0
    club: str = ""
    lie: str = ""
    lessons: int = 0
    paths: tuple[Path, ...] = ()
    shoe_mm: float | None = None
    stance_mm: float | None = None
    flare_deg: tuple[float, float] | None = None


def pupil_lines(library: Library) -> list[PupilLine]:
    """Everybody, the last one who was here first."""
    out: list[PupilLine] = []
    for known in library.golfers():
        name, hand = known.golfer.name, known.golfer.hand
        groups: dict[str, list[RecordedSession]] = {}
        for seen in sessions_of(library, name) if known.recordings else []:
            groups.setdefault(seen.lesson, []).append(seen)
        if name:
            own = _own(name)
            line = _line(name, hand, list(groups.values()))
            shoe_mm = known.golfer.shoe_mm
            out.append(replace(line, shoe_mm=shoe_mm, stance_mm=own.stance_mm, flare_deg=own.flare_deg))
        else:
            out += [_line("", hand, [sessions]) for sessions in groups.values()]
    return sorted(out, key=lambda line: (line.last, line.name.casefold()), reverse=True)


def _own(name: str) -> Personal:
    try:
        return read_personal(name)
    except RulesError:
        # Whoever practises with it is told so; here it must not hide everybody.
        return Personal(name)


def _line(name: str, hand: str, lessons: list[list[RecordedSession]]) -> PupilLine:
    if not lessons:
        return PupilLine(name, hand)
    last = lessons[-1]
    blocks = [block for seen in last for block in seen.blocks]
    rows = [row for block in blocks for row in block.swings]
    fault = main_fault(of_role(blocks, "baseline") or rows)
    found = drill = kept = ""
    if fault is not None:
        after = outside(of_role(blocks, "test"), fault.name)
        found = f"{fault.words}, then {after.words} in the test" if after.of else fault.words
        drill = words_of(drills_for(fault.name)[0], words("en")).title
    if len(lessons) > 1:
        kept = kept_words([block for seen in lessons[-2] for block in seen.blocks], blocks)
    block = next((b for b in reversed(blocks) if b.swings), None)
    return PupilLine(
        name, hand, last[0].lesson, last[0].started, fault.name if fault else "", found, drill, kept, len(balls(rows)),
        block.club if block else "", block.lie if block else "", len(lessons), tuple(seen.path for seen in last),
    )  # fmt: skip


def kept_words(before: list[BlockRows], now: list[BlockRows]) -> str:
    """What was kept from the end of a lesson to the beginning of the next, in counts; empty where it cannot be told."""
    first = of_role(now, "baseline")
    end = of_role(before, "test")
    about = main_fault(of_role(before, "baseline") or end) or main_fault(first)
    if about is None or not first or not end:
        return ""
    return f"{outside(end, about.name).words}, now {outside(first, about.name).words}"
