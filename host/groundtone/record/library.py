"""The library: golfers and their sessions in one SQLite file, which can be made anew from the recordings.

Several programs may have it open: readers never wait, a writer waits `BUSY_S` for another one and then says so.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from groundtone.errors import BusyError, DamagedError, LibraryError, MissingError
from groundtone.files import make_folder, own_file
from groundtone.link.base import Closing
from groundtone.record.schema import MIGRATIONS
from groundtone.record.session import Golfer

BUSY_S = 5.0
"""So long a writer waits for another one, s."""

FILE = "library.sqlite"


@dataclass(frozen=True)
class Known:
    """A golfer in the library.

    Attributes
    ----------
    last : str
        When the last recording began, ISO 8601; empty without one.
    """

    golfer: Golfer
    lessons: int
    recordings: int
    swings: int
    strikes: int
    last: str


class Library(Closing):
    """An open library. A context manager; used by one thread.

    Parameters
    ----------
    folder : Path
        Where the library's file and the folder of recordings lie; made where it is missing.
    busy_s : float
        How long to wait for another program that writes, s.

    Attributes
    ----------
    read_only : bool
        Nothing can be written: the disk or the file forbids it. Reading works.

    Raises
    ------
    LibraryError
        It cannot be opened: the disk, damage, or a newer program wrote it.
    """

    def __init__(self, folder: Path, busy_s: float = BUSY_S) -> None:
        self.folder = folder
        self.path = folder / FILE
        self.read_only = False
        self._busy_s = busy_s
        self._connection = self._open()

    @property
    def recordings(self) -> Path:
        """The folder of the recordings."""
        return self.folder / "recordings"

    def close(self) -> None:
        """Lets go of the file; a second call does nothing."""
        self._connection.close()

    # Reading

    def rows(self, query: str, values: Iterable[Any] = ()) -> list[sqlite3.Row]:
        """What a query gives; columns by name.

        Raises
        ------
        LibraryError
        """
        with self._said():
            return list(self._connection.execute(query, tuple(values)))

    def table(self, query: str, values: Iterable[Any] = ()) -> tuple[list[str], list[tuple[Any, ...]]]:
        """Names of the columns, and the rows as plain tuples."""
        with self._said():
            cursor = self._connection.execute(query, tuple(values))
            return [column[0] for column in cursor.description], [tuple(row) for row in cursor]

    def golfers(self) -> list[Known]:
        """Everybody, by name; sessions in which nobody was named count to the name ''."""
        rows = self.rows(
            """
            SELECT g.*, r.lessons, r.recordings, r.last,
                (SELECT count(*) FROM swings s JOIN blocks b ON b.id = s.block_id
                    JOIN recordings q ON q.id = b.recording_id JOIN lessons l ON l.id = q.lesson_id
                    WHERE l.golfer_id = g.id) AS swings,
                (SELECT count(*) FROM strikes t JOIN recordings q ON q.id = t.recording_id
                    JOIN lessons l ON l.id = q.lesson_id WHERE l.golfer_id = g.id) AS strikes
            FROM golfers g LEFT JOIN (
                SELECT l.golfer_id, count(DISTINCT l.id) AS lessons, count(q.id) AS recordings, max(q.started) AS last
                FROM lessons l LEFT JOIN recordings q ON q.lesson_id = l.id GROUP BY l.golfer_id
            ) r ON r.golfer_id = g.id
            ORDER BY g.name COLLATE NOCASE, g.name
            """
        )
        return [
            Known(
                golfer_of(row),
                row["lessons"] or 0,
                row["recordings"] or 0,
                row["swings"],
                row["strikes"],
                row["last"] or "",
            )
            for row in rows
        ]

    def golfer(self, name: str) -> Golfer:
        """One golfer.

        Raises
        ------
        MissingError
            There is none of that name (any more).
        """
        return golfer_of(self._golfer_row(name))

    def knows(self, name: str) -> bool:
        """There is a golfer of that name."""
        return bool(self.rows("SELECT 1 FROM golfers WHERE name = ?", [name]))

    def spelt(self, name: str) -> str:
        """A code name as the library spells it: "bertil" is "Bertil"; as it is where nobody is called so."""
        wanted = name.strip()
        if self.knows(wanted):
            return wanted
        known = (str(each["name"]) for each in self.rows("SELECT name FROM golfers"))
        return next((name for name in known if _folded(name) == _folded(wanted)), wanted)

    def recordings_of(self, name: str) -> list[sqlite3.Row]:
        """A golfer's recordings with their lesson, oldest first; rows of the table `recordings` and `lesson`."""
        return self.rows(
            """
            SELECT r.*, l.name AS lesson FROM recordings r JOIN lessons l ON l.id = r.lesson_id
            JOIN golfers g ON g.id = l.golfer_id WHERE g.name = ? ORDER BY r.started, r.id
            """,
            [name],
        )

    def file_of(self, row: sqlite3.Row) -> Path:
        """The file of a row of `recordings`."""
        return self.folder / str(row["path"])

    # Writing

    def add(self, golfer: Golfer) -> None:
        """Adds a golfer.

        Raises
        ------
        LibraryError
            There is one of that name, or none was given.
        """
        check_name(golfer.name)
        with self.writing():
            if self.knows(self.spelt(golfer.name)):
                raise LibraryError(f"there is a golfer {golfer.name!r} already: choose another code name")
            self._put_golfer(golfer)

    def change(self, golfer: Golfer) -> None:
        """Changes what is known of a golfer; MissingError where there is none of that name."""
        with self.writing() as execute:
            self._golfer_row(golfer.name)
            values = (golfer.hand, golfer.mass_kg, golfer.shoe_mm, golfer.notes, golfer.name)
            execute("UPDATE golfers SET hand = ?, mass_kg = ?, shoe_mm = ?, notes = ? WHERE name = ?", values)

    @contextlib.contextmanager
    def writing(self) -> Iterator[Any]:
        """A stretch of changes that happen wholly or not at all; gives `execute(sql, values)`.

        Raises
        ------
        BusyError
            Another program writes and goes on doing so.
        LibraryError
            It is read-only, full, or damaged.
        MissingError
            Something that the changes rest on was erased meanwhile.
        """
        if self.read_only:
            raise LibraryError(
                f"the library {self.path} can only be read (its disk or file is write-protected): nothing was changed"
            )
        with self._said():
            nested = self._connection.in_transaction
            if not nested:
                self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield self._connection.execute
            except BaseException:
                if not nested:
                    self._connection.rollback()
                raise
            if not nested:
                self._connection.commit()

    def forget_traces(self) -> None:
        """Sees to it that what was deleted is in no file any more; as far as other programs let it."""
        with self._said():
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def _put_golfer(self, golfer: Golfer) -> int:
        cursor = self._connection.execute(
            "INSERT INTO golfers (name, hand, mass_kg, shoe_mm, notes) VALUES (?, ?, ?, ?, ?)",
            (golfer.name, golfer.hand, golfer.mass_kg, golfer.shoe_mm, golfer.notes),
        )
        return int(cursor.lastrowid or 0)

    def golfer_id(self, golfer: Golfer) -> int:
        """The row of a golfer, made where there is none; within `writing`."""
        rows = self.rows("SELECT id FROM golfers WHERE name = ?", [golfer.name])
        return int(rows[0]["id"]) if rows else self._put_golfer(golfer)

    def _golfer_row(self, name: str) -> sqlite3.Row:
        rows = self.rows("SELECT * FROM golfers WHERE name = ?", [name])
        if not rows:
            raise MissingError(f"there is no golfer {name!r} in the library: see 'groundtone library list'")
        return rows[0]

    # Opening

    def _open(self) -> sqlite3.Connection:
        try:
            make_folder(self.folder)
        except OSError as error:
            if not self.path.exists():
                raise LibraryError(
                    f"the folder {self.folder} cannot be made ({error.strerror}): name another with GROUNDTONE_HOME"
                ) from error
        with self._said():
            if os.access(self.folder, os.W_OK) and (not self.path.exists() or os.access(self.path, os.W_OK)):
                with contextlib.suppress(OSError):
                    own_file(self.path)
                return self._ready(self._connect("rwc"))
            if not self.path.exists():
                raise LibraryError(
                    f"the folder {self.folder} cannot be written and holds no library: "
                    "name another with GROUNDTONE_HOME"
                )
            self.read_only = True
            # Without a way to write, only a file that nobody changes can be read in write-ahead mode.
            return self._ready(self._connect("ro&immutable=1"))

    def _connect(self, mode: str) -> sqlite3.Connection:
        uri = f"{self.path.absolute().as_uri()}?mode={mode}"
        connection = sqlite3.connect(uri, timeout=self._busy_s, isolation_level=None, uri=True)
        connection.row_factory = sqlite3.Row
        return connection

    def _ready(self, connection: sqlite3.Connection) -> sqlite3.Connection:
        try:
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA secure_delete = ON")
            version = _version(connection)
            if version > len(MIGRATIONS):
                raise LibraryError(f"the library {self.path} was written by a newer program: bring this one up to date")
            if not self.read_only:
                connection.execute("PRAGMA journal_mode = WAL")
                connection.execute("PRAGMA synchronous = FULL")
                _migrate(connection, version)
            elif version < len(MIGRATIONS):
                raise LibraryError(
                    f"the library {self.path} is older than this program and can only be read: make it writable once"
                )
        except BaseException:
            connection.close()
            raise
        return connection

    @contextlib.contextmanager
    def _said(self) -> Iterator[None]:
        """Turns the database's failures into sentences."""
        try:
            yield
        except sqlite3.IntegrityError as error:
            raise MissingError(
                "the golfer or the session was erased or changed by another program meanwhile: nothing was written"
            ) from error
        except sqlite3.OperationalError as error:
            raise _operational(self.path, error) from error
        except sqlite3.DatabaseError as error:
            raise _damaged(self.path) from error


def golfer_of(row: sqlite3.Row) -> Golfer:
    """A golfer from a row of `golfers`."""
    return Golfer(row["name"], row["hand"], row["mass_kg"], row["shoe_mm"], row["notes"])


def _folded(name: str) -> str:
    return " ".join(name.casefold().split())


def check_name(name: str) -> None:
    """LibraryError where a code name will not do."""
    if not name.strip():
        raise LibraryError("a golfer needs a code name: give a word or two")
    try:
        name.encode()
    except UnicodeEncodeError as error:
        raise LibraryError("the code name holds half a character: write it anew") from error
    if "\0" in name:
        raise LibraryError("the code name holds a character without a shape (a zero): write it anew")


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _migrate(connection: sqlite3.Connection, version: int) -> None:
    """Brings the tables to the present form, each step wholly or not at all."""
    while version < len(MIGRATIONS):
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Another program may have been quicker while this one waited.
            version = _version(connection)
            if version < len(MIGRATIONS):
                for statement in MIGRATIONS[version].split(";"):
                    if statement.strip():
                        connection.execute(statement)
                connection.execute(f"PRAGMA user_version = {version + 1}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        version += 1


def _operational(path: Path, error: sqlite3.OperationalError) -> LibraryError:
    text = str(error)
    if "locked" in text or "busy" in text:
        return BusyError("another program is writing the library just now: try again when it is done")
    if "full" in text:
        return LibraryError("the disk is full: free some space and do it again, nothing was changed")
    if "readonly" in text:
        return LibraryError(f"the library {path} can only be read: nothing was changed")
    if "no such table" in text or "no such column" in text:
        return _damaged(path)
    return LibraryError(f"the library {path} cannot be used ({text}): check the folder and the disk")


def _damaged(path: Path) -> DamagedError:
    return DamagedError(
        f"the library {path} is damaged: 'groundtone library rebuild' makes it anew from the recordings"
    )
