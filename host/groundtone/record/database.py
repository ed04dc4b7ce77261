"""The library's database: how its file is opened, brought up to date, and what its failures are called."""

from __future__ import annotations

import contextlib
import functools
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from groundtone.errors import BusyError, DamagedError, LibraryError, MissingError
from groundtone.record.schema import MIGRATIONS


@functools.lru_cache(maxsize=8)
def _engine(uri: str, busy_s: float) -> Engine:
    """Kept, because it remembers what statements become: without that, every opening would work them out anew."""

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(uri, timeout=busy_s, isolation_level=None, uri=True)

    return create_engine("sqlite://", creator=connect, poolclass=NullPool, isolation_level="AUTOCOMMIT")


class SqliteFile:
    """A library of one computer: a file in write-ahead mode.

    What only a database of several bays has is empty here: an address, who is signed on, erasures, another clock.
    """

    user = ""
    shared = False
    seen = 0
    clock_off_s = 0.0

    def __init__(self, path: Path, read_only: bool, busy_s: float) -> None:
        self.path, self.read_only, self._busy_s = path, read_only, busy_s

    def __str__(self) -> str:
        return str(self.path)

    def open(self) -> Connection:
        """A connection to tables of today's form.

        Raises
        ------
        LibraryError
            A newer program wrote it, or it is older and can only be read.
        """
        # Without a way to write, only a file that nobody changes can be read in write-ahead mode.
        mode = "ro&immutable=1" if self.read_only else "rwc"
        connection = _engine(f"{self.path.absolute().as_uri()}?mode={mode}", self._busy_s).connect()
        try:
            connection.exec_driver_sql("PRAGMA foreign_keys = ON")
            connection.exec_driver_sql("PRAGMA secure_delete = ON")
            version = _version(connection)
            if version > len(MIGRATIONS):
                raise newer(self.path)
            if not self.read_only:
                connection.exec_driver_sql("PRAGMA journal_mode = WAL")
                connection.exec_driver_sql("PRAGMA synchronous = FULL")
                _migrate(connection, version)
            elif version < len(MIGRATIONS):
                raise LibraryError(
                    f"the library {self.path} is older than this program and can only be read: make it writable once"
                )
        except BaseException:
            connection.close()
            raise
        return connection

    def begin(self, connection: Connection, alone: bool) -> None:
        """Begins a stretch of changes: the lock is taken at once, so that nobody fails halfway."""
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    def sound(self, connection: Connection) -> bool:
        """The file's pages are whole."""
        return [row[0] for row in connection.exec_driver_sql("PRAGMA quick_check")] == ["ok"]

    def forget_traces(self, connection: Connection) -> None:
        """What was deleted is in no file any more; as far as other programs let it."""
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")

    def copy(self, connection: Connection, to: Path) -> None:
        """The file as it is at this moment, whoever writes it meanwhile."""
        connection.exec_driver_sql("VACUUM INTO ?", (str(to),))

    @contextlib.contextmanager
    def said(self) -> Iterator[None]:
        """Turns the database's failures into sentences."""
        try:
            yield
        except DBAPIError as error:
            raise self._named(error.orig) from error
        except sqlite3.DatabaseError as error:
            raise self._named(error) from error

    def _named(self, error: BaseException | None) -> LibraryError:
        text = str(error)
        if isinstance(error, sqlite3.IntegrityError):
            return erased_meanwhile()
        if not isinstance(error, sqlite3.OperationalError) or "no such table" in text or "no such column" in text:
            return DamagedError(
                f"the library {self.path} is damaged: 'groundtone library rebuild' makes it anew from the recordings"
            )
        if "locked" in text or "busy" in text:
            return BusyError("another program is writing the library just now: try again when it is done")
        if "full" in text:
            return LibraryError("the disk is full: free some space and do it again, nothing was changed")
        if "readonly" in text:
            return LibraryError(f"the library {self.path} can only be read: nothing was changed")
        return LibraryError(f"the library {self.path} cannot be used ({text}): check the folder and the disk")


def erased_meanwhile() -> MissingError:
    """What changes rest on is gone."""
    return MissingError(
        "the golfer or the session was erased or changed by another program meanwhile: nothing was written"
    )


def newer(library: object) -> LibraryError:
    """Its tables are of a later form than this program knows."""
    return LibraryError(f"the library {library} was written by a newer program: bring this one up to date")


def _version(connection: Connection) -> int:
    return int(connection.exec_driver_sql("PRAGMA user_version").scalar_one())


def _migrate(connection: Connection, version: int) -> None:
    """Brings the tables to the present form, each step wholly or not at all."""
    while version < len(MIGRATIONS):
        connection.exec_driver_sql("BEGIN IMMEDIATE")
        try:
            # Another program may have been quicker while this one waited.
            version = _version(connection)
            if version < len(MIGRATIONS):
                for statement in MIGRATIONS[version].split(";"):
                    if statement.strip():
                        connection.exec_driver_sql(statement)
                connection.exec_driver_sql(f"PRAGMA user_version = {version + 1}")
            connection.exec_driver_sql("COMMIT")
        except BaseException:
            connection.connection.rollback()
            raise
        version += 1
