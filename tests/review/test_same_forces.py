"""The replay path gives the live path's forces on the same frames, and a block's forces are those frame by frame."""

import dataclasses

import numpy as np
import pytest

from groundtone.calibration.film import Film, ForceMeter
from groundtone.calibration.fitting.film_memory import CreepMemory
from groundtone.calibration.fitting.hysteresis import HysteresisMemory
from groundtone.calibration.force_curve import typical_curves
from groundtone.calibration.profile import Profile, profile_text, read_profile, write_profile
from groundtone.engine.live import LiveEngine
from groundtone.errors import ProfileError
from groundtone.link.twin_link import TwinLink
from groundtone.mat.conductance import ConductanceMeter
from groundtone.mat.layout import layout_of
from groundtone.pressure.feet import centres
from groundtone.record.reader import open_recording
from groundtone.record.recorder import begin
from groundtone.review.measured import film_forces, film_of, force_blocks, measure, strikes_of
from groundtone.review.settings import stance_in
from groundtone.review.stated import NO_BUDGET
from groundtone.twin.scenario import GolferSpec, MatSpec, Scenario, Session, SwingSpec
from groundtone.wire.codec import encode
from groundtone.wire.messages import NO_U, NO_V, Feet
from studies.record import about_of

ONE = Scenario(
    MatSpec.reference(seed=4),
    Session(GolferSpec(), (SwingSpec("toe_drift"),), seed=2, empty_s=0.5, rocks=1, rock_s=2.0, setup_s=1.5),
)


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    """One swing of the twin, recorded while the live engine follows it; its file and the live forces."""
    path = tmp_path_factory.mktemp("same") / "one.mcap"
    layout = layout_of(ONE.mat.layout)
    film = Film(typical_curves(layout.rows, layout.columns), creep=0.025, arch=0.08)
    profile = Profile(ONE.mat.uid, layout.id, layout.digest, "2026-01-01", (20.0,), 0.01, film, "invented")
    told = about_of(ONE, profile)
    told = dataclasses.replace(told, settings=dataclasses.replace(told.settings, rate_hz=100.0))
    recorder = begin(path, told)
    forces, shares, t_s = [], [], []
    conductance, film_meter = ConductanceMeter(layout), ForceMeter(film)
    with TwinLink(ONE, fast=True) as link:
        link.start(100)
        engine = LiveEngine(layout, film, stance_in(told.settings))
        for item in link.frames():
            if item is None:
                break
            recorder.frame(item)
            forces.append(film_meter.force_n(item.device_us * 1e-6, conductance.measure(item.frame)))
            shares.append(engine.take_frame(item.frame, item.device_us).share)
            t_s.append(item.device_us * 1e-6)
    recorder.close()
    return path, np.array(t_s), np.array(forces), profile, np.array(shares)


def test_forces_from_the_file_are_the_live_ones(session):
    path, t_s, live, _, _ = session
    got = open_recording(path)
    assert got.lost == []
    film, guessed = film_of(got)
    assert guessed == ""
    forces = film_forces(got.frames, got.layout, film)
    assert (np.isnan(forces) == np.isnan(live)).all()
    assert np.nanmax(live) > 50
    # Both inverses stop at 1e-6; a newton more or less of none.
    np.testing.assert_allclose(forces, live, rtol=2e-6, atol=2e-6)
    assert got.frames.t_s == pytest.approx(t_s)


def test_the_series_of_the_file_weighs_the_golfer_and_has_the_strike(session):
    path, _, live, _, shares = session
    measured = measure(open_recording(path))
    weight = np.nanmedian(measured.series.weight_n)
    assert weight == pytest.approx(80 * 9.80665, rel=0.04)
    (strike,) = strikes_of(measured.recording.frames)
    assert measured.series.strikes == (strike,)
    both = np.isfinite(shares) & np.isfinite(measured.series.share) & (np.nansum(live, axis=(1, 2)) > 500)
    # The shoes are learnt on both paths, live from the next frame on and here for the whole stand.
    assert np.percentile(np.abs(shares - measured.series.share)[both], 95) < 0.03
    assert np.count_nonzero(both) > 500


def test_blocks_of_any_size_give_every_frame_once_and_in_order(session, monkeypatch):
    path, _, live, _, _ = session
    got = open_recording(path)
    film, _ = film_of(got)
    whole = np.concatenate(list(force_blocks(got.frames, got.layout, film)))
    assert whole.shape == live.shape
    # What the shoes and the empty mat make of them is little; an order lost would be much.
    loaded = np.nansum(live, axis=(1, 2)) > 300
    difference = np.nansum(whole[loaded], axis=(1, 2)) / np.nansum(live[loaded], axis=(1, 2)) - 1
    assert np.max(np.abs(difference)) < 0.2
    monkeypatch.setattr("groundtone.review.measured._BLOCK", 333)
    monkeypatch.setattr("groundtone.review.shoes.LEARN_S", 4.0)
    parts = np.concatenate(list(force_blocks(got.frames, got.layout, film)))
    assert parts.shape == live.shape
    assert np.nanmax(np.abs(np.nansum(parts, axis=(1, 2)) - np.nansum(whole, axis=(1, 2)))) < 0.1 * 80 * 9.81


def test_another_profile_measures_anew_and_no_profile_is_said(session, tmp_path):
    path, _, _, profile, _ = session
    got = open_recording(path)
    louder = dataclasses.replace(
        profile.film, curves=dataclasses.replace(profile.film.curves, level=profile.film.curves.level + np.log(2))
    )
    write_profile(tmp_path / "p.json", dataclasses.replace(profile, film=louder))
    film, guessed = film_of(got, tmp_path / "p.json")
    assert film.curves.level == pytest.approx(profile.film.curves.level + np.log(2), abs=1e-5)
    assert guessed == ""
    without = dataclasses.replace(got, about=dataclasses.replace(got.about, profile_text=None))
    _, guessed = film_of(without)
    assert guessed.startswith("one.mcap was recorded without a profile: forces are a guess from the typical film")
    assert measure(without).doubts == [guessed]
    # This one's levels have no uncertainty: what its class leaves is taken, and said.
    assert measure(without, tmp_path / "p.json").doubts == [NO_BUDGET.format("with weights")]
    write_profile(tmp_path / "q.json", dataclasses.replace(profile, uid="another"))
    with pytest.raises(ProfileError, match="belongs to mat another"):
        film_of(got, tmp_path / "q.json")
    broken = dataclasses.replace(got, about=dataclasses.replace(got.about, profile_text=profile_text(profile)[:-20]))
    with pytest.raises(ProfileError, match=r"the profile in one\.mcap is damaged"):
        film_of(broken)
    assert read_profile(tmp_path / "p.json").uid == got.about.hello.uid


def loads(seed, frames=300, cells=(3, 4)):
    """Forces that come, stay, go and turn; with gaps in time."""
    rng = np.random.default_rng(seed)
    t_s = np.cumsum(rng.choice([0.01, 0.0101, 0.5, 9.0], frames, p=[0.6, 0.38, 0.015, 0.005]))
    walk = np.cumsum(rng.normal(0, 12, (frames, *cells)), axis=0)
    reading = np.clip(walk, 0, 400) + rng.normal(0, 0.3, walk.shape)
    return t_s, reading


def by_frames(meter, t_s, reading):
    return np.stack([meter.force_n(float(t), r) for t, r in zip(t_s, reading, strict=True)])


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("block", [1, 37, 300])
def test_creep_and_hysteresis_of_blocks(seed, block):
    t_s, reading = loads(seed)
    reading[:, 0, 1] = np.nan  # a cell without a curve
    if seed % 2:
        reading[100:130, 2, 2] = np.nan  # one that comes and goes
    cuts = [slice(i, i + block) for i in range(0, len(t_s), block)]
    one, many = CreepMemory(0.05, reading.shape[1:]), CreepMemory(0.05, reading.shape[1:])
    steady = by_frames(one, t_s, reading)
    np.testing.assert_allclose(np.concatenate([many.forces_n(t_s[c], reading[c]) for c in cuts]), steady, rtol=1e-9)
    assert np.nanmax(np.abs(steady - reading)) > 5  # creep did something
    frame, blocks = HysteresisMemory(0.2, reading.shape[1:]), HysteresisMemory(0.2, reading.shape[1:])
    wanted = np.stack([frame.force_n(r) for r in steady])
    got = np.concatenate([blocks.forces_n(steady[c]) for c in cuts])
    np.testing.assert_array_equal(got, wanted)
    assert np.nanmax(np.abs(wanted - steady)) > 2


def test_force_meter_of_blocks(session):
    _, t_s, _, profile, _ = session
    rng = np.random.default_rng(3)
    conductance = np.abs(np.cumsum(rng.normal(0, 4e-6, (200, 16, 8)), axis=0))
    conductance[0] = np.nan
    one, many = ForceMeter(profile.film), ForceMeter(profile.film)
    t_s = t_s[:200]
    wanted = by_frames(one, t_s, conductance)
    got = np.concatenate([many.forces_n(t_s[c : c + 64], conductance[c : c + 64]) for c in range(0, 200, 64)])
    np.testing.assert_allclose(got, wanted, rtol=1e-9, atol=1e-9)


def told_by(item, force_n, layout):
    """A frame as it comes where the mat tells feet: its message in place of its cells."""
    force, u, v = (each[0] for each in centres(force_n[None], layout, 30.0))
    along = np.nan_to_num(256 * (u / layout.row_pitch_mm - 0.5), nan=NO_U)
    across = np.nan_to_num(64 * (v / layout.column_pitch_mm - 0.5), nan=NO_V)
    feet = np.stack([8 * np.maximum(force, 0.0), along, across], axis=1).round().astype(int)
    message = Feet(0, item.frame.seq, item.frame.t_us, *feet.ravel().tolist())
    return dataclasses.replace(item, feet=message, raw=encode(message))


def test_what_the_mat_told_of_feet_is_on_the_soles_in_review_as_it_was_live(tmp_path):
    scenario = dataclasses.replace(ONE, mat=MatSpec.reference(seed=6), act=dataclasses.replace(ONE.act, rock_s=6.0))
    layout = layout_of(scenario.mat.layout)
    film = Film(typical_curves(layout.rows, layout.columns), creep=0.025, arch=0.08)
    told = about_of(scenario, Profile(scenario.mat.uid, layout.id, layout.digest, "2026-01-01", (20.0,), 0.01, film))
    recorder, live, factors = begin(tmp_path / "feet.mcap", told), [], []
    conductance, meter = ConductanceMeter(layout), ForceMeter(film)
    engine = LiveEngine(layout, film, stance_in(told.settings))
    with TwinLink(scenario, fast=True) as link:
        link.start(100)
        for item in link.frames():
            if item is None:
                break
            force_n = meter.force_n(item.device_us * 1e-6, conductance.measure(item.frame))
            sent = told_by(item, force_n, layout) if engine.ready else item
            recorder.frame(sent)
            share = engine.take_frame(sent.frame, sent.device_us, sent.feet).share
            live.append(share if sent.feet is not None else np.nan)
            factors += [engine.shoe.result.factor] if engine.shoe.result is not None else []
    recorder.close()
    # The shoes make a difference between the feet that must not be lost.
    left, right = layout.by_panel(factors[-1]).mean((-2, -1))
    assert right / left > 1.05
    reviewed = measure(open_recording(tmp_path / "feet.mcap")).series.share
    apart = np.abs(reviewed - np.array(live))
    assert np.isfinite(apart).sum() > 500
    assert np.nanmedian(apart) < 0.003
