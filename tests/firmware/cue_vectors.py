"""Vectors of phases and tones: what golfers of the twin do, in the board's units, and what the host's rules make of it.

`python tests/firmware/cue_vectors.py` writes tests/vectors/cues.npz anew, after the rules have changed.
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from groundtone.cue.heard_cues import HeardCues
from groundtone.cue.rulefile import default_rules
from groundtone.onboard.pack import CUES, limits_of
from groundtone.swing.events import Phase
from groundtone.swing.phasing import PhaseFollower

FILE = Path(__file__).parents[1] / "vectors" / "cues.npz"
ONE, NOTHING = 1 << 14, -32768
SESSIONS = ((6, False, 100), (7, False, 200), (3, False, 100), (5, True, 100))
"""Seed, slow rehearsals, frames a second."""
FRAMES = 4200
PHASES = list(Phase)


def book():
    """The program's own rules, heels too."""
    own = default_rules()
    return replace(own, rules=tuple(replace(rule, on=rule.on or rule.name == "heels") for rule in own.rules))


def heard(numbers, strikes, period):
    """What the computer's rules say of frames, (n, 5): phase, whether a swing ended, and the size of each cue.

    Parameters
    ----------
    numbers : (n, 5) array of int16
        Share, overall position, the lead foot's, force in body weights, the trail foot's position less the lead foot's.
    strikes : dict
        Frame to moment, tenths of a millisecond.
    period : int
        Of a frame, tenths of a millisecond.
    """
    follower, cues = PhaseFollower(), HeardCues(book())
    cues.rehearsing = False
    values = np.where(numbers == NOTHING, np.nan, numbers / ONE)
    out = np.zeros((len(values), 2 + len(CUES)), np.int16)
    for i, (share, overall, lead_foot, weights, toes) in enumerate(values.tolist()):
        t_s = (i + 1) * period * 1e-4
        strike = strikes.get(i)
        tracked = follower.step(
            t_s, share, strike_s=None if strike is None else strike * 1e-4, weights=weights, toes=toes, own=True
        )
        follower.done += tracked.ended is not None
        sizes = cues.sizes(
            t_s, tracked.phase, tracked.ended or follower.swing, share=share, overall=overall, lead_foot=lead_foot,
            sure=follower.sure, slow=follower.slow, weights=weights,
        )  # fmt: skip
        out[i] = (
            PHASES.index(tracked.phase),
            tracked.ended is not None,
            *(round(sizes.get(name, 0.0) * ONE) for name in CUES),
        )
    return out


def drawn(seed, slow, rate_hz):
    """Frames of a drawn session in the board's units, and its strikes."""
    from groundtone.engine.live import LiveEngine
    from groundtone.mat.layout import LEFT, RIGHT, layout_of
    from groundtone.pressure.feet import Stance
    from groundtone.twin.loads import GolferLoads
    from groundtone.twin.scenario import MatSpec, Scenario
    from studies import practice_sessions as practice
    from studies.measuring import film_of, forces

    session = practice.draw_session(seed, taps=False, slow=slow)
    scenario = Scenario(MatSpec.reference(seed=seed % 6), session)
    film, golfer = film_of(seed % 6), session.golfer
    lead = LEFT if golfer.hand == "right" else RIGHT
    engine = LiveEngine(layout_of(scenario.mat.layout), film, Stance(lead, golfer.stance_mm, 0.0, golfer.flare_deg))
    struck = [t for t, _ in GolferLoads(scenario.mat, session).curves.strikes] if seed % 2 else []
    rows, strikes, period, last_s = [], {}, 10_000 // rate_hz, -1.0
    for times, block in forces(scenario, film, float(rate_hz)):
        for t_s, force in zip(times.tolist(), block, strict=True):
            live = engine.take_forces(t_s, force)
            for at in (at for at in struck if last_s < at <= t_s):
                strikes[len(rows)] = round((len(rows) + 1) * period - (t_s - at) * 1e4)
            last_s = t_s
            known = engine.ready
            toes = live.position[1 - lead] - live.position[lead]
            weights = live.feet.total_n / engine._weight_n
            rows.append([live.share if known else math.nan, live.overall, live.position[lead], weights, toes])
            if len(rows) == FRAMES * rate_hz // 100:
                return np.array(rows), strikes, period
    return np.array(rows), strikes, period


def board_units(rows):
    """As 16-bit numbers."""
    scaled = np.round(np.array(rows) * ONE)
    return np.where(np.isnan(scaled), NOTHING, np.clip(scaled, -32767, 32767)).astype(np.int16)


def limits():
    """The rules as the board has them, one list of numbers a band."""
    return [[getattr(x, name) for name in x.__dataclass_fields__] for x in limits_of(book())[0]]


def main():
    kept = {}
    for k, each in enumerate(SESSIONS):
        rows, strikes, period = drawn(*each)
        numbers = board_units(rows)
        kept |= {
            f"numbers{k}": numbers,
            f"strikes{k}": np.array(sorted(strikes.items()), np.int32).reshape(-1, 2),
            f"period{k}": np.array(period),
            f"heard{k}": heard(numbers, strikes, period),
        }
    np.savez_compressed(FILE, **kept)


def load():
    """Of each session: numbers, strikes, period, heard."""
    with np.load(FILE) as kept:
        return [
            (kept[f"numbers{k}"], dict(kept[f"strikes{k}"].tolist()), int(kept[f"period{k}"]), kept[f"heard{k}"])
            for k in range(len(SESSIONS))
        ]


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))
    main()
