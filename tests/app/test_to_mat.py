"""`groundtone to-mat` on the simulated mat, through its firmware: on, looked at, off, and what is refused."""

import datetime
from dataclasses import replace

import numpy as np
import pytest
from scripted_mat import scripted  # noqa: F401 (a fixture)

from groundtone.calibration.film import Film
from groundtone.calibration.force_curve import typical_curves
from groundtone.calibration.profile import Profile, write_profile
from groundtone.cue.rulefile import default_rules
from groundtone.files import data_folder
from groundtone.link.serial_link import SerialLink
from groundtone.mat.layout import layout_of
from groundtone.onboard.make import made_for
from groundtone.onboard.pack import packed, unpacked
from groundtone.onboard.transfer import what_is_on
from groundtone.record.library import Library
from groundtone.record.session import Golfer
from groundtone.twin.mat_process import MatProcess
from groundtone.twin.scenario import Empty, MatSpec, Scenario

LAYOUT = layout_of("reference-16x4")
SCENARIO = Scenario(MatSpec.reference(), Empty(600.0))


def profile_of(uid, **film):
    curves = typical_curves(LAYOUT.rows, LAYOUT.columns)
    return Profile(uid, LAYOUT.id, LAYOUT.digest, "2026-11-01T10:00:00+00:00", (49.0,), 0.02, Film(curves, **film))


@pytest.fixture(scope="module")
def process():
    with MatProcess(SCENARIO) as running:
        yield running


@pytest.fixture
def own(tmp_path):
    path = tmp_path / "own.json"
    write_profile(path, profile_of(SCENARIO.mat.uid, creep=0.033, dead=((3, 2),)))
    return path


def there(process):
    with SerialLink(process.port) as link:
        return what_is_on(link, 0)


def test_it_goes_onto_the_mat_is_shown_and_taken_off(groundtone, process, own):
    with Library(data_folder()) as library:
        library.add(Golfer("Heron", "left", 62.0, None))
    said = groundtone("to-mat", "--port", process.port, "--profile", own, "--golfer", "Heron", "--days", "3")
    assert said.code == 0, said.err
    last = (datetime.date.today() + datetime.timedelta(2)).isoformat()
    assert f"For a left-handed golfer of 62.0 kg, until {last}." in said.out
    assert "1 cells without a curve count for nothing" in said.out
    assert "does not take out the film's creep, 3.3%" in said.out
    assert "127 cells; the tables are within" in said.out
    what = there(process)
    assert what.uid == SCENARIO.mat.uid
    assert what.weight_n == pytest.approx(62.0 * 9.80665, abs=0.1)
    assert not what.force[3, 2].any()
    shown = groundtone("to-mat", "--port", process.port, "--show")
    assert f"For a left-handed golfer of 62.0 kg, until {last}." in shown.out
    assert "toes: overall above 0.72 (setup)." in shown.out
    assert "trail side: share below 0.58 (downswing, finish), from 360 ms after the turn on." in shown.out
    assert "Nothing is on the mat" in groundtone("to-mat", "--port", process.port, "--off").out
    assert there(process) is None
    assert "Nothing is on this mat" in groundtone("to-mat", "--port", process.port, "--show").out


def test_another_mats_profile_is_refused_and_the_old_one_stays(groundtone, process, own, tmp_path):
    groundtone("to-mat", "--port", process.port, "--profile", own)
    other = tmp_path / "other.json"
    write_profile(other, profile_of("00112233445566aa"))
    said = groundtone("to-mat", "--port", process.port, "--profile", other)
    assert said.code == 2
    assert "belongs to mat 00112233445566aa" in said.err
    assert there(process).uid == SCENARIO.mat.uid


def test_a_mat_without_a_calibration_is_given_nothing(groundtone, process):
    said = groundtone("to-mat", "--port", process.port)
    assert said.code == 2
    assert "not calibrated" in said.err


def test_old_firmware_is_told(groundtone, scripted, own):  # noqa: F811
    mat = scripted(rows=16, columns=8, layout=LAYOUT.id, uid=bytes.fromhex(SCENARIO.mat.uid))
    mat._answers[11] = lambda number, _: mat.reply(number, 11, 1, b"there is no command 11")
    said = groundtone("to-mat", "--port", mat.port, "--profile", own)
    assert said.code == 2
    assert "groundtone build install" in said.err


def test_show_and_off_together_are_asked_about(groundtone):
    assert groundtone("to-mat", "--show", "--off").code == 2


def test_tables_stand_where_the_board_reads_its_lines(process):
    level = np.log(37.0) + 0.01 * np.arange(128).reshape(16, 8)
    with SerialLink(process.port) as link:
        hello = link.hello
    layout = replace(LAYOUT, rows_left=(1, 0, *range(2, 16)))
    plain = profile_of(hello.uid)
    film = Film(replace(plain.film.curves, level=level))
    known = replace(plain, film=film, layout_digest=layout.digest)
    what = unpacked(packed(made_for(hello, layout, known, default_rules(), hand="right", mass_kg=None).what))
    middle = what.force[:, :, 30].astype(float)
    # The cell at place (0, 0) hangs on line 1 and presses the least for its conductance.
    assert np.unravel_index(middle.argmin(), middle.shape) == (1, 0)
    assert middle[1, 0] / middle[0, 5] == pytest.approx(np.exp(level[0, 0] - level[0, 5]), rel=0.02)
