"""What two versions measured stands side by side, and is told for whom it changed."""

import math

import pytest
from library_cases import asked, session, swings

from groundtone.record.academy.versions import changes, put_anew, to_measure
from groundtone.record.reader import open_recording
from groundtone.record.swing_rows import SwingRow


def measured(impact, value, name="share at impact"):
    return SwingRow(1, "swing", impact, {}, {name: (value, 0.01, "" if value == value else "not seen")})


def test_a_version_keeps_what_the_one_before_had_found(either):
    library = either
    path = session(library, "a.mcap", "Ann")
    session(library, "b.mcap", "Bob")
    assert [row.session for row in to_measure(library, "")] == []
    assert len(to_measure(library, "2")) == 2
    assert [row.name for row in to_measure(library, "2", pupil="Bob")] == ["Bob"]
    assert to_measure(library, "2", since="2999-01-01") == []
    for _ in range(2):  # twice is as once
        put_anew(library, open_recording(path), [measured(1.1, 0.9), *swings(1.0, 2.0)[1:]], [], "2")
        assert [row.name for row in to_measure(library, "2")] == ["Bob"]
        told, found = changes(library)
        values = [(each.measure, each.swings, each.of, each.before, each.now) for each in told]
        assert values == [("share at impact", 1, 2, "", "2")]
        assert told[0].mean == pytest.approx(0.1)
        assert told[0].most == pytest.approx(0.1)
        assert found == []
        assert asked(library, "SELECT count(*) FROM former")[0][0] == 4
    put_anew(library, open_recording(path), [measured(1.1, math.nan)], [], "3")
    told, found = changes(library, "Ann")
    assert (told[0].swings, told[0].before, math.isnan(told[0].mean)) == (1, "2", True)
    assert found == [("Ann", 0, 1)]
    assert changes(library, "Bob") == ([], [])
