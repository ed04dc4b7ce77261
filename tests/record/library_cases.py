"""A library with recorded sessions for tests: made-up golfers, swings with known numbers."""

import math

from recorded import about, record
from sqlalchemy import text

from groundtone.record.contents import put
from groundtone.record.reader import open_recording
from groundtone.record.session import Golfer
from groundtone.record.swing_rows import FindingRow, SwingRow


def swings(*impacts_s):
    return [
        SwingRow(
            number,
            "swing",
            impact,
            {"takeaway": (impact - 1.0, "pressure", 0.03), "impact": (impact, "strike sensor", 0.002)},
            {"share at impact": (0.8, 0.01, ""), "toes free": (math.nan, math.nan, "stepped off too soon")},
            [FindingRow("slide", 0.9, 1.2, {"sentence": "invented"})],
        )
        for number, impact in enumerate(impacts_s, start=1)
    ]


def session(library, file, name, impacts_s=(1.0, 2.0), **more):
    """A recording of a golfer, and its swings, in the library."""
    path = library.recordings / file
    path.parent.mkdir(exist_ok=True)
    record(path, 23, about(golfer=Golfer(name), **more), step_s=0.1)
    put(library, open_recording(path), swings(*impacts_s), [])
    return path


def known(library):
    return {each.golfer.name: (each.lessons, each.recordings, each.swings) for each in library.golfers()}


def analyse(recording):
    return swings(1.0, 2.0), []


def asked(library, sql):
    """Rows of a query in plain SQL, as another program would ask it."""
    return library.rows(text(sql))
