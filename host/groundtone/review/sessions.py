"""A recorded session as the window shows it: swings with their findings and strikes, read from the library at once.

Measuring a long recording anew takes a minute, the library has what was measured when the session ended. A recording
that is not in the library (from elsewhere) is measured first. All here is plain data, made at the desk.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from groundtone.errors import GroundtoneError
from groundtone.files import data_folder
from groundtone.record.library import Library
from groundtone.review.strikes import Strike, in_words, strike_of
from groundtone.review.swings import BlockRows, Fault, SwingRow

if TYPE_CHECKING:
    from groundtone.lesson.lesson_measures import LessonMeasure
    from groundtone.review.swings import Lesson

_KINDS = {"swing": "swing", "practice swing": "practice", "slow rehearsal": "rehearsal"}


@dataclass(frozen=True)
class SessionLine:
    """A session in the list.

    Attributes
    ----------
    path : Path
    started, golfer : str
    swings, strikes : int
    simulated : bool
    """

    path: Path
    started: str
    golfer: str
    swings: int
    strikes: int
    simulated: bool


@dataclass(frozen=True)
class BlockView:
    """A block of swings; `kind` as in the recording."""

    number: int
    kind: str
    club: str
    lie: str
    usual_m: float | None
    cues: bool


@dataclass(frozen=True)
class FindingView:
    """A finding in words; `concern` False is described and no fault."""

    title: str
    sentence: str
    drill: str
    probability: float
    concern: bool


@dataclass(frozen=True)
class SwingView:
    """One swing.

    Attributes
    ----------
    number : int
    kind : str
        "swing", "practice" or "rehearsal".
    block : BlockView
    events : dict
        Name to (device time s, source, doubt s).
    values, doubts : dict
        Measures and their standard uncertainties; NaN where there is none.
    findings : tuple of FindingView
    strike : Strike
    entry : str or None
        Id of the strike's entry.
    when_s : float
        Impact, else the last event.
    told : tuple of str
        The measures a lesson looks at, in words.
    """

    number: int
    kind: str
    block: BlockView
    events: dict[str, tuple[float, str, float]]
    values: dict[str, float]
    doubts: dict[str, float]
    findings: tuple[FindingView, ...]
    strike: Strike
    entry: str | None
    when_s: float
    told: tuple[str, ...] = ()

    @property
    def line(self) -> str:
        """The swing in one line of a list."""
        strike = in_words(self.strike) if self.strike.told else "strike not told"
        first = next((f.title for f in self.findings if f.concern), "")
        kind = "" if self.kind == "swing" else f" ({self.kind})"
        return f"{self.number}{kind}, {self.block.kind}: {strike}" + (f"; {first}" if first else "")

    def row(self) -> SwingRow:
        """As the lesson's room reads it."""
        # Two seconds to import: at the desk, never in the interface thread.
        from groundtone.review.swings import MIDDLE, with_middle

        faults = tuple(Fault(f.title, f.probability, f.sentence, f.drill, f.concern) for f in self.findings)
        doubts = dict(self.doubts)
        doubts[MIDDLE] = max(doubts.get("overall_most_down", 0.0), doubts.get("overall_least_down", 0.0))
        return SwingRow(self.number, with_middle(self.values), doubts, faults, self.strike, self.when_s, self.kind)


@dataclass(frozen=True)
class SessionView:
    """A session.

    Attributes
    ----------
    path : Path
    session, started, golfer : str
    simulated : bool
    blocks : tuple of BlockView
    swings : tuple of SwingView
    doubts : tuple of str
        What a reader must know.
    notes : tuple of str
    """

    path: Path
    session: str
    started: str
    golfer: str
    simulated: bool
    blocks: tuple[BlockView, ...]
    swings: tuple[SwingView, ...]
    doubts: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())

    def rows(self) -> list[SwingRow]:
        """All swings."""
        return [swing.row() for swing in self.swings]

    def block_rows(self) -> tuple[BlockRows, ...]:
        """The blocks in order, empty ones too."""
        out = []
        for block in self.blocks:
            rows = tuple(swing.row() for swing in self.swings if swing.block.number == block.number)
            name = f"{block.number} ({block.kind})"
            out.append(BlockRows(name, rows, block.kind, block.club, block.lie, block.usual_m, block.cues))
        return tuple(out)


def session_lines(most: int = 200) -> list[SessionLine]:
    """The newest sessions of the library first."""
    with Library(data_folder()) as library:
        rows = library.rows(
            """
            SELECT r.path, r.started, r.simulated, g.name,
                (SELECT count(*) FROM swings s JOIN blocks b ON b.id = s.block_id
                    WHERE b.recording_id = r.id) AS swings,
                (SELECT count(*) FROM strikes t WHERE t.recording_id = r.id) AS strikes
            FROM recordings r JOIN lessons l ON l.id = r.lesson_id JOIN golfers g ON g.id = l.golfer_id
            ORDER BY r.started DESC, r.id DESC LIMIT ?
            """,
            [most],
        )
        return [
            SessionLine(
                library.folder / row["path"], row["started"], row["name"], row["swings"], row["strikes"],
                bool(row["simulated"]),
            )
            for row in rows
        ]  # fmt: skip


def golfer_names() -> list[str]:
    """Code names of everybody in the library."""
    with Library(data_folder()) as library:
        return [known.golfer.name for known in library.golfers() if known.golfer.name]


def open_session(path: Path) -> SessionView:
    """A session, from the library where it is listed there, else measured.

    Raises
    ------
    GroundtoneError
        It cannot be read.
    """
    with Library(data_folder()) as library:
        try:
            inside = path.resolve().relative_to(library.folder.resolve()).as_posix()
        except ValueError:
            inside = ""
        rows = library.rows(
            "SELECT r.*, g.name FROM recordings r JOIN lessons l ON l.id = r.lesson_id "
            "JOIN golfers g ON g.id = l.golfer_id WHERE r.path = ?",
            [inside],
        )
        view = _listed(library, path, rows[0]) if rows and path.exists() else None
    view = view or _measured(path)
    from groundtone.lesson.lesson_measures import lesson_measures

    looked = {block.club: lesson_measures(club=block.club) for block in view.blocks}
    told = (replace(swing, told=_told(swing, looked[swing.block.club])) for swing in view.swings)
    return replace(view, swings=tuple(told))


def _listed(library: Library, path: Path, row: Any) -> SessionView:
    recording = row["id"]
    blocks = {
        b["id"]: BlockView(b["number"], b["kind"], b["club"], b["lie"], b["usual_m"], bool(b["cues"]))
        for b in library.rows("SELECT * FROM blocks WHERE recording_id = ? ORDER BY number", [recording])
    }
    of_swing = "JOIN swings s ON s.id = x.swing_id JOIN blocks b ON b.id = s.block_id WHERE b.recording_id = ?"
    values: dict[int, dict[str, float]] = {}
    doubts: dict[int, dict[str, float]] = {}
    what = "x.swing_id, x.name, x.value, x.uncertainty"
    for m in library.rows(f"SELECT {what} FROM measures x {of_swing}", [recording]):
        values.setdefault(m["swing_id"], {})[m["name"]] = _float(m["value"])
        if m["value"] is not None and m["uncertainty"] is not None:
            doubts.setdefault(m["swing_id"], {})[m["name"]] = float(m["uncertainty"])
    findings: dict[int, list[FindingView]] = {}
    for f in library.rows(f"SELECT x.swing_id, x.probability, x.detail FROM findings x {of_swing}", [recording]):
        findings.setdefault(f["swing_id"], []).append(_finding(json.loads(f["detail"]), f["probability"]))
    told: dict[int, tuple[Strike, str]] = {}
    for t in library.rows("SELECT * FROM strikes WHERE recording_id = ? AND swing_id IS NOT NULL", [recording]):
        told[t["swing_id"]] = strike_of(json.loads(t["detail"])), t["entry"]
    swings = []
    for s in library.rows(
        "SELECT s.* FROM swings s JOIN blocks b ON b.id = s.block_id WHERE b.recording_id = ? ORDER BY s.number",
        [recording],
    ):
        events = {name: (float(v[0]), str(v[1]), float(v[2])) for name, v in json.loads(s["events"]).items()}
        strike, entry = told.get(s["id"], (Strike(), None))
        swings.append(
            SwingView(
                s["number"], _KINDS.get(s["kind"], s["kind"]), blocks[s["block_id"]], events, values.get(s["id"], {}),
                doubts.get(s["id"], {}), _ordered(findings.get(s["id"], [])), strike, entry,
                _when(_float(s["impact_s"]), events),
            )
        )  # fmt: skip
    return SessionView(
        path, row["session"], row["started"], row["name"], bool(row["simulated"]), tuple(blocks.values()),
        tuple(swings), tuple(json.loads(row["doubts"])),
    )  # fmt: skip


def _measured(path: Path) -> SessionView:
    """A recording from elsewhere, measured now."""
    from dataclasses import asdict

    from groundtone.record.reader import open_recording
    from groundtone.review.session_review import review

    recording = open_recording(path)
    seen = review(recording)
    about = recording.about
    blocks = {b.number: BlockView(b.number, b.kind, b.club, b.lie, b.usual_m, b.cues) for b in recording.blocks}
    swings = []
    for each in seen.swings:
        row = each.row()
        moments = {
            name: getattr(each.swing, name)
            for name in ("setup", "takeaway", "turn", "top", "impact", "finish", "step_off")
        }
        events = {name: (m.t_s, m.source, m.doubt_s) for name, m in moments.items() if m is not None}
        found = [_finding(asdict(finding), finding.probability) for finding in each.findings]
        swings.append(
            SwingView(
                row.number, row.kind, blocks[each.block.number], events, dict(row.values), dict(row.doubts),
                _ordered(found), each.strike, each.entry, each.when_s,
            )
        )  # fmt: skip
    return SessionView(
        path, about.session, about.started, about.golfer.name, about.simulated, tuple(blocks.values()), tuple(swings),
        tuple(seen.measured.doubts), tuple(str(entry.table.get("text", "")) for entry in recording.notes),
    )  # fmt: skip


def _told(swing: SwingView, looked: Sequence[LessonMeasure]) -> tuple[str, ...]:
    row = swing.row()
    known = ((measure, row.values.get(measure.name, math.nan)) for measure in looked)
    return tuple(f"{measure.words}: {measure.told(value)}" for measure, value in known if math.isfinite(value))


def lesson_of(view: SessionView) -> list[tuple[Path, BlockView, str]]:
    """All blocks with swings of this pupil's lesson (the same day), oldest first: file, block, words for a choice."""
    lines = [line for line in session_lines() if line.golfer == view.golfer and line.started[:10] == view.started[:10]]
    paths = [line.path for line in reversed(lines)] or [view.path]
    if view.path not in paths:
        paths.append(view.path)
    out = []
    for path in paths:
        seen = view if path == view.path else open_session(path)
        for block in seen.blocks:
            count = sum(swing.block.number == block.number for swing in seen.swings)
            if count:
                club = f", {block.club}" if block.club else ""
                out.append((path, block, f"{seen.started[11:16]} {block.kind}, {count} swings{club}"))
    return out


def lessons_of(golfer: str) -> list[Lesson]:
    """A pupil's lessons as the progress reads them, oldest first; GroundtoneError where nothing has been recorded."""
    from groundtone.review.swings import Lesson

    with Library(data_folder()) as library:
        rows = [(library.file_of(row), str(row["lesson"])) for row in library.recordings_of(golfer)]
    out: dict[str, list[SessionView]] = {}
    for path, lesson in rows:
        if path.exists():
            out.setdefault(lesson, []).append(open_session(path))
    if not out:
        raise GroundtoneError(f"nothing of {golfer!r} has been recorded yet: Practise does it")
    return [
        Lesson(
            name, seen[0].started, tuple(block for view in seen for block in view.block_rows()),
            any(view.simulated for view in seen),
        )
        for name, seen in out.items()
    ]  # fmt: skip


def tell_strike(path: Path, swing: SwingView, strike: Strike) -> str:
    """Writes what was told of a swing into the recording and the library; the entry's id.

    Raises
    ------
    GroundtoneError
        It cannot be written; nothing is changed then.
    """
    from groundtone.record.channels import Channel
    from groundtone.record.recorder import append
    from groundtone.review.strikes import table_of

    table = table_of(strike, swing.when_s, swing.entry)
    append(path, [(Channel.STRIKE, table)])
    entry = str(table["id"])
    with Library(data_folder()) as library:
        rows = library.rows(
            "SELECT s.id, b.recording_id, r.path FROM swings s JOIN blocks b ON b.id = s.block_id "
            "JOIN recordings r ON r.id = b.recording_id WHERE s.number = ?",
            [swing.number],
        )
        for row in rows:
            if (library.folder / row["path"]).resolve() != path.resolve():
                continue
            _take_down(library, row, path, entry, table if strike.told else None)
    return entry


def _take_down(library: Library, row: Any, path: Path, entry: str, table: dict[str, Any] | None) -> None:
    from groundtone.record.contents import fingerprint

    with library.writing() as execute:
        execute("DELETE FROM strikes WHERE recording_id = ? AND entry = ?", (row["recording_id"], entry))
        if table is not None:
            values = (row["recording_id"], entry, row["id"], json.dumps(table))
            execute("INSERT INTO strikes (recording_id, entry, swing_id, detail) VALUES (?, ?, ?, ?)", values)
        digest, size = fingerprint(path)
        execute("UPDATE recordings SET sha256 = ?, size = ? WHERE id = ?", (digest, size, row["recording_id"]))


def write_note(path: Path, text: str) -> None:
    """Adds a note to a recording that has ended; GroundtoneError where that cannot be."""
    from groundtone.record.channels import Channel
    from groundtone.record.recorder import append

    if not text.strip():
        raise GroundtoneError("an empty note is none: write a word")
    append(path, [(Channel.NOTE, {"text": text.strip(), "device_us": 0})])


def notes_of(path: Path) -> tuple[str, ...]:
    """The notes of a recording, oldest first."""
    from groundtone.record.reader import open_recording

    return tuple(str(entry.table.get("text", "")) for entry in open_recording(path).notes)


def _finding(table: dict[str, Any], probability: Any) -> FindingView:
    return FindingView(
        str(table.get("title", "")), str(table.get("sentence", "")), str(table.get("drill_text", "")),
        _float(probability), bool(table.get("concern", True)),
    )  # fmt: skip


def _ordered(found: Sequence[FindingView]) -> tuple[FindingView, ...]:
    return tuple(sorted(found, key=lambda f: (not f.concern, -f.probability)))


def _when(impact_s: float, events: dict[str, tuple[float, str, float]]) -> float:
    if not math.isnan(impact_s):
        return impact_s
    return max((at for at, _, _ in events.values()), default=0.0)


def _float(value: Any) -> float:
    return math.nan if value is None else float(value)
