"""Commissioning on simulated mats that are wired wrong, through the firmware's self-test and a person's hands."""

import contextlib
import json
from dataclasses import replace

import pytest

from groundtone.app.builder import commission_run
from groundtone.app.command import main
from groundtone.app.mat import OpenMat
from groundtone.build.commission import STEPS, Record, load, save, to_text, verdict
from groundtone.build.commission_steps import Bench, idle_step
from groundtone.build.diagnosis import diagnose
from groundtone.build.evidence import reading_of
from groundtone.build.faults import Kind, Namer
from groundtone.errors import LostError
from groundtone.link.scan import Heard
from groundtone.mat.layout import layout_of, read_layout
from groundtone.twin.inprocess import FRAME_BITS, InProcessMat
from groundtone.twin.scenario import Hands, Scenario
from groundtone.wire.codec import string
from groundtone.wire.messages import Finding
from studies import commission as bench

STARTER = layout_of("starter-10x3")


def named(*faults, seed=1):
    return [(f.kind, f.lines, f.panel) for f in bench.looked_at(faults, seed, STARTER).faults]


@pytest.mark.parametrize(
    ("faults", "expected"),
    [
        (("short-rows:2,7",), [(Kind.ROWS_JOINED, (2, 7), None)]),
        (("short-row-column:3,5",), [(Kind.ROW_ON_COLUMN, (3, 5), None)]),
        (
            ("no-pulldown:1", "series:6,10", "open-row:4,right"),
            [(Kind.NO_PULLDOWN, (1,), None), (Kind.SERIES, (6,), None), (Kind.ROW_OPEN, (4,), 1)],
        ),
        (("address:1,2", "dead-cell:9,0"), [(Kind.ADDRESS, (1, 2), None), (Kind.CELL_DEAD, (9, 0), None)]),
    ],
)
def test_what_is_wired_wrong_is_named_by_kind_and_line(faults, expected):
    assert sorted(named(*faults), key=str) == sorted(expected, key=str)


def test_the_bench_knows_a_wrong_name_from_a_right_one():
    found = [Namer(3).plain(Kind.COLUMN_OPEN, 2)]
    assert bench.named_of(("open-column:2",), found, STARTER) == {"open-column:2"}
    assert bench.named_of(("open-column:1", "dead-cell:0,0"), found, STARTER) == frozenset()
    assert len(bench.wrong_of(("open-column:1",), found, STARTER)) == 1


@pytest.mark.parametrize("hertz", [50.0, 60.0])
@pytest.mark.parametrize(("size", "says"), [(0.0, ""), (3.0, "are taken out"), (40.0, "cannot be taken out")])
def test_the_mains_hum_is_told_and_is_no_noise_of_cells(size, says, hertz):
    mat = replace(bench.mat_with((), 3, STARTER), hum_lsb=size, hum_hz=hertz)
    frames = InProcessMat(Scenario(mat, Hands(seed=3))).frames(commission_run.RATES_HZ["idle"])
    looked = Bench(STARTER)
    step = idle_step(looked)
    next(step)
    with contextlib.suppress(StopIteration):
        while True:
            frame = next(frames)
            step.send(reading_of(frame, frame.t_us * 1e-6, STARTER.rows, FRAME_BITS))
    told = [*looked.causes["idle"], *map(str, looked.figures["idle"].values())]
    assert [text for text in told if "hum" in text] == [text for text in told if says and says in text]
    assert bool(looked.causes["idle"]) == (says == "cannot be taken out")
    assert diagnose(looked.evidence, STARTER).faults == []


# The command


def run(capfd, out, *arguments):
    with pytest.raises(SystemExit) as ended:
        main(["build", "commission", "--layout", "starter-10x3", "--out", str(out), *arguments])
    said = capfd.readouterr()
    assert "Traceback" not in said.err + said.out
    return ended.value.code or 0, said.out, said.err


def test_rows_that_are_joined_end_it_at_once_and_what_was_found_is_kept(tmp_path, capfd):
    code, out, _ = run(capfd, tmp_path, "--twin", "4", "--fault", "short-rows:2,3")
    assert code == 1
    assert "Rows 2 and 3 are joined." in out
    assert "never driven" in out
    (kept,) = tmp_path.glob("*.commissioning.json")
    content = json.loads(kept.read_text())
    assert [s["outcome"] for s in content["steps"]] == ["failed"] + ["not done"] * 8
    assert kept.with_suffix(".png").stat().st_size > 10_000
    assert "Rows 2 and 3 are joined." in kept.with_suffix(".txt").read_text()


def test_a_walk_finds_what_is_exchanged_and_keeping_it_corrects_the_layout(tmp_path, capfd, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    code, out, _ = run(
        capfd, tmp_path, "--twin", "6", "--walk", "--keep-order", "--soak", "2", "--skip", "resistor", "--skip",
        "crosstalk", "--skip", "stand", "--skip", "strike", "--skip", "soak",
        "--fault", "swap-rows:1,4", "--fault", "reverse-columns:right",
    )  # fmt: skip
    assert "Rows 1 and 4 of both panels are exchanged." in out
    assert "The columns of the right panel run from right to left." in out
    # Steps that were left out on purpose leave it uncommissioned.
    assert code == 1
    (stored,) = (tmp_path / "home" / "layouts").glob("*.toml")
    layout = read_layout(stored)
    assert layout.id == "mat-000006-10x3"
    assert layout.rows_left == layout.rows_right == (0, 4, 2, 3, 1, 5, 6, 7, 8, 9)
    assert layout.columns_order == (0, 1, 2, 5, 4, 3)
    assert layout_of("mat-000006-10x3") == layout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--fault", "open-row:3"), "name --twin as well"),
        (("--twin", "1", "--fault", "open-row:30"), "0 to 9"),
        (("--twin", "1", "--fault", "nonsense"), "not known"),
        (("--twin", "x"), "Invalid value"),
        (("--twin", "1", "--soak", "soon"), "from 1 to 86400 s"),
        (("--port", "/dev/nothing-here"), "There is no mat at"),
        (("--again", "everything"), "Invalid value"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(tmp_path, capfd, arguments, says):
    code, _, err = run(capfd, tmp_path, *arguments)
    assert code == 2
    assert says in err


# The record


def test_a_record_goes_on_where_it_was_left(tmp_path):
    record = Record("0123456789abcdef", Bench(STARTER))
    assert record.next_step() == "board"
    record.done["board"] = "today"
    save(tmp_path / "r.json", record)
    again = load(tmp_path / "r.json", record.uid, STARTER)
    assert again.next_step() == "idle"
    again.bench.causes["idle"] = ["Something is wrong. Mend it."]
    again.done["idle"] = "today"
    assert [r.outcome for r in again.results()][:3] == ["passed", "failed", "not done"]
    assert again.next_step() == "idle"
    assert "FAILED    The empty mat" in to_text(again)
    assert not again.commissioned()


def test_a_record_of_another_mat_or_a_damaged_one_is_refused(tmp_path):
    path = tmp_path / "r.json"
    save(path, Record("0123456789abcdef", Bench(STARTER)))
    with pytest.raises(Exception, match="belongs to mat 0123456789abcdef"):
        load(path, "fedcba9876543210", STARTER)
    with pytest.raises(Exception, match="belongs to mat"):
        load(path, "0123456789abcdef", layout_of("reference-16x4"))
    path.write_text(path.read_text()[:100])
    with pytest.raises(Exception, match="cannot be used"):
        load(path, "0123456789abcdef", STARTER)
    path.write_text("[]")
    with pytest.raises(Exception, match="not a commissioning"):
        load(path, "0123456789abcdef", STARTER)
    assert load(tmp_path / "none.json", "x", STARTER) is None


def test_what_was_left_out_is_named_and_parts_that_a_mat_need_not_have_hold_nothing_up():
    record = Record("0123456789abcdef", Bench(STARTER), done=dict.fromkeys(STEPS, "today"))
    assert record.commissioned()
    record.skipped |= {"strike": "It was left out, as you asked.", "radio": "none"}
    assert record.commissioned()
    record.skipped["stand"] = "It was left out, as you asked."
    assert not record.commissioned()
    assert verdict(record) == "Not commissioned: left out was stand. Do it with --again stand."


# The mat itself


class Link:
    """A mat's end that breaks where it is told to."""

    class hello:  # stands for the link's attribute
        uid, name, rows, bits = "67746d0000000001", "", 10, 14

    def __init__(self, radio="on"):
        self.radio = radio

    def start(self, _rate):
        pass

    def frames(self, _patience=0.05):
        raise KeyboardInterrupt

    def stop(self):
        raise LostError("the mat is gone")

    def request(self, _command, _payload=b"", **_):
        return string(self.radio)


def test_whoever_stops_it_is_not_told_that_the_mat_is_gone():
    with pytest.raises(KeyboardInterrupt):
        commission_run._listen(OpenMat(Link(), STARTER), iter([None]), 50, lambda _: None, lambda _: None)


@pytest.mark.parametrize(
    ("radio", "rssi", "outcome", "says"),
    [
        ("on", -60, "passed", ""), ("on", -88, "failed", "is heard weakly (-88 dBm)"),
        ("on", None, "failed", "not heard on Bluetooth"), ("off", None, "not done", "radio is off"),
    ],
)  # fmt: skip
def test_the_radio_step_listens(monkeypatch, radio, rssi, outcome, says):
    heard = [Heard("aa", "mat 000001", rssi, None)] if rssi is not None else []
    monkeypatch.setattr(commission_run, "mats_heard", lambda _radio, wanted: heard)
    record = Record(Link.hello.uid, Bench(STARTER))
    commission_run._do(
        OpenMat(Link(radio), STARTER), record, "radio", commission_run.Choices(), lambda _: None, lambda _: None
    )
    result = next(r for r in record.results() if r.key == "radio")
    assert result.outcome == outcome
    assert says in " ".join(result.causes)


def test_a_grid_that_does_not_fit_is_told_before_any_fault_is():
    missing = [Finding(8, c, 0, 65535) for c in (6, 7)]
    words = commission_run.other_grid(layout_of("reference-16x4"), missing)
    assert "set to reference-16x4" in words
    assert "'groundtone build settings layout=starter-10x3'" in words
    # One resistor is a fault, and so are two that are not the last.
    assert commission_run.other_grid(layout_of("reference-16x4"), missing[:1]) is None
    assert commission_run.other_grid(layout_of("reference-16x4"), [Finding(8, c, 0, 65535) for c in (2, 7)]) is None


def test_a_starter_whose_firmware_scans_the_reference_grid_is_asked_first(tmp_path, capfd):
    with pytest.raises(SystemExit) as ended:
        main(["build", "commission", "--twin", "3", "--layout", "reference-16x4", "--out", str(tmp_path),
              "--fault", "no-pulldown:6", "--fault", "no-pulldown:7"])  # fmt: skip
    out = " ".join(capfd.readouterr().out.split())
    assert ended.value.code == 1
    assert "if it is a starter-10x3, say 'groundtone build settings layout=starter-10x3'" in out
    assert "Step 2" not in out
    assert "C6" not in out
