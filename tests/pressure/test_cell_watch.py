"""Cells that die, drift or stick while somebody stands there, and a club on the mat: from true forces of the twin."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from groundtone.mat.layout import layout_of
from groundtone.pressure.cell_watch import CellWatch, filled_doubt
from groundtone.twin.loads import GolferLoads
from groundtone.twin.scenario import Doing, GolferSpec, MatSpec, Session, SwingSpec

LAYOUT = layout_of("reference-16x4")
CELL = (11, 2)  # under the ball of the left foot
DIES_S = 20.0


@cache
def session(leant_n=0.0, seed=3):
    """Times and forces of somebody who rocks round, waits restlessly and swings twice; 100 frames a second."""
    doings = tuple(Doing(kind, 5.0, before) for before in (0, 1) for kind in ("shift", "stand", "mill", "hop"))
    act = Session(GolferSpec(), (SwingSpec(), SwingSpec()), seed=seed, rocks=2, rock_share_sway=0.35, doings=doings)
    loads = GolferLoads(MatSpec.reference(seed=seed), replace(act, leant_n=leant_n))
    force = loads.film_forces(0, loads.steps)[::4]
    rng = np.random.default_rng(seed)
    return loads.curves.t_s[::4], force + 0.05 * rng.standard_normal(force.shape)


def watched(t_s, force):
    """The watch, what it said and when, and the mended frames."""
    watch, said, out = CellWatch(LAYOUT), [], []
    for t, frame in zip(t_s.tolist(), force, strict=True):
        said += [(t, sentence) for sentence in watch.take(t, frame)]
        out.append(watch.mended(frame))
    return watch, said, np.array(out)


def share(force):
    return force[:, :, :4].sum((1, 2)) / np.maximum(force.sum((1, 2)), 1.0)


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_nothing_is_said_of_a_mat_on_which_all_cells_live(seed):
    watch, said, out = watched(*session(seed=seed))
    assert (said, watch.ill) == ([], [])
    np.testing.assert_array_equal(out, session(seed=seed)[1])


def test_a_cell_that_dies_is_noticed_said_once_and_filled():
    t_s, force = session()
    true = force.copy()
    force = force.copy()
    force[t_s > DIES_S, CELL[0], CELL[1]] = 0.0
    watch, said, out = watched(t_s, force)
    assert [(each.row, each.column, each.what) for each in watch.ill] == [(*CELL, "dead")]
    assert len(said) == 1
    assert DIES_S + 1.4 < said[0][0] < DIES_S + 12.0
    assert "row 11, column 2 of the left panel reads nothing any more" in said[0][1]
    late = (t_s > said[0][0]) & (true.sum((1, 2)) > 300)
    lost = np.abs(share(force[late]) - share(true[late]))
    left = np.abs(share(out[late]) - share(true[late]))
    assert left.mean() < 0.5 * lost.mean(), (left.mean(), lost.mean())


def test_what_filling_leaves_open_is_carried():
    _t_s, force = session()
    there = force[force.sum((1, 2)) > 300]
    u, place = filled_doubt((CELL,), there, LAYOUT)
    mean = np.maximum(there, 0.0).mean(0)
    foot = mean[:, :4].sum()
    assert u == pytest.approx(0.4 * mean[CELL] * (1 - foot / mean.sum()) / mean.sum(), rel=1e-9)
    assert 0.002 < place < 0.05
    assert filled_doubt((), there, LAYOUT) == (0.0, 0.0)


@pytest.mark.parametrize("times", [8.0, 0.12])
def test_a_cell_that_drifts_is_noticed(times):
    t_s, force = (np.concatenate(parts) for parts in zip(session(), (session()[0] + 200.0, session()[1]), strict=True))
    force = force.copy()
    force[t_s > 150.0, CELL[0], CELL[1]] *= times
    watch, said, _ = watched(t_s, force)
    assert [(each.row, each.column, each.what) for each in watch.ill] == [(*CELL, "drifting")]
    assert "quite otherwise" in said[0][1]


def test_a_cell_that_sticks_is_noticed_on_the_empty_mat():
    t_s, force = session()
    force = force.copy()
    force[:, CELL[0], CELL[1]] += 30.0
    watch, _said, out = watched(t_s, force)
    assert [(each.row, each.column, each.what) for each in watch.ill] == [(*CELL, "stuck")]
    assert out[int(1.4 * 100)].sum() < 5.0


def test_a_club_of_8_n_is_no_foot_and_left_out():
    t_s, plain = session()
    _, force = session(leant_n=8.0)
    watch, said, out = watched(t_s, force)
    assert watch.ill == []
    assert [round(t, 1) for t, _ in said] == [pytest.approx(1.2, abs=0.3)]
    assert "Something of about 8 N lies on the right panel" in said[0][1]
    there = plain.sum((1, 2)) > 300
    assert np.abs(share(force[there]) - share(plain[there])).max() > 0.004
    assert np.abs(share(out[there]) - share(plain[there])).max() < 0.002


@pytest.mark.parametrize("begin", [0, 3000], ids=["of who was there before", "of who has just left"])
def test_what_the_film_keeps_of_who_has_left_is_nothing_that_lies_there(begin):
    """A fortieth of what each cell carried, slowly less."""
    t_s, force = session()
    stood = force[(t_s > 12.0) & (t_s < 20.0)].mean(0)
    after_s = np.arange(0.0, 6.0, 0.01)
    kept = 0.025 * stood * (1.0 - 0.2 * np.log10(1.0 + after_s))[:, None, None]
    if begin:
        kept[:, :, 4:] = 0.0  # of one foot alone
    assert 4.0 < np.where(kept[-1] > 0.7, kept[-1], 0.0).sum() < 20.0
    watch, said, _ = watched(np.concatenate([t_s[:begin], t_s[begin] + after_s]), np.concatenate([force[:begin], kept]))
    assert (said, watch.lying_n.any()) == ([], False)


def test_who_takes_it_off_the_mat_meanwhile_has_it_no_longer_left_out():
    t_s, plain = session()
    force = np.where((t_s < 15.0)[:, None, None], session(leant_n=8.0)[1], plain)
    out = watched(t_s, force)[2]
    np.testing.assert_allclose(out[t_s > 16.0], plain[t_s > 16.0])


def test_a_recording_is_mended_as_it_was_live():
    t_s, force = session()
    force = force.copy()
    force[t_s > DIES_S, CELL[0], CELL[1]] = 0.0
    force[:, 14, 6] += 6.0
    _, _, live = watched(t_s, force)
    watch = CellWatch(LAYOUT)
    blocks = [watch.take_block(t_s[i : i + 700], force[i : i + 700]) for i in range(0, len(t_s), 700)]
    np.testing.assert_allclose(np.concatenate(blocks), live)
