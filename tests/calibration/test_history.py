"""What creep makes of placements: by hand in steps, against the live memory run over the same loads, and end to end."""

import math

import numpy as np
import pytest

from groundtone.calibration.fitting.capture import Placement
from groundtone.calibration.fitting.film_memory import CreepMemory, grown, kept_part, step_response, told
from groundtone.calibration.fitting.fit import film_from_placements
from groundtone.errors import CalibrationError

C = 0.04


def place(force, t_s, *, falling=False, drift=0.02, peak_n=math.nan, peak_s=1.0, after_s=0.7, cell=(3, 2)):
    return Placement(*cell, force, np.zeros((4, 4)), slice(0, 1), falling, drift, peak_n=peak_n, peak_s=peak_s,
                     t_s=t_s, after_s=after_s)  # fmt: skip


def test_by_hand():
    s = lambda t: step_response(C, t)  # noqa: E731
    up = place(20.0, 10.0)
    on_top = place(60.0, 15.0, drift=math.nan)
    down = place(20.0, 20.0, falling=True, drift=math.nan, peak_n=60.0, peak_s=5.0)
    out = grown([down, up, on_top], C)
    assert out[1] == pytest.approx(s(0.7), rel=1e-12)
    assert out[2] == pytest.approx((20 * s(5.7) + 40 * s(0.7)) / 60, rel=1e-12)
    assert out[0] == pytest.approx((20 * s(10.7) + 40 * s(5.7) - 40 * s(0.7)) / 20, rel=1e-12)
    # A fresh one on the same cell, lifted in between: half-way between what was read and what came.
    again = place(30.0, 30.0)
    lifted = (10.7 + 30.0) / 2
    expected = (20 * s(30.7 - 10.0) - 20 * s(30.7 - lifted) + 30 * s(0.7)) / 30
    assert grown([up, again], C)[1] == pytest.approx(expected, rel=1e-12)
    # Another cell remembers nothing of it.
    assert grown([up, place(30.0, 30.0, cell=(0, 0))], C)[1] == pytest.approx(s(0.7), rel=1e-12)
    np.testing.assert_array_equal(grown([up, on_top, down], 0.0), 1.0)


def test_without_times_it_is_from_rest_or_from_the_peak():
    s = lambda t: step_response(C, t)  # noqa: E731
    alone = place(20.0, math.nan)
    down = place(60.0, math.nan, falling=True, drift=math.nan, peak_n=180.0, peak_s=2.0)
    out = grown([alone, down], C)
    assert out[0] == pytest.approx(s(0.7), rel=1e-12)
    assert out[1] == pytest.approx(s(0.7) + 3 * (s(2.7) - s(0.7)), rel=1e-12)


@pytest.mark.parametrize("exponent", [1.0, 1.1])
def test_a_peak_that_is_told_counts_with_a_time_as_without(exponent):
    down = [place(60.0, t_s, falling=True, drift=math.nan, peak_n=180.0, peak_s=2.0) for t_s in (30.0, math.nan)]
    timed, untimed = (grown([one], C, exponent)[0] for one in down)
    assert timed == pytest.approx(untimed, rel=1e-12)


def test_a_weight_was_lifted_before_the_next_one_lay_anywhere():
    s = lambda t: step_response(C, t)  # noqa: E731
    first, elsewhere, again = place(60.0, 10.0), place(60.0, 13.0, cell=(0, 0)), place(30.0, 50.0)
    lifted = (10.7 + 13.0) / 2
    expected = (60 * s(50.7 - 10.0) - 60 * s(50.7 - lifted) + 30 * s(0.7)) / 30
    assert grown([first, elsewhere, again], C)[2] == pytest.approx(expected, rel=1e-12)


def test_it_is_the_conductance_that_remembers():
    s = lambda t: step_response(C / 1.1, t)  # noqa: E731
    down = place(60.0, math.nan, falling=True, drift=math.nan, peak_n=180.0, peak_s=2.0)
    expected = (s(0.7) + 3 ** (1 / 1.1) * (s(2.7) - s(0.7))) ** 1.1
    assert grown([down], C, 1.1)[0] == pytest.approx(expected, rel=1e-12)
    up, after = place(180.0, 10.0), place(60.0, 20.0, falling=True, drift=math.nan, peak_n=180.0)
    more, less = 180 ** (1 / 1.1), 60 ** (1 / 1.1)
    expected = ((more * s(10.7) - (more - less) * s(0.7)) / less) ** 1.1
    assert grown([up, after], C, 1.1)[1] == pytest.approx(expected, rel=1e-12)


def test_the_live_memory_takes_out_what_this_puts_in():
    """Readings by the formula at the moments of a stack; the memory, fed every 20 ms, must give the weights back."""
    stack = [(0.0, 20.0), (5.0, 60.0), (9.0, 150.0), (14.0, 60.0)]
    t = np.arange(1, 901) * 0.02
    reading = np.zeros(t.size)
    before = 0.0
    for at, force in stack:
        on = t > at
        reading[on] += (force - before) * np.array([step_response(C, v) for v in t[on] - at])
        before = force
    memory = CreepMemory(C, (1,))
    memory.force_n(0.0, np.zeros(1))
    live = np.array([memory.force_n(float(a), np.array([r]))[0] for a, r in zip(t, reading, strict=True)])
    made = [place(f, at, drift=0.02 if i == 0 else math.nan, falling=i == 3, peak_n=150.0 if i == 3 else math.nan)
            for i, (at, f) in enumerate(stack)]  # fmt: skip
    for p, factor in zip(made, grown(made, C), strict=True):
        i = round((p.t_s + 0.7) / 0.02) - 1
        assert reading[i] == pytest.approx(p.force_n * factor, rel=1e-9)
        assert live[i] == pytest.approx(p.force_n, rel=2e-3)


def run(rows=10, columns=6, seed=1, c=C, arch=0.08):
    """A sparse plan by a known law: every cell once, eight cells in stacks up and down; memory and loop put in."""
    rng = np.random.default_rng(seed)
    level = rng.normal(math.log(35.0), 0.25, (rows, columns))
    plan, t = [], 0.0
    sample = [(r, k) for r in (1, 4, 6, 8) for k in (1, 4)]
    for cell in np.ndindex(rows, columns):
        if cell not in sample:
            plan.append((cell, [(60.0, False)]))
    plan += [(cell, [(f, False) for f in (10.0, 30.0, 60.0, 120.0, 220.0)] + [(60.0, True)]) for cell in sample]
    made = []
    for cell, stack in plan:
        own = []
        for i, (force, falling) in enumerate(stack):
            t += 6.0
            own.append(Placement(*cell, force, np.zeros((rows, columns)), slice(0, 1), falling,
                                 math.nan if i else 0.0, peak_n=220.0 if falling else math.nan, t_s=t))  # fmt: skip
        for p, factor in zip(own, grown(own, c, 1.1), strict=True):
            excess = math.exp(arch * (1 - p.force_n / 220.0)) if p.falling else 1.0
            reads = p.force_n * factor * excess * math.exp(0.01 * rng.standard_normal())
            p.conductance_s[cell] = 100e-6 * math.exp((math.log(reads) - level[cell]) / 1.1)
            drift = math.log(step_response(c, 0.825) / step_response(c, 0.25)) / math.log10(0.825 / 0.25) / 1.1
            made.append(Placement(**{**vars(p), "drift": drift if p is own[0] else math.nan}))
        t += 3.0
    return made, level


@pytest.mark.parametrize("seed", [1, 2])
def test_a_film_from_placements_alone(seed):
    made, level = run(seed=seed)
    result = film_from_placements(made, 10, 6)
    assert result.film.creep == pytest.approx(C, abs=0.004)
    assert result.film.kept == 1.0  # nothing was told of lifts
    assert result.film.arch == pytest.approx(0.08, abs=0.012)
    assert result.film.curves.exponent == pytest.approx(1.1, abs=0.02)
    g = 100e-6 * np.exp((math.log(80.0) - level) / 1.1)
    # The curves are those of forces without creep: 80 N that have just come.
    error = np.log(result.film.curves.force_n(g) / 80.0)
    assert abs(np.median(error)) < 0.008
    assert error.std() < 0.02
    assert result.placements == len(made) == 100
    assert result.missing == ()
    assert result.film.highest_n == pytest.approx(220.0, rel=0.02)
    np.testing.assert_allclose(result.film.level_u, np.hypot(0.01, 0.01), rtol=0.7)


def test_dead_cells_are_left_out_and_known():
    made, _ = run()
    dead = ((0, 0), (4, 1))
    for p in made:
        if (p.row, p.column) in dead:
            p.conductance_s[:] = 0.0
    with pytest.raises(CalibrationError, match="row 0, column 0 read nothing"):
        film_from_placements(made, 10, 6)
    result = film_from_placements(made, 10, 6, dead=dead)
    assert result.film.dead == dead
    assert result.placements == 100 - 1 - 6
    assert np.isfinite(result.film.curves.level).all()


def added(t_s):
    """What creep of one a decade adds by a time: nine time constants from 10^-1.25 s in half decades."""
    return sum(1 - math.exp(-t_s / 10 ** (-1.25 + 0.5 * i)) for i in range(9)) / 2


def test_what_is_kept_and_what_acts_on_the_gain_by_hand():
    """A quarter of 0.08 is kept; exponent 1.25, gain grown as (1 + 0.5 c g)^2 since the cell was loaded."""
    s = lambda t: 1 + 0.08 * 0.25 / 1.25 * added(t)  # noqa: E731
    gain = lambda t: (1 + 0.5 * 0.08 * 0.75 / 1.25 * added(t)) ** 2  # noqa: E731
    a, b, c = 20**0.8, 60**0.8, 30**0.8

    def of(*placements):
        return grown(placements, 0.08, 1.25, 0.25, 0.5).tolist()

    alone, down = place(20.0, math.nan), place(60.0, math.nan, falling=True, peak_n=180.0, peak_s=2.0)
    assert of(alone, down) == pytest.approx([
        (s(0.7) * gain(0.7)) ** 1.25, ((s(0.7) + 3**0.8 * (s(2.7) - s(0.7))) * gain(2.7)) ** 1.25,
    ], rel=1e-12)  # fmt: skip
    assert of(place(60.0, 30.0, falling=True, peak_n=180.0, peak_s=2.0)) == pytest.approx(of(down), rel=1e-12)
    # 20 N, 40 more on top, lifted at 17 s; 30 N, taken for fresh, and 30 more on top of those.
    top = place(60.0, 15.0, drift=math.nan)
    top = Placement(**{**vars(top), "lifted_s": 17.0})
    seen = of(place(20.0, 10.0), top, place(30.0, 30.0), place(60.0, 35.0, drift=math.nan))
    fresh = a * s(20.7) + (b - a) * s(15.7) - b * s(13.7) + c * s(0.7)
    last = a * s(25.7) + (b - a) * s(20.7) - b * s(18.7) + c * s(5.7) + (b - c) * s(0.7)
    assert seen == pytest.approx([
        (s(0.7) * gain(0.7)) ** 1.25, ((a * s(5.7) + (b - a) * s(0.7)) / b * gain(5.7)) ** 1.25,
        (fresh / c * gain(0.7)) ** 1.25, (last / b * gain(5.7)) ** 1.25,
    ], rel=1e-12)  # fmt: skip


def lifts(parts, starts, share=0.2):
    """A load every ten seconds on a cell of its own, lifted after three, a part of it kept; one more ends them."""
    before = {i: np.full((9, 9), 1e-6) for i in range(len(parts) + 1)}
    out = []
    for i, (part, start) in enumerate(zip(parts, starts, strict=True)):
        reading = np.full((9, 9), 1e-6)
        reading[i, 0] += start * (1 + share * added(0.7))
        before[i + 1][i, 0] += part * start * share * (added(10.0) - added(7.0))
        out.append(Placement(i, 0, 50.0, reading, slice(0, 1), False, 0.02, t_s=10.0 * i, after_s=0.7,
                             before_s=before[i], lifted_s=10.0 * i + 3))  # fmt: skip
    end = len(parts)
    return [*out, Placement(end, 0, 50.0, np.full((9, 9), 1e-4), slice(0, 1), False, 0.02, t_s=10.0 * end,
                            before_s=before[end])]  # fmt: skip


def test_the_kept_part_by_hand():
    """Light loads count not at all; of the heavy ones the middle, and how far they lie from it (1.4826 a deviation)."""
    made = lifts([0.2, 5.0, 0.3, 5.0, 0.5, 5.0, 0.6, 5.0], [1e-4, 2e-5] * 4)
    kept, u = kept_part(made, 0.2)
    assert (kept, u) == pytest.approx((0.4, 1.25 * 1.4826 * 0.15 / 2), rel=1e-9)
    assert kept_part(made[::-1], 0.2) == (kept, u)  # any order
    # What was not lifted alone, or not seen, tells nothing: each of these would be a heavy load that kept much.
    for i, blind in enumerate((
        {"falling": True}, {"drift": math.nan}, {"lifted_s": math.nan}, {"lifted_s": 90.0, "t_s": 80.0},
        {"t_s": math.nan}, {"before_s": None},
    )):  # fmt: skip
        wild = lifts([9.0], [1e-3])[0]
        wild = Placement(**{**vars(wild), "row": 8, "t_s": 80.0 + 0.01 * i, "lifted_s": 80.5, **blind})
        late = [Placement(**{**vars(made[-1]), "t_s": 80.0, "lifted_s": math.nan}), wild]
        late.append(Placement(**{**vars(made[-1]), "t_s": 90.0, "before_s": np.full((9, 9), 1e-3)}))
        assert kept_part([*made[:-1], *late], 0.2) == pytest.approx((kept, u), rel=1e-9), blind


@pytest.mark.parametrize(("part", "kept"), [(-0.5, 0.0), (0.7, 0.7), (3.0, 1.0)])
def test_no_less_than_nothing_and_no_more_than_all_is_kept_and_six_lifts_tell(part, kept):
    assert kept_part(lifts([part] * 6, [1e-4] * 6), 0.2)[0] == pytest.approx(kept)
    five, u = kept_part(lifts([part] * 5, [1e-4] * 5), 0.2)
    assert math.isnan(five)
    assert math.isinf(u)
    assert [told(u) for u in (0.0, 0.2, 0.21, math.inf)] == [True, True, False, False]
