"""Well-struck swings of a golfer out of the library, with their measures."""

from __future__ import annotations

import json

from groundtone.files import data_folder
from groundtone.record.library import Library
from groundtone.review.strikes import Strike, strike_of
from groundtone.swing.events import Kind


def is_well_struck(strike: Strike) -> bool:
    """The ball met the centre, and nothing else was told to be wrong; clean contact alone is enough."""
    return strike.clean is True and strike.inside() is not False


def well_struck(golfer: str) -> list[dict[str, float]]:
    """Measures of a golfer's well-struck swings, oldest first; what was not known is missing.

    Parameters
    ----------
    golfer : str
        Code name.

    Raises
    ------
    MissingError
        There is none of that name.
    LibraryError
    """
    out = []
    with Library(data_folder()) as library:
        library.golfer(golfer)
        for recording in library.recordings_of(golfer):
            swings = library.rows(
                "SELECT s.id, t.detail FROM swings s JOIN blocks b ON b.id = s.block_id "
                "JOIN strikes t ON t.swing_id = s.id WHERE b.recording_id = ? AND s.kind = ? ORDER BY s.number",
                [recording["id"], Kind.SWING.value],
            )
            told = {row["id"]: strike_of(json.loads(row["detail"])) for row in swings}
            for swing_id, strike in told.items():
                if not is_well_struck(strike):
                    continue
                measures = library.rows("SELECT name, value FROM measures WHERE swing_id = ?", [swing_id])
                out.append({m["name"]: float(m["value"]) for m in measures if m["value"] is not None})
    return out
