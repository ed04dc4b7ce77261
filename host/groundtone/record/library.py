"""The library: golfers and their sessions in one SQLite file, which can be made anew from the recordings.

Several programs may have it open: readers never wait, a writer waits `BUSY_S` for another one and then says so.
"""

from __future__ import annotations

import contextlib
import functools
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Dialect, Executable, Row, Select, Table, distinct, func, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from groundtone.errors import LibraryError, MissingError
from groundtone.files import make_folder, own_file
from groundtone.link.base import Closing
from groundtone.record.database import SqliteFile
from groundtone.record.session import Golfer, check_name
from groundtone.record.tables import OF_GOLFER, OF_SWING, blocks, golfers, lessons, recordings, strikes

Execute = Callable[..., Any]
"""Carries a statement out: `execute(statement)`, or `execute(statement, rows)` for many rows at once."""

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
        self._home = self._found(busy_s)
        self.read_only = self._home.read_only
        self._changing = False
        with self._home.said():
            self._connection = self._home.open()

    @property
    def recordings(self) -> Path:
        """The folder of the recordings."""
        return self.folder / "recordings"

    def close(self) -> None:
        """Lets go of the file; a second call does nothing."""
        self._connection.close()

    # Reading

    def rows(self, query: Executable, values: Mapping[str, Any] | None = None) -> list[Row[*tuple[Any, ...]]]:
        """What a query gives, its `bindparam`s filled in; columns by name.

        Raises
        ------
        LibraryError
        """
        with self._home.said():
            return list(self._connection.execute(query, values).all())

    def table(self, query: Executable) -> tuple[list[str], list[tuple[Any, ...]]]:
        """Names of the columns, and the rows as plain tuples."""
        with self._home.said():
            result = self._connection.execute(query)
            return list(result.keys()), [tuple(row) for row in result]

    def golfers(self) -> list[Known]:
        """Everybody, by name; sessions in which nobody was named count to the name ''."""
        known = [
            Known(golfer_of(row), row.lessons or 0, row.recordings or 0, row.swings, row.strikes, row.last or "")
            for row in self.rows(_everybody())
        ]
        return sorted(known, key=lambda each: (_plain(each.golfer.name), each.golfer.name))

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
        return bool(self.rows(select(golfers.c.id).where(golfers.c.name == name)))

    def spelt(self, name: str) -> str:
        """A code name as the library spells it: "bertil" is "Bertil"; as it is where nobody is called so."""
        wanted = name.strip()
        if self.knows(wanted):
            return wanted
        known = (str(each.name) for each in self.rows(select(golfers.c.name)))
        return next((name for name in known if _folded(name) == _folded(wanted)), wanted)

    def recordings_of(self, name: str) -> list[Row[*tuple[Any, ...]]]:
        """A golfer's recordings with their lesson, oldest first; rows of the table `recordings` and `lesson`."""
        query = select(recordings, lessons.c.name.label("lesson")).select_from(OF_GOLFER)
        return self.rows(query.where(golfers.c.name == name).order_by(recordings.c.started, recordings.c.id))

    def file_of(self, row: Row[*tuple[Any, ...]]) -> Path:
        """The file of a row of `recordings`."""
        return self.folder / str(row.path)

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
            self.golfer_id(golfer)

    def change(self, golfer: Golfer) -> None:
        """Changes what is known of a golfer; MissingError where there is none of that name."""
        with self.writing() as execute:
            self._golfer_row(golfer.name)
            execute(update(golfers).where(golfers.c.name == golfer.name), _columns(golfer))

    @contextlib.contextmanager
    def writing(self) -> Iterator[Execute]:
        """A stretch of changes that happen wholly or not at all; gives `execute`.

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
        with self._home.said():
            if self._changing:
                yield self._connection.execute
                return
            self._connection.exec_driver_sql(self._home.begin)
            self._changing = True
            try:
                yield self._connection.execute
                self._connection.exec_driver_sql("COMMIT")
            except BaseException:
                if self._connection.invalidated:
                    # Ctrl-C or SIGTERM within the driver: it has let go of the file, and with it of what was begun.
                    self._connection.close()
                    self._connection = self._home.open()
                else:
                    # The driver knows whether there is anything to be taken back: a full disk has done it already.
                    self._connection.connection.rollback()
                raise
            finally:
                self._changing = False

    def insert_new(self, table: Table) -> Any:
        """A statement that puts a row in, where none stands in its way."""
        of_home = postgresql if self._connection.dialect.name == "postgresql" else sqlite
        return of_home.insert(table).on_conflict_do_nothing()

    def insert_rows(self, table: Table, rows: list[tuple[Any, ...]]) -> None:
        """Puts many rows in at once, whole and in the order of the columns; within `writing`.

        They go to the driver as they are: what a query is worked through by takes as long again when rows are many.
        """
        if rows:
            self._connection.exec_driver_sql(_insert_text(table, self._connection.dialect), rows)

    def forget_traces(self) -> None:
        """Sees to it that what was deleted is in no file any more; as far as other programs let it."""
        with self._home.said():
            self._home.forget_traces(self._connection)

    def sound(self) -> bool:
        """The database itself is whole."""
        with self._home.said():
            return self._home.sound(self._connection)

    def copy(self, to: Path) -> None:
        """Writes the library's file to another place, as it is at this moment."""
        with self._home.said():
            self._home.copy(self._connection, to)

    def golfer_id(self, golfer: Golfer) -> int:
        """The row of a golfer, made where there is none; within `writing`."""
        of_name = select(golfers.c.id).where(golfers.c.name == golfer.name)
        rows = self.rows(of_name)
        if not rows:
            self._connection.execute(self.insert_new(golfers), _columns(golfer))
            rows = self.rows(of_name)
        return int(rows[0].id)

    def _golfer_row(self, name: str) -> Row[*tuple[Any, ...]]:
        rows = self.rows(select(golfers).where(golfers.c.name == name))
        if not rows:
            raise MissingError(f"there is no golfer {name!r} in the library: see 'groundtone library list'")
        return rows[0]

    # Opening

    def _found(self, busy_s: float) -> SqliteFile:
        """The file, made where it is missing and can be."""
        try:
            make_folder(self.folder)
        except OSError as error:
            if not self.path.exists():
                raise LibraryError(
                    f"the folder {self.folder} cannot be made ({error.strerror}): name another with GROUNDTONE_HOME"
                ) from error
        if os.access(self.folder, os.W_OK) and (not self.path.exists() or os.access(self.path, os.W_OK)):
            with contextlib.suppress(OSError):
                own_file(self.path)
            return SqliteFile(self.path, False, busy_s)
        if not self.path.exists():
            raise LibraryError(
                f"the folder {self.folder} cannot be written and holds no library: name another with GROUNDTONE_HOME"
            )
        return SqliteFile(self.path, True, busy_s)


@functools.lru_cache(maxsize=32)
def _insert_text(table: Table, dialect: Dialect) -> str:
    return str(insert(table).compile(dialect=dialect, column_keys=[column.name for column in table.c]))


@functools.cache
def _everybody() -> Select[Any]:
    of_golfer = golfers.c.id == lessons.c.golfer_id
    told = (
        select(
            lessons.c.golfer_id,
            func.count(distinct(lessons.c.id)).label("lessons"),
            func.count(recordings.c.id).label("recordings"),
            func.max(recordings.c.started).label("last"),
        )
        .select_from(lessons.outerjoin(recordings))
        .group_by(lessons.c.golfer_id)
        .subquery()
    )
    counts = [
        select(func.count()).select_from(source).where(of_golfer).correlate(golfers).scalar_subquery().label(name)
        for name, source in (
            ("swings", OF_SWING.join(recordings, recordings.c.id == blocks.c.recording_id).join(lessons)),
            ("strikes", strikes.join(recordings, recordings.c.id == strikes.c.recording_id).join(lessons)),
        )
    ]
    return select(golfers, told.c.lessons, told.c.recordings, told.c.last, *counts).select_from(
        golfers.outerjoin(told, told.c.golfer_id == golfers.c.id)
    )


def golfer_of(row: Row[*tuple[Any, ...]]) -> Golfer:
    """A golfer from a row of `golfers`."""
    return Golfer(row.name, row.hand, row.mass_kg, row.shoe_mm, row.notes)


def _columns(golfer: Golfer) -> dict[str, Any]:
    return {
        "name": golfer.name,
        "hand": golfer.hand,
        "mass_kg": golfer.mass_kg,
        "shoe_mm": golfer.shoe_mm,
        "notes": golfer.notes,
    }


def _plain(name: str) -> str:
    """Small letters for the order of names: of the Latin alphabet alone, as the database would."""
    return "".join(letter.lower() if letter.isascii() else letter for letter in name)


def _folded(name: str) -> str:
    return " ".join(name.casefold().split())
