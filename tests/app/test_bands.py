"""`groundtone bands`: learnt from the library, set, locked, shown, and gone with the golfer."""

import json
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "record"))

from recorded import about, record
from sqlalchemy import insert, select

from groundtone.cue.personal import bands_for, path_of, read_personal
from groundtone.cue.rulefile import default_rules
from groundtone.record.channels import Channel
from groundtone.record.contents import put
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.recorder import append
from groundtone.record.session import Block, Golfer, settings_from, settings_table
from groundtone.record.swing_rows import SwingRow
from groundtone.record.tables import findings, swings
from groundtone.review.library_reader import keep_style, learnt_style, sessions_of, well_struck
from groundtone.review.settings import bands_in, rules_in, settings_of
from groundtone.review.strikes import Contact, Strike, table_of

CENTRE, TOE, HEAVY = Strike(5), Strike(6), Strike(5, contact=Contact.FAT)


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path


def session(home, strikes, name="P7", kind="swing", file="a.mcap", club="7 iron", shares=(0.79, 0.8)):
    """A recording with a swing for each strike, one a second; their toes at 0.50, 0.51, 0.52 …

    `shares`: the largest before impact, and at impact.
    """
    path = home / "recordings" / file
    path.parent.mkdir(exist_ok=True)
    record(path, 23, about(golfer=Golfer(name), session=file, block=Block(club=club)), step_s=0.1)
    append(path, [(Channel.STRIKE, table_of(each, 1.0 + 4 * k)) for k, each in enumerate(strikes) if each.told])
    swings = [
        SwingRow(k + 1, kind, 1.0 + 4 * k, {}, {
            "overall_most_down": (0.50 + 0.01 * k, 0.01, ""), "overall_most_after": (0.48, 0.01, ""),
            "share_most_down": (shares[0], 0.01, ""), "share_impact": (shares[1], 0.01, ""),
            "share_finish": (float("nan"), float("nan"), "no finish"),
        })
        for k in range(len(strikes))
    ]  # fmt: skip
    with Library(home) as library:
        put(library, open_recording(path), swings, [])


@pytest.mark.parametrize(
    ("strike", "well"),
    [(CENTRE, True), (Strike(place_mm=(5.0, -8.0)), True), (Strike(contact=Contact.CLEAN), True), (TOE, False),
     (HEAVY, False), (Strike(6, contact=Contact.CLEAN), False), (Strike(distance_m=140.0), False), (Strike(), False)],
)  # fmt: skip
def test_what_counts_as_well_struck(strike, well):
    assert strike.well_struck is well


def test_learning_takes_the_well_struck_swings_alone(home, groundtone):
    session(home, [CENTRE, TOE, CENTRE, HEAVY, CENTRE, Strike(), CENTRE])
    session(home, [CENTRE] * 3, kind="practice swing", file="b.mcap")
    with Library(home) as library:
        swings = well_struck(library, "P7")
    assert [swing["overall_most_down"] for _, swing in swings] == pytest.approx([0.50, 0.52, 0.54, 0.56])
    said = groundtone("bands", "learn", "P7")
    assert said.code == 2
    assert "4 well-struck swings are in the library and 5 are needed: hit 1 more" in said.err
    session(home, [CENTRE], file="c.mcap")
    said = groundtone("bands", "learn", "P7")
    assert said.code == 0
    # 0.50 0.50 0.52 0.54 0.56: median 0.52, deviations' median 0.02; twice 1.4826 times that beyond.
    assert "toes_after (toes, after the turn): 58 % now, 67 % before; their swings lie at 52 % ± 3." in said.out
    assert "trail (trail side) stays at 58 %: fewer than 5 of the swings have what it needs." in said.out
    assert bands_for("P7").band("toes_after").high == pytest.approx(0.52 + 2 * 1.4826 * 0.02, abs=1e-3)
    assert bands_for("another") == default_rules()


def test_classes_of_clubs_are_learnt_apart_and_too_few_swings_fall_back(home, groundtone):
    session(home, [CENTRE] * 6)
    session(home, [CENTRE] * 5, file="b.mcap", club="Driver")
    session(home, [CENTRE] * 2, file="c.mcap", club="PW")
    said = groundtone("bands", "learn", "P7").out
    assert "Too few for limits of their own (wedge: 2): there those of all clubs hold." in " ".join(said.split())
    assert "toes_after (toes, after the turn with drivers)" in " ".join(said.split())
    own = {kind: read_personal("P7").limits(kind)["toes_after"].swings for kind in ("iron", "driver", "wedge", "")}
    assert own == {"iron": 6, "driver": 5, "wedge": 13, "": 13}
    shown = " ".join(groundtone("bands", "show", "P7", "--club", "PW").out.split())
    assert (
        "Limits of their own with irons, drivers; with every other class those of all clubs. Shown: all clubs." in shown
    )
    assert groundtone("bands", "set", "P7", "trail=0.50", "--club", "1w").code == 0
    assert (bands_for("P7", club="Driver").band("trail").low, bands_for("P7").band("trail").low) == (0.50, 0.58)


def test_the_coach_s_word_of_a_pupil(home, groundtone):
    groundtone("library", "add", "P7")
    said = groundtone(
        "bands", "set", "P7", "--fault", "slide", "--fault", "trail", "--stance", "355", "--flare", "12,25"
    )
    assert said.code == 0
    groundtone("bands", "set", "P7", "--no-fault", "trail", "--style", "reverse")
    own = read_personal("P7")
    assert (own.faults, own.stance_mm, own.flare_deg, own.style) == ({"slide"}, 355.0, (12.0, 25.0), "reverse")
    shown = " ".join(groundtone("bands", "show", "P7").out.split())
    for text in ("Style: reverse (the coach says so); the trail side's tone ends at impact.", "Stance: 355 mm",
                 "Called a fault in any case: slide.", "12 degrees on the left and 25 on the right"):  # fmt: skip
        assert text in shown
    assert "no finding 'elbow'" in groundtone("bands", "set", "P7", "--fault", "elbow").err
    assert "two angles" in groundtone("bands", "set", "P7", "--flare", "wide").err


def test_what_is_kept_is_seen_as_the_coach_sees_it_now(home, groundtone):
    session(home, [CENTRE])
    detail = {"name": "slide", "title": "slide", "sentence": "It went.", "drill_text": "", "concern": False}
    with Library(home) as library:
        (row,) = library.rows(select(swings.c.id))
        with library.writing() as execute:
            found = {"name": "slide", "probability": 0.9, "size": 1.0, "detail": json.dumps(detail)}
            execute(insert(findings), {"swing_id": row.id, **found})
        seen = []
        for words in (("--no-fault", "slide"), ("--fault", "slide"), ("--no-fault", "slide")):
            groundtone("bands", "set", "P7", *words)
            (fault,) = sessions_of(library, "P7")[0].swings[0].faults
            seen.append((fault.concern, bool(fault.drill)))
    assert seen == [(False, False), (True, True), (False, False)]


def test_a_style_is_learnt_from_five_swings_and_the_coach_outranks_it(home, groundtone):
    session(home, [CENTRE] * 4, shares=(0.68, 0.48))
    with Library(home) as library:
        assert learnt_style(library, "P7") == ""
        # Who never came across to 0.60 shows neither.
    session(home, [CENTRE] * 9, file="b.mcap", shares=(0.55, 0.48))
    session(home, [CENTRE], file="c.mcap", shares=(0.68, 0.48))
    with Library(home) as library:
        assert learnt_style(library, "P7") == "reverse"
        keep_style(library, "P7")
    assert (read_personal("P7").style, read_personal("P7").style_from) == ("reverse", "learnt")
    assert not bands_for("P7").rule("trail side").after_impact
    groundtone("bands", "set", "P7", "--style", "front foot")
    with Library(home) as library:
        keep_style(library, "P7")
    assert read_personal("P7").style == "front foot"


def test_set_lock_name_show_forget(home, groundtone):
    groundtone("library", "add", "P7")
    assert groundtone("bands", "set", "P7", "toes_after=62%", "trail=0.61", "--on", "heels", "--tighten").code == 0
    assert groundtone("bands", "lock", "P7", "trail").code == 0
    assert groundtone("bands", "name", "P7", "seven iron").code == 0
    book = bands_for("P7")
    assert (book.band("toes_after").high, book.band("trail").low, book.locked) == (0.62, 0.61, {"trail"})
    assert (book.rule("heels").on, book.tighten.on, book.label) == (True, True, "seven iron")
    lines = groundtone("bands", "show", "P7").out.splitlines()
    assert lines[0] == "Bands: seven iron."
    (trail,) = [line.split() for line in lines if " trail  " in line]
    assert trail == ["trail", "side", "trail", "at", "least", "61", "set", "by", "the", "coach,", "locked"]
    assert lines[-1] == "Tones sound at once. Tightening is on, fading is off."
    groundtone("bands", "lock", "P7", "--off")
    groundtone("bands", "forget", "P7", "trail")
    book = bands_for("P7")
    assert (book.band("trail").low, book.band("toes_after").high, book.locked) == (0.58, 0.62, frozenset())
    assert groundtone("bands", "forget", "P7").code == 0
    assert bands_for("P7") == default_rules()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("set", "nobody", "trail=0.5"), "no golfer 'nobody'"),
        (("set", "P7"), "nothing to set"),
        (("set", "P7", "trail"), "is no limit: write it as"),
        (("set", "P7", "trail=nan"), "is no limit: write it as"),
        (("set", "P7", "elbow=0.5"), "no band 'elbow'"),
        (("set", "P7", "trail=58"), "write 58 per cent as 58%"),
        (("set", "P7", "--on", "heels", "--off", "heels"), "cannot be on and off"),
        (("lock", "P7", "elbow"), "no band 'elbow'"),
        (("learn", "nobody"), "no golfer 'nobody'"),
        (("name", "P7", "x" * 101), "more than 100 characters"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_changes_nothing(home, groundtone, arguments, says):
    groundtone("library", "add", "P7")
    said = groundtone("bands", *arguments)
    assert said.code == 2
    assert says in said.err
    assert not path_of("P7").exists()


def test_bands_go_with_the_golfer(home, groundtone):
    session(home, [CENTRE] * 2)
    groundtone("bands", "set", "P7", "trail=0.61")
    assert groundtone("library", "rename", "P7", "P8").code == 0
    assert bands_for("P8").band("trail").low == 0.61
    assert groundtone("library", "export", "P8", str(home / "given")).code == 0
    assert "limit = 0.61" in (home / "given" / "bands.toml").read_text("utf-8")
    groundtone("library", "add", "P9")
    assert groundtone("library", "merge", "P8", "P9", "--yes").code == 0
    assert bands_for("P9").band("trail").low == 0.61
    assert groundtone("library", "erase", "P9", "--yes").code == 0
    assert list((home / "bands").iterdir()) == []


def test_a_recording_carries_the_rules_in_force():
    book = default_rules().with_limits({"toes_after": 0.61}).switched(finish=True)
    table = settings_table(settings_of(bands=book.as_bands(), rules=book))
    back = settings_from(table)
    assert rules_in(back) == book
    assert bands_in(back).toes_after == 0.61
    # Older recordings have the bands alone, and those of a newer program rules that are not understood.
    del table["rules"]
    assert rules_in(settings_from(table)) is None
    assert rules_in(settings_from({**table, "rules": {"rule": {"elbows": {}}}})) is None
