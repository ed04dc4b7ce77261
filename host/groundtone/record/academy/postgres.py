"""The library in a PostgreSQL database: how it is opened, locked and brought up, and what its failures are called."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

from sqlalchemy import Connection
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError, PendingRollbackError, ResourceClosedError

from groundtone.errors import AwayError, BusyError, LibraryError
from groundtone.record.academy.migrating import bring_up, grant_again
from groundtone.record.academy.signing_on import SERVICE, engine_of, named, password_of
from groundtone.record.database import erased_meanwhile, newer
from groundtone.record.schema import MIGRATIONS

# Whoever changes what others rest on has the library alone; filing something new is done side by side.
_LOCK = 0x67726F756E64


class PostgresDatabase:
    """A library of several bays.

    Attributes
    ----------
    user : str
        Who is signed on.
    read_only : bool
        Who is signed on may only read.
    seen : int
        The newest erasure when it was opened.
    clock_off_s : float
        This computer's clock against the database's, s; ahead is positive.
    """

    shared = True

    def __init__(self, url: str, busy_s: float) -> None:
        self.url, self._busy_s = url, busy_s
        with _address(url):
            self.name = named(make_url(url))
        self.read_only = False
        self.seen = 0
        self.clock_off_s = 0.0
        self.user = ""

    def __str__(self) -> str:
        return self.name

    def open(self) -> Connection:
        """A connection to tables of today's form.

        Raises
        ------
        AwayError
            It cannot be reached.
        LibraryError
            It is refused, older and not to be changed by who is signed on, or newer.
        """
        connection = engine_of(self.url, password_of(self.url)).connect()
        try:
            connection.exec_driver_sql(f"SET lock_timeout = {max(round(self._busy_s * 1000), 1)}")
            version = version_of(connection)
            if version > len(MIGRATIONS):
                raise newer(self.name)
            if version < len(MIGRATIONS):
                self._bring_up(connection, version)
            self.user, writes, now, self.seen = connection.exec_driver_sql(
                "SELECT session_user, has_table_privilege('recordings', 'INSERT'), "
                "extract(epoch FROM clock_timestamp())::float8, (SELECT coalesce(max(id), 0) FROM erased)"
            ).one()
            self.read_only = not writes
            self.clock_off_s = time.time() - now
        except BaseException:
            connection.close()
            raise
        return connection

    def _bring_up(self, connection: Connection, version: int) -> None:
        if not connection.exec_driver_sql("SELECT has_schema_privilege(current_schema(), 'CREATE')").scalar_one():
            raise LibraryError(
                f"the library {self.name} is older than this program: let its owner open it once, who may change tables"
                if version
                else f"there is no library in {self.name} yet: let its owner open it once, who may make tables"
            )
        bring_up(self.url)
        grant_again(connection)

    def begin(self, connection: Connection, alone: bool) -> None:
        """Begins a stretch of changes, and waits for whoever has the library alone."""
        connection.exec_driver_sql("BEGIN")
        kind = "" if alone else "_shared"
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock{kind}({_LOCK})")

    def sound(self, connection: Connection) -> bool:
        """It answers; its pages are the database's own business."""
        return bool(connection.exec_driver_sql("SELECT 1").scalar_one())

    def forget_traces(self, connection: Connection) -> None:
        """What was deleted leaves the tables' files now where who is signed on owns them, else with the next vacuum."""
        if owned(connection):
            connection.exec_driver_sql("VACUUM")

    def copy(self, connection: Connection, to: Path) -> None:
        """A database is backed up by its own means."""
        raise LibraryError(f"the library {self.name} is a database: back it up with pg_dump, and recordings as files")

    @contextlib.contextmanager
    def said(self) -> Iterator[None]:
        """Turns the database's failures into sentences."""
        try:
            yield
        except DBAPIError as error:
            raise self._named(error.orig, error.connection_invalidated) from error
        except (PendingRollbackError, ResourceClosedError) as error:
            raise AwayError(f"the way to the library {self.name} was cut: begin again, nothing was changed") from error

    def _named(self, error: BaseException | None, cut: bool) -> LibraryError:
        state, text = getattr(error, "sqlstate", None) or "", " ".join(str(error).split())
        if state == "23503":
            return erased_meanwhile()
        if state in ("23505", "55P03", "40P01", "40001"):
            return BusyError("another desk is writing the same just now: try again when it is done")
        if state == "42501":
            return LibraryError(
                f"{self.user or 'who is signed on'} may not do that in the library {self.name}: nothing was changed"
            )
        if state in ("53100", "53200"):
            return LibraryError(f"the library's computer is full ({self.name}): nothing was changed")
        if state in ("42P01", "42703"):
            return LibraryError(f"{self.name} holds tables of another form: name another database")
        if "password" in text or state == "28P01":
            return LibraryError(
                f"the library {self.name} does not take the password: set PGPASSWORD, or keep it in the keyring with "
                f"'keyring set {SERVICE} {self.name}'"
            )
        if any(word in text for word in ("does not exist", "not translate host", "invalid connection option")):
            return LibraryError(f"there is no library {self.name} ({_short(text)}): look at its address")
        if cut or not state or state.startswith(("08", "57P")):
            return AwayError(
                f"the library {self.name} cannot be reached ({_short(text)}): look at the network and the database"
            )
        return LibraryError(f"the library {self.name} cannot be used ({_short(text)}): ask who keeps it")


def owned(connection: Connection) -> bool:
    """Who is signed on owns the tables."""
    query = "SELECT pg_has_role(relowner, 'USAGE') FROM pg_class WHERE oid = 'golfers'::regclass"
    return bool(connection.exec_driver_sql(query).scalar_one())


def version_of(connection: Connection) -> int:
    """Which of the tables' forms a database has; 0 for none yet."""
    if connection.exec_driver_sql("SELECT to_regclass('alembic_version')").scalar_one() is None:
        return 0
    told = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one_or_none()
    if told is None:
        return 0
    return int(told) if str(told).isdecimal() else len(MIGRATIONS) + 1


def _short(text: str) -> str:
    return text.rsplit("FATAL: ", 1)[-1].strip().rstrip(".:")[:160]


@contextlib.contextmanager
def _address(url: str) -> Iterator[None]:
    try:
        parse_qs(urlsplit(url).query, strict_parsing=bool(urlsplit(url).query))
        yield
    except ValueError as error:
        raise LibraryError("the library's address cannot be read: write postgresql://USER@HOST/DATABASE") from error
