"""Practice on the twin: do the cues sound when they must, and are answers with the foot read rightly."""

from __future__ import annotations

import math
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from studies.practice_sessions import Played, draw_session, play
from studies.practice_truth import Wanted, wanted

MEANT = {"lead toe": "toe", "lead heel": "heel", "trail heel": "fat", "trail foot": "fat", "trail toe": "thin"}
"""What each tap says."""

# An answer is told this long after its touch at the latest, s.
_TOLD_S = 0.4
# A tone that began no more than this before its part of the swing belongs to it, s.
_EARLY_S = 0.2
# After a swing's end a tone may still belong to it for so long, s.
_AFTER_S = 0.1


@dataclass
class Counts:
    """What came of some sessions. `onsets_s` by cue and part: how late each tone began."""

    swings: int = 0
    ticks: int = 0
    seconds: float = 0.0
    must: Counter[str] = field(default_factory=Counter)
    heard: Counter[str] = field(default_factory=Counter)
    inside: Counter[str] = field(default_factory=Counter)
    false: Counter[str] = field(default_factory=Counter)
    onsets_s: dict[str, list[float]] = field(default_factory=dict)
    between: int = 0
    taps: int = 0
    right: int = 0
    invented: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, other: Counts) -> None:
        """Takes the counts of other sessions in."""
        for name in ("swings", "ticks", "seconds", "between", "taps", "right", "invented"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("must", "heard", "inside", "false"):
            getattr(self, name).update(getattr(other, name))
        for name, late in other.onsets_s.items():
            self.onsets_s.setdefault(name, []).extend(late)
        self.wrong += other.wrong


def study_practice(seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for.

    Parameters
    ----------
    seeds : int, optional
        Sessions of ten swings without an answer (100); half as many with one after each, a tenth of slow rehearsals.
    """
    count = seeds or 100
    jobs = [("plain", seed) for seed in range(count)]
    jobs += [("taps", seed) for seed in range(max(1, count // 2))]
    jobs += [("slow", seed) for seed in range(max(1, count // 10))]
    of: dict[str, Counts] = {name: Counts() for name, _ in jobs}
    with ProcessPoolExecutor(2) as pool:
        for (name, _), counts in zip(jobs, pool.map(_job, jobs, chunksize=2), strict=True):
            of[name].add(counts)
    return figures_of(of["plain"], of["taps"], of["slow"])


def figures_of(plain: Counts, taps: Counts, slow: Counts) -> dict[str, Any]:
    """The counts as they are printed."""
    both = Counts()
    both.add(plain)
    both.add(taps)
    out: dict[str, Any] = {"swings": both.swings, "ticks": both.ticks}
    cues = _cue_figures(both)
    read = taps.right / max(taps.taps, 1)
    rate = 1000 * plain.invented / max(plain.swings, 1)
    out["cues"] = cues
    out["tones between swings"] = f"{both.between} in {both.seconds / 3600:.2f} h"
    slowly = {"swings": slow.swings, "ticks (one that hangs has none)": slow.ticks} | _cue_figures(slow)
    slowly.pop("ok")
    out["slow rehearsals, two to four times slower"] = slowly
    out["answers with the foot read rightly (0.98 asked)"] = f"{read:.3f} ({taps.right} of {taps.taps})"
    out["answers invented in 1,000 swings without one (5 at most)"] = f"{rate:.1f} ({plain.invented})"
    out["answers invented beside the true ones"] = taps.invented
    out["answers read wrongly"] = taps.wrong
    out["ok"] = cues["ok"] and read >= 0.98 and rate <= 5.0
    return out


def _cue_figures(counts: Counts) -> dict[str, Any]:
    must, inside = sum(counts.must.values()), sum(counts.inside.values())
    sounded = sum(counts.heard.values()) / max(must, 1)
    false = sum(counts.false.values()) / max(inside, 1)
    out: dict[str, Any] = {
        "drifts beyond the tolerance that were heard (0.98 asked)": f"{sounded:.3f} of {must}",
        "heard inside the band (0.02 at most)": f"{false:.3f} of {inside}",
        "each (heard, of, false, of)": {
            name: (counts.heard[name], counts.must[name], counts.false[name], counts.inside[name])
            for name in sorted({*counts.must, *counts.inside})
        },
    }
    late_ok = True
    for name, late in sorted(counts.onsets_s.items()):
        if late:
            middle, most = 1e3 * np.median(late), 1e3 * np.percentile(np.abs(late), 95)
            share = float(np.mean(np.abs(late) <= 0.0401))
            out[f"{name}: onset after the true one, median, 95 % of the size, ms; within 40 ms (0.95)"] = (
                f"{middle:.0f}, {most:.0f}; {share:.3f} of {len(late)}"
            )
            late_ok = late_ok and bool(share >= 0.95)
    out["ok"] = sounded >= 0.98 and false <= 0.02 and late_ok
    return out


def _job(job: tuple[str, int]) -> Counts:
    what, seed = job
    session = draw_session(seed, taps=what == "taps", slow=what == "slow")
    counts = counted(play(seed, session))
    golfer = session.golfer
    counts.wrong = [f"seed {seed}, {golfer.mass_kg:.0f} kg, {golfer.sole}: {text}" for text in counts.wrong]
    return counts


def counted(played: Played) -> Counts:
    """Sets what was heard and read against what was true."""
    known = played.known
    counts = Counts(len(known.swings), played.ticks, float(known.t_s[-1]))
    for swing in known.swings:
        for want in wanted(known, swing, played.lead, played.frame_s):
            _judge(counts, played, want)
    counts.between = _between(played)
    _answers(counts, played)
    return counts


def _judge(counts: Counts, played: Played, want: Wanted) -> None:
    name = f"{want.cue}, {want.part}"
    first_s, last_s = want.span_s
    overlapping = [
        (begin, end)
        for begin, end in played.sounds.get(want.cue, [])
        if begin < last_s and end > first_s + 2 * played.frame_s
    ]
    if want.must:
        counts.must[name] += 1
        counts.heard[name] += bool(overlapping)
        # What has been sounding for longer was out before, and its onset is another part's.
        late = [want.late_s(begin) for begin, _ in overlapping if begin >= want.onset_s - _EARLY_S]
        if late:
            counts.onsets_s.setdefault(name, []).append(min(late, key=abs))
    elif want.must is False:
        counts.inside[name] += 1
        counts.false[name] += any(begin >= first_s - _EARLY_S for begin, _ in overlapping)


def _between(played: Played) -> int:
    """Tones that begin outside of every swing and setup."""
    spans = [(s.setup_s, s.impact_s + 1.3 * s.slow + _AFTER_S) for s in played.known.swings]
    return sum(
        not any(begin <= at <= end for begin, end in spans) for sounds in played.sounds.values() for at, _ in sounds
    )


def _answers(counts: Counts, played: Played) -> None:
    left = list(played.answers)
    for tap in played.taps:
        mine = [each for each in left if tap.begin_s < each[0] < tap.end_s + _TOLD_S]
        left = [each for each in left if each not in mine]
        counts.taps += 1
        if [answer for _, answer in mine] == [MEANT[tap.place]]:
            counts.right += 1
        else:
            read = ", ".join(answer for _, answer in mine) or "nothing"
            rest = "" if math.isclose(tap.rest, 0.0) else f", {100 * tap.rest:.0f} % resting"
            counts.wrong.append(f"{tap.place} with {100 * tap.force:.0f} % of the weight{rest} at {tap.begin_s:.1f} s "
                                f"read as {read}")  # fmt: skip
    counts.invented = len(left)
