"""The library: golfers and their sessions in one SQLite file, which can be made anew from the recordings.

Several programs may have it open: readers never wait, a writer waits `BUSY_S` for another one and then says so.
"""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Executable, Row, Table, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from groundtone.errors import LibraryError, MissingError, Telling
from groundtone.files import make_folder, own_file
from groundtone.link.base import Closing
from groundtone.record.academy.where import Where, where
from groundtone.record.database import SqliteFile
from groundtone.record.golfer_rows import columns_of, digest_of, everybody, folded, golfer_of, in_order, merged
from groundtone.record.session import Golfer, check_name
from groundtone.record.tables import OF_GOLFER, erased, golfers, insert_lists, insert_text, lessons, recordings

if TYPE_CHECKING:
    from groundtone.record.academy.places import Place

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
    at : Where, optional
        Which library; without it what `academy.where` says: the folder's file unless this is a bay of an academy.

    Attributes
    ----------
    read_only : bool
        Nothing can be written: the disk, the file or the database forbids it. Reading works.
    bay : str
        What this bay is called; empty where there is one.

    Raises
    ------
    LibraryError
        It cannot be opened: the disk, damage, or a newer program wrote it; AwayError where it cannot be reached.
    """

    def __init__(self, folder: Path, busy_s: float = BUSY_S, at: Where | None = None) -> None:
        self.folder = folder
        self.path = folder / FILE
        at = where(folder) if at is None else at
        self.bay, self._place_url = at.bay if at.library else "", at.recordings
        self._home = self._database(at.library, busy_s) if at.library else self._found(busy_s)
        self.read_only = self._home.read_only
        self._changing = False
        with self._home.said():
            self._connection = self._home.open()
        self.read_only = self._home.read_only

    @property
    def recordings(self) -> Path:
        """The folder of the recordings."""
        return self.folder / "recordings"

    @property
    def name(self) -> str:
        """What people know it by: its file, or who is signed on where."""
        return str(self._home)

    @property
    def shared(self) -> bool:
        """Several bays write it."""
        return self._home.shared

    @property
    def user(self) -> str:
        """Who is signed on; empty for a file."""
        return self._home.user

    @property
    def seen(self) -> int:
        """The newest erasure when it was opened; 0 for a file, where nobody is away."""
        return self._home.seen

    @property
    def clock_off_s(self) -> float:
        """How much this computer's clock is ahead of the library's, s."""
        return self._home.clock_off_s

    @cached_property
    def place(self) -> Place | None:
        """Where recordings are kept beside this folder; LibraryError where it is none."""
        if not self._place_url:
            return None
        from groundtone.record.academy.places import Place

        return Place(self._place_url)

    def close(self) -> None:
        """Lets go of the database; a second call does nothing."""
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
            for row in self.rows(everybody())
        ]
        return sorted(known, key=lambda each: in_order(each.golfer.name))

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
        return next((name for name in known if folded(name) == folded(wanted)), wanted)

    def recordings_of(self, name: str) -> list[Row[*tuple[Any, ...]]]:
        """A golfer's recordings with their lesson, oldest first; rows of the table `recordings` and `lesson`."""
        query = select(recordings, lessons.c.name.label("lesson")).select_from(OF_GOLFER)
        return self.rows(query.where(golfers.c.name == name).order_by(recordings.c.started, recordings.c.id))

    def file_of(self, row: Row[*tuple[Any, ...]]) -> Path:
        """The file of a row of `recordings`; it may lie at the place of the recordings alone (`here`)."""
        return self.folder / str(row.path)

    def here(self, row: Row[*tuple[Any, ...]]) -> Path:
        """The same, brought here where it lies elsewhere; as it is where nobody can bring it.

        Raises
        ------
        AwayError, LibraryError
            The place cannot be reached, or has it not.
        """
        path = self.file_of(row)
        if not path.exists() and self.place is not None:
            self.place.fetch(str(row.sha256), path)
        return path

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

    def change(self, golfer: Golfer, was: Golfer | None = None) -> Golfer:
        """Changes what is known of a golfer; as it is known then.

        Parameters
        ----------
        was : Golfer, optional
            What was on the screen. What another desk has changed since stays, where this one changed something else.

        Raises
        ------
        MissingError
            There is none of that name.
        LibraryError
            Another desk has changed the same since: nothing is written.
        """
        with self.writing() as execute:
            now = golfer_of(self._golfer_row(golfer.name))
            golfer = golfer if was is None else merged(golfer, was, now)
            execute(update(golfers).where(golfers.c.name == golfer.name), columns_of(golfer))
            return golfer

    @contextlib.contextmanager
    def writing(self, alone: bool = True) -> Iterator[Execute]:
        """A stretch of changes that happen wholly or not at all; gives `execute`.

        Parameters
        ----------
        alone : bool
            Nobody else writes meanwhile. What rests on nothing that may go can be put in side by side.

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
                f"the library {self.name} can only be read (its disk or file is write-protected): nothing was changed"
                if not self.shared
                else f"{self.user} may only read the library {self.name}: nothing was changed"
            )
        with self._home.said():
            if self._changing:
                yield self._connection.execute
                return
            self._changing = True
            try:
                self._home.begin(self._connection, alone)
                yield self._connection.execute
                self._connection.exec_driver_sql("COMMIT")
            except BaseException:
                if self._connection.invalidated:
                    # Ctrl-C or SIGTERM within the driver: it has let go of the file, and with it of what was begun. So
                    # has a cable that was cut; whoever begins again opens that anew.
                    self._connection.close()
                    if not self.shared:
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
        if not rows:
            return
        if self.shared:
            # One statement with a list a column: a row each would go through the server's hands row by row.
            self._connection.exec_driver_sql(*insert_lists(table, rows))
            return
        self._connection.exec_driver_sql(insert_text(table, self._connection.dialect), rows)

    def bury(self, name: str, now: int | None = None) -> None:
        """Remembers that a golfer was erased, or is called otherwise `now` (the row), for bays that are away.

        Within `writing`. A file has no such bays. Who was never named may be anybody: nobody else's sessions go with
        them.
        """
        if self.shared and name:
            salt = secrets.token_hex(8)
            self._connection.execute(insert(erased), {"who": f"{salt}:{digest_of(salt, name)}", "golfer_id": now})

    def called_now(self, name: str, seen: int) -> str | None:
        """What a golfer of a bay that knew of `seen` erasures and renamings is called now; None: was erased since."""
        if not (self.shared and name):
            return name
        later = select(erased.c.who, erased.c.golfer_id, golfers.c.name).select_from(erased.outerjoin(golfers))
        for row in self.rows(later.where(erased.c.id > seen).order_by(erased.c.id)):
            salt, digest = row.who.split(":")
            if digest_of(salt, name) == digest:
                return None if row.golfer_id is None else str(row.name)
        return name

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
            self._connection.execute(self.insert_new(golfers), columns_of(golfer))
            rows = self.rows(of_name)
        return int(rows[0].id)

    def _golfer_row(self, name: str) -> Row[*tuple[Any, ...]]:
        rows = self.rows(select(golfers).where(golfers.c.name == name))
        if not rows:
            raise MissingError(f"there is no golfer {name!r} in the library: see 'groundtone library list'")
        return rows[0]

    # Opening

    def _database(self, url: str, busy_s: float) -> Any:
        from groundtone.record.academy.postgres import PostgresDatabase

        with Telling(LibraryError, f"the folder {self.folder} cannot be made", "name another with GROUNDTONE_HOME"):
            make_folder(self.folder)
        return PostgresDatabase(url, busy_s)

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
