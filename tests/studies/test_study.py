"""A study mat by mat: kept, gone on with, by its own code only; and the judges of the calibration study."""

import json
import os
import signal

import distributed
import numpy as np
import pytest

from studies import calibration, study
from studies.calibration_jobs import AGED, AGED_CHECK, NONE, ROUND, STOOD, also_beside
from studies.mats import golfer_of, limits

NAN = float("nan")
DONE, SPREAD = [], study._spread


def job(seed):
    DONE.append(seed)
    return {"square": seed * seed, "pair": (seed, NAN)}


@pytest.fixture(autouse=True)
def in_this_process(monkeypatch):
    """Processes of their own are Python's business; what is kept is ours."""
    DONE.clear()
    monkeypatch.setattr(study, "_spread", lambda job, seeds: ((seed, job(seed)) for seed in seeds))


def test_a_study_goes_on_where_it_was(tmp_path, monkeypatch):
    monkeypatch.setenv(study.FOLDER, str(tmp_path))
    first = study.study("some mats", job, range(1, 4))
    assert (first.seeds, first.asked, first.whole) == ((1, 2, 3), 3, True)
    # Plain values come back as JSON gives them, kept or not.
    assert first.results[1]["square"] == 4
    assert first.results[1]["pair"][0] == 2
    more = study.study("some mats", job, range(2, 6))
    assert DONE == [1, 2, 3, 4, 5]
    assert [r["square"] for r in more.results] == [4, 9, 16, 25]


def test_a_study_runs_on_a_cluster(monkeypatch):
    with distributed.LocalCluster(n_workers=1, processes=False, dashboard_address=None, silence_logs=50) as cluster:
        monkeypatch.setenv(study.CLUSTER, cluster.scheduler_address)
        assert sorted(SPREAD(job, [2, 3])) == [(2, job(2)), (3, job(3))]
        assert len(DONE) == 4


def test_what_other_code_has_made_is_made_anew(tmp_path, monkeypatch):
    monkeypatch.setenv(study.FOLDER, str(tmp_path))
    study.study("some mats", job, range(1, 3))
    path = tmp_path / "some-mats.jsonl"
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    assert {line["digest"] for line in lines} == {study.made_by()}
    lines[0]["digest"] = "of another day"
    # The last line was being written when the power went.
    path.write_text(json.dumps(lines[0]) + "\n" + json.dumps(lines[1]) + "\n" + '{"seed": 3, "res')
    study.study("some mats", job, range(1, 4))
    assert DONE == [1, 2, 1, 3]


def test_cut_it_tells_what_there_is(monkeypatch, capsys):
    def cut(seed):
        if seed == 3:
            raise KeyboardInterrupt
        return seed

    monkeypatch.delenv(study.FOLDER, raising=False)
    found = study.study("some mats", cut, range(1, 6))
    assert (found.seeds, found.results, found.asked, found.whole) == ((1, 2), (1, 2), 5, False)
    assert "cut after 2 of 5" in capsys.readouterr().err


def test_a_part_that_was_cut_is_the_last(monkeypatch):
    told = []

    def part(name, figures):
        return lambda seeds: told.append((name, seeds)) or figures

    parts = {"ordinary set": part("a", {"mats": "3 of 3", "ok": True}), "coverage": part("b", {"ok": True})}
    monkeypatch.setattr(calibration, "PARTS", parts)
    assert calibration.study_calibration(3) == {
        "asked": calibration.ASKED, "ordinary set: mats": "3 of 3", "ordinary set: ok": True, "coverage: ok": True,
        "ok": True,
    }  # fmt: skip
    assert told == [("a", 3), ("b", 30)]
    told.clear()
    parts["ordinary set"] = part("a", {"mats": "1 of 3", calibration.CUT: True, "ok": False})
    assert calibration.study_calibration()["ok"] is False
    assert told == [("a", None)]


def test_a_process_that_is_told_to_end_tells_what_there_is(monkeypatch):
    """The signal that `timeout` and a computer that shuts down send."""
    monkeypatch.delenv(study.FOLDER, raising=False)
    before = signal.getsignal(signal.SIGTERM)

    def ended(seed):
        if seed == 2:
            os.kill(os.getpid(), signal.SIGTERM)
        return seed

    assert study.study("some mats", ended, range(1, 4)).results == (1,)
    assert signal.getsignal(signal.SIGTERM) is before


def test_a_fifth_of_the_mats_with_every_golfer_tells_what_stands_beside():
    some = [seed for seed in range(1, 101) if also_beside(seed)]
    assert len(some) == 20
    assert {golfer_of(seed).mass_kg for seed in some} == {30.0, 50.0, 75.0, 110.0}
    assert {golfer_of(seed).hand for seed in some} == {"right", "left"}
    assert {golfer_of(seed).sole for seed in some} == {"plain", "studded", "soft"}


def rows(times, way, count=20):
    """Mats on which a way's errors are so many times what is asked for, the last mat twice as much."""
    seeds = tuple(range(1, count + 1))
    return seeds, [
        {way: (np.array(limits(golfer_of(seed))) * times * (2 if seed == count else 1)).tolist()} for seed in seeds
    ]


def test_met_by_95_of_100():
    seeds, mats = rows(0.9, ROUND)
    assert calibration.meets(mats, ROUND, seeds)
    assert not calibration.meets(mats[-10:], ROUND, seeds[-10:])
    assert not calibration.meets(mats, ROUND, seeds, 0.8)
    line = calibration.table(mats, seeds)[ROUND]
    # Nineteen of twenty; between 0.9 and 1.8 the 95th percentile lies 0.05 of the way, at 0.945.
    assert "met by 95 %, 95th at 0.95 of it" in line


def test_a_way_that_some_mats_have_is_told_of_those():
    seeds, mats = rows(0.5, ROUND, 4)
    mats[2][NONE] = [60.0, 0.12, 30.0, 40.0]
    assert list(calibration.table(mats, seeds)) == [ROUND, f"{NONE} (1 mats)"]


def test_half_and_worse_than_none():
    _, mats = rows(1.0, AGED)
    for row in mats:
        row[AGED_CHECK] = [0.4 * v for v in row[AGED]]
        row[NONE], row[STOOD] = row[AGED], [0.5 * v for v in row[AGED]]
    assert calibration.ratio(mats, AGED_CHECK, AGED) == [0.4] * 4
    assert calibration.worse_than_none(mats) == [0, 0, 0, 0]
    mats[3][STOOD] = [v * (3 if i == 2 else 1) for i, v in enumerate(mats[3][STOOD])]
    assert calibration.worse_than_none(mats) == [0, 0, 1, 0]


def test_inside_the_interval():
    assert calibration.inside(np.array([[0.1, 0.06], [-0.1, 0.06], [0.1, 0.04], [0.0, 0.001]])) == 0.75
