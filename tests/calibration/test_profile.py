"""The profile file: written whole or not at all, read back as it was, and refused when anything in it is wrong."""

import dataclasses
import hashlib
import importlib.metadata
import json
import math
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groundtone.calibration.film import Film
from groundtone.calibration.fitting.fit_notes import FitNotes, Made
from groundtone.calibration.force_curve import Curves
from groundtone.calibration.profile import Profile, read_profile, write_profile
from groundtone.errors import ProfileError
from groundtone.mat.layout import EARLIER_SERIES_OHM, layout_of
from groundtone.wire.messages import Hello

LAYOUT = layout_of("starter-10x3")
HELLO = Hello(1, (0, 1, 0), "0011223344556677", 10, 6, 14, 16, 1, 200, 0, 0, "board", LAYOUT.id, "garage")
LEVEL = np.round(np.random.default_rng(1).normal(3.6, 0.25, (10, 6)), 6)
COV = np.tile(np.array([[4e-4, 2.5e-5, 5e-5], [2.5e-5, 9e-4, -1e-4], [5e-5, -1e-4, 2e-4]]), (10, 6, 1, 1))
LOOP = np.full((10, 6), 0.045)
LOOP[3, 2] = np.nan
NOTES = FitNotes(
    "power with saturation", {"power": 0.031, "power with saturation": 0.019},
    COV, 0.25, np.array([0.044, 0.046]), LOOP, np.array([0.012, 0.014]), np.full((10, 6), 0.013),
    ("weigh again: ½ of it",), (Made(9, 5, 60.5, False, -0.012, 1.0), Made(0, 0, 20.0, True, 0.4, 0.05)),
)  # fmt: skip
LEVEL_U = np.full((10, 6), 0.0125)
PROFILE = Profile(
    "0011223344556677", LAYOUT.id, LAYOUT.digest, "2030-01-02T03:04:05+00:00", (20.0, 60.5, 180.0), 0.013,
    Film(
        Curves(LEVEL, 1.17, -0.003, -2.5, 1.6, 4.75e-3, 2e-7), 0.026, 0.09, LEVEL_U,
        np.array([[1e-4, -2e-5], [-2e-5, 4e-4]]), 181.25, ((2, 3), (9, 5)), 0.125, 0.021, 0.003,
    ),
    "invented, at the Übungsplatz", ("2 kg", "jug", "20 kg"), 18.5, NOTES, "9.8.7",
)  # fmt: skip
OLD = Path(__file__).parent / "data" / "profile-schema-1.json"


def as_values(value):
    """Dataclasses and arrays as plain values that compare."""
    if dataclasses.is_dataclass(value):
        return {field.name: as_values(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, np.ndarray):
        return as_values(value.tolist())
    if isinstance(value, list | tuple):
        return [as_values(each) for each in value]
    return "nan" if isinstance(value, float) and math.isnan(value) else value


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "mat.json"
    write_profile(path, PROFILE)
    return path


def refused(path, says=None):
    """The sentence with which a file is refused."""
    with pytest.raises(ProfileError, match=says) as caught:
        read_profile(path)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert ": " in sentence
    return sentence


def test_round_trip(written):
    assert as_values(read_profile(written)) == as_values(PROFILE)
    assert os.listdir(written.parent) == ["mat.json"]


def test_a_person_can_read_it(written):
    content = json.loads(written.read_text("utf-8"))
    assert content["mat"] == "0011223344556677"
    assert content["weights N"] == [20.0, 60.5, 180.0]
    assert content["level"][9][5] == LEVEL[9, 5]
    assert "ln F = level" in content["curve"]


def test_a_row_of_cells_is_a_line(written):
    lines = written.read_text("utf-8").splitlines()
    assert f"  {json.dumps(LEVEL[9].tolist())}" in lines
    # What is kept of a placement: cell, weight, way, residual, trust.
    assert any(line.strip(" ,") == "[9, 5, 60.5, 0, -0.012, 1.0]" for line in lines)
    assert max(map(len, lines)) < 220


def test_a_profile_of_the_first_schema_is_read_as_it_was():
    old = read_profile(OLD)
    film = old.film
    assert (old.uid, old.layout) == ("0011223344556677", LAYOUT.id)
    # It is of a mat that was built when the rows had 100 Ω.
    assert LAYOUT.as_in(old.layout_digest) == dataclasses.replace(LAYOUT, series_ohm=EARLIER_SERIES_OHM) != LAYOUT
    np.testing.assert_array_equal(film.curves.level, LEVEL)
    assert (film.curves.exponent, film.curves.bend, film.creep, film.arch) == (1.17, -0.003, 0.026, 0.09)
    assert (film.curves.x_low, film.curves.x_high) == (-2.5, 1.6)
    assert math.isinf(film.curves.saturation_s)
    assert film.level_u is None
    assert film.highest_n == 180.0
    assert old.notes is None
    assert old.temperature_c is None
    old.check_mat(HELLO, LAYOUT)


def test_a_profile_of_the_first_schema_is_written_as_the_newest(tmp_path):
    old = read_profile(OLD)
    path = tmp_path / "mat.json"
    write_profile(path, old)
    assert json.loads(path.read_text("utf-8"))["groundtone profile"] == 5
    assert as_values(read_profile(path)) == as_values(old)


def test_a_damaged_file_of_the_first_schema(tmp_path):
    path = tmp_path / "mat.json"
    path.write_text(OLD.read_text("utf-8").replace("1.17", "1.18"))
    assert "damaged or was edited" in refused(path)


def test_the_program_that_writes_names_its_version(tmp_path):
    path = tmp_path / "mat.json"
    write_profile(path, dataclasses.replace(PROFILE, program=""))
    assert read_profile(path).program == importlib.metadata.version("groundtone")


def test_cells_without_a_curve_stay_so(tmp_path):
    level = LEVEL.copy()
    level[4, 4] = np.nan
    curves = dataclasses.replace(PROFILE.film.curves, level=level)
    path = tmp_path / "mat.json"
    write_profile(path, dataclasses.replace(PROFILE, film=dataclasses.replace(PROFILE.film, curves=curves)))
    assert np.isnan(read_profile(path).film.curves.level).nonzero() == (np.array([4]), np.array([4]))


def test_folders_on_the_way_are_made(tmp_path):
    path = tmp_path / "a" / "b" / "mat.json"
    write_profile(path, PROFILE)
    assert as_values(read_profile(path)) == as_values(PROFILE)


def test_levels_are_kept_to_a_millionth(tmp_path):
    level = np.random.default_rng(2).normal(3.6, 0.25, (10, 6))
    curves = dataclasses.replace(PROFILE.film.curves, level=level)
    path = tmp_path / "fine.json"
    write_profile(path, dataclasses.replace(PROFILE, film=dataclasses.replace(PROFILE.film, curves=curves)))
    np.testing.assert_allclose(read_profile(path).film.curves.level, level, atol=5.1e-7)


def test_truncated_at_any_byte(written):
    raw = written.read_bytes()
    assert raw.endswith(b"}\n")
    # Every byte of the head and of the end, and every 29th between.
    for size in [*range(400), *range(400, len(raw) - 200, 29), *range(len(raw) - 200, len(raw) - 1)]:
        written.write_bytes(raw[:size])
        assert "damaged" in refused(written)


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    """A path that may be overwritten, and the bytes of the good file."""
    path = tmp_path_factory.mktemp("profile") / "mat.json"
    write_profile(path, PROFILE)
    return path, path.read_bytes()


@settings(max_examples=400, deadline=None)
@given(data=st.data())
def test_any_byte_changed_is_refused_or_changes_nothing(once, data):
    path, good = once
    at, value = data.draw(st.integers(0, len(good) - 1)), data.draw(st.integers(0, 255))
    path.write_bytes(good[:at] + bytes([value]) + good[at + 1 :])
    try:
        assert as_values(read_profile(path)) == as_values(PROFILE)
    except ProfileError as error:
        assert "\n" not in str(error)


def test_a_changed_digit_is_refused(written):
    raw = written.read_bytes()
    digits = [i for i, byte in enumerate(raw) if chr(byte).isdigit()]
    assert len(digits) > 3000
    for at in digits[::11]:
        other = b"1" if raw[at : at + 1] != b"1" else b"2"
        written.write_bytes(raw[:at] + other + raw[at + 1 :])
        refused(written)


def resealed(path, change):
    """The file with something changed by a hand that knows the checksum."""
    content = json.loads(path.read_text("utf-8"))
    del content["checksum"]
    change(content)
    content["checksum"] = hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:16]
    path.write_text(json.dumps(content))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda c: c.update({"groundtone profile": 6}), "newer program"),
        (lambda c: c.update({"groundtone profile": 0}), "never wrote"),
        (lambda c: c.update({"groundtone profile": "1"}), "never wrote"),
        (lambda c: c.pop("level"), "lacks"),
        (lambda c: c.update(level=[[1.0, 2.0], [3.0]]), "lacks"),
        (lambda c: c.update(level=[1.0, 2.0]), "lacks"),
        (lambda c: c.update(level="flat"), "lacks"),
        (lambda c: c.pop("exponent"), "lacks"),
        (lambda c: c.update(exponent=float("nan")), "lacks"),
        (lambda c: c.update({"creep per decade": float("inf")}), "lacks"),
        (lambda c: c.update({"hysteresis arch": float("nan")}), "lacks"),
        (lambda c: c.update({"x range": [1.0]}), "lacks"),
        (lambda c: c.update({"weights N": None}), "lacks"),
        (lambda c: c.pop("mat"), "lacks"),
        (lambda c: c.update(exponent=-1.0), "lacks"),
        (lambda c: c.update({"saturation S": 0.0}), "lacks"),
        (lambda c: c.update({"level uncertainty": [[0.1]]}), "lacks"),
        (lambda c: c.update({"covariance of exponent and bend": [[0.1]]}), "lacks"),
        (lambda c: c.update(dead=[[10, 0]]), "lacks"),
        (lambda c: c.update(dead=[3]), "lacks"),
        (lambda c: c["fit"].pop("model"), "lacks"),
        (lambda c: c["fit"].update({"gain spread": "wide"}), "lacks"),
        (lambda c: c.update(fit=[]), "lacks"),
    ],
)
def test_a_file_that_lacks_something_is_refused(written, change, says):
    resealed(written, change)
    refused(written, says)


@pytest.mark.parametrize(
    ("raw", "says"),
    [(b"", "damaged"), (b"[1, 2]", "not a groundtone profile"), (b"{}", "not a groundtone profile"),
     (b"7", "not a groundtone profile"), (b"\xff\xfe\x00", "damaged"), (b"[" * 100_000, "damaged")],
)  # fmt: skip
def test_other_files_are_refused(written, raw, says):
    written.write_bytes(raw)
    refused(written, says)


def test_a_file_that_is_not_there_or_is_a_folder(tmp_path):
    assert "check its name" in refused(tmp_path / "none.json")
    assert "check its name" in refused(tmp_path)


def test_it_belongs_to_one_mat_and_one_layout():
    PROFILE.check_mat(HELLO, LAYOUT)
    with pytest.raises(ProfileError, match="belongs to mat 0011223344556677 and this is mat ffff"):
        PROFILE.check_mat(dataclasses.replace(HELLO, uid="ffff223344556677"), LAYOUT)
    with pytest.raises(ProfileError, match="made for layout starter-10x3 and the mat now has reference-16x4"):
        PROFILE.check_mat(HELLO, layout_of("reference-16x4"))
    with pytest.raises(ProfileError, match="its file was changed"):
        PROFILE.check_mat(HELLO, dataclasses.replace(LAYOUT, pulldown_ohm=990.0))


def test_a_folder_that_cannot_be_written(tmp_path):
    (tmp_path / "file").write_text("in the way")
    for path in (tmp_path / "file" / "mat.json", tmp_path / "file" / "deeper" / "mat.json"):
        with pytest.raises(ProfileError, match="cannot be written"):
            write_profile(path, PROFILE)
    (tmp_path / "folder").mkdir()
    with pytest.raises(ProfileError, match="cannot be written"):
        write_profile(tmp_path / "folder", PROFILE)
    assert sorted(os.listdir(tmp_path)) == ["file", "folder"]


@pytest.mark.parametrize("step", ["fsync", "replace", "new_file"])
def test_the_old_file_stays_when_writing_fails(written, monkeypatch, step):
    before = written.read_bytes()

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    where = {"fsync": "os.fsync", "replace": "pathlib.Path.replace", "new_file": "groundtone.files.new_file"}[step]
    monkeypatch.setattr(where, full)
    with pytest.raises(ProfileError, match=r"cannot be written \(the disk is full\): make room on it"):
        write_profile(written, dataclasses.replace(PROFILE, note="newer"))
    monkeypatch.undo()
    assert written.read_bytes() == before
    assert os.listdir(written.parent) == ["mat.json"]


def test_a_profile_that_could_not_be_read_back_is_not_written(written):
    for film in (
        dataclasses.replace(PROFILE.film, creep=float("nan")),
        dataclasses.replace(PROFILE.film, curves=dataclasses.replace(PROFILE.film.curves, exponent=float("inf"))),
    ):
        with pytest.raises(ProfileError, match="not a number"):
            write_profile(written, dataclasses.replace(PROFILE, film=film))
    assert as_values(read_profile(written)) == as_values(PROFILE)
