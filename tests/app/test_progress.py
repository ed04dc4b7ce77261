"""`groundtone progress` out of the library: what was put in comes out, by lesson and by block."""

import json

import pytest
from sqlalchemy import insert

from groundtone.record.library import Library
from groundtone.record.tables import blocks, golfers, lessons, measures, recordings, strikes, swings
from groundtone.review.library_reader import lessons_of
from groundtone.review.strikes import read_entry, table_of


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def fill(folder, days=("2026-01-10", "2026-01-31"), club="7 iron", shift=0.0):
    """Two lessons of Ann: eight silent swings a block, further to the toes in the first."""
    with Library(folder) as library, library.writing() as execute:

        def put(table, **values):
            return execute(insert(table), values).inserted_primary_key[0]

        golfer = put(golfers, name="Ann", hand="right", notes="")
        for lesson_no, day in enumerate(days):
            recording = put(
                recordings, session=day, lesson_id=put(lessons, golfer_id=golfer, name=day),
                path=f"recordings/{day}.mcap", sha256="", size=0, started=f"{day}T10:00:00+01:00", mat="m", frames=0,
                duration_s=0.0, simulated=0, doubts="[]",
            )  # fmt: skip
            for number, kind in enumerate(("baseline", "test"), 1):
                block = put(
                    blocks, recording_id=recording, number=number, kind=kind, club=club, lie="turf", usual_m=140.0,
                    cues=0, device_us=0,
                )  # fmt: skip
                for i in range(8):
                    swing = put(
                        swings, block_id=block, number=8 * number + i, kind="swing", impact_s=10.0 * i, events="{}"
                    )
                    value = 0.75 - 0.06 * lesson_no - 0.03 * number + 0.002 * i
                    for name, told in (("overall_most_down", value), ("overall_least_down", 0.5), ("tempo", None)):
                        why = "" if told else "no top"
                        put(measures, swing_id=swing, name=name, value=told, uncertainty=0.004, reason=why)
                    entry = json.dumps(table_of(read_entry("5 c" if lesson_no else "4 t"), 10.0 * i, f"{swing}"))
                    put(strikes, recording_id=recording, entry=f"{swing}", swing_id=swing, detail=entry)
            put(strikes, recording_id=recording, entry="odd", swing_id=swing, detail="{broken")


def test_lessons_come_out_of_the_library_as_they_were_put_in(home):
    fill(home)
    with Library(home) as library:
        first, second = lessons_of(library, "Ann")
    assert (first.name, first.started, first.simulated) == ("2026-01-10", "2026-01-10T10:00:00+01:00", False)
    assert [(b.name, b.role, b.club, b.lie, b.usual_m, b.cues, len(b.swings)) for b in second.blocks] == [
        ("1 (baseline)", "baseline", "7 iron", "turf", 140.0, False, 8),
        ("2 (test)", "test", "7 iron", "turf", 140.0, False, 8),
    ]
    row = first.blocks[0].swings[3]
    assert row.values["overall_most_down"] == pytest.approx(0.726)
    assert row.values["overall_down"] == pytest.approx(0.613)
    assert row.values["tempo"] != row.values["tempo"]
    assert row.doubts == {"overall_most_down": 0.004, "overall_least_down": 0.004, "overall_down": 0.004}
    assert row.strike == read_entry("4 t")
    assert row.t_s == 30.0


def test_the_command_prints_the_table_and_draws_the_picture(home, tmp_path, groundtone):
    fill(home)
    done = groundtone("progress", "Ann", "--out", tmp_path / "out")
    assert done.code == 0, done.err
    out = " ".join(done.out.split())
    assert "2 lessons: 10 January 2026, 21 days later. Club: 7 iron, and others of its class." in out
    assert "71 %" in out
    assert "65 %" in out
    assert "0/16 16/16 blocks differ" in out
    assert "better" not in out
    assert (tmp_path / "out" / "progress-Ann-2026-01-31.png").stat().st_size > 20_000


def test_json_has_the_levels_the_days_and_what_was_kept(home, groundtone):
    fill(home)
    told = json.loads(groundtone("progress", "Ann", "--json").out)
    assert told["days"] == [21]
    points = told["measures"]["overall_most_down"]["points"]
    assert [p["level"] for p in points] == pytest.approx([0.712, 0.652], abs=0.003)
    assert told["measures"]["overall_most_down"]["band"] == [None, 0.67]
    (kept,) = told["measures"]["overall_most_down"]["kept"]
    assert kept["change"] == pytest.approx(-0.03, abs=0.005)
    assert told["measures"]["held_s"]["points"][0] == {"level": None, "low": None, "high": None, "swings": 0}
    assert [(c["inside"], c["placed"]) for c in told["inside"]] == [(0, 16), (16, 16)]


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["Nobody"], "there is no golfer 'Nobody'"),
        ([], "name a golfer of the library"),
        (["Ann", "--example"], "name a golfer of the library"),
        (["Ann", "--club", "driver", "--all-clubs"], "give one of them"),
        (["Ann", "--fault", "elbows"], "no finding 'elbows'"),
    ],
)
def test_what_cannot_be_done_is_said(home, groundtone, arguments, sentence):
    fill(home)
    done = groundtone("progress", *arguments)
    assert done.code == 2
    assert sentence.lower() in " ".join(done.err.split()).lower()


def test_a_class_without_swings_falls_back_and_says_so(home, groundtone):
    fill(home)
    done = groundtone("progress", "Ann", "--club", "driver")
    assert done.code == 0
    assert "Too few swings with drivers: all clubs together" in " ".join(done.out.split())


def test_a_picture_that_cannot_be_written(home, tmp_path, groundtone):
    fill(home)
    (tmp_path / "file").write_text("here first")
    done = groundtone("progress", "Ann", "--out", tmp_path / "file" / "x")
    assert done.code == 2
    assert "choose another folder with --out" in " ".join(done.err.split())
