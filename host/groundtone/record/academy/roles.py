"""Who may do what in an academy's database: three roles, which the database itself holds people to."""

from __future__ import annotations

from sqlalchemy import Connection

from groundtone.errors import LibraryError
from groundtone.record.academy.migrating import grant
from groundtone.record.academy.postgres import PostgresDatabase, owned

ROLES = {
    "reader": "sees everything and changes nothing",
    "desk": "files sessions, adds and changes pupils; erases nobody",
    "coach": "also renames, merges and erases pupils",
}
"""What each role is for."""


def make_roles(url: str, user: str = "", role: str = "") -> None:
    """Makes the three roles and what they may do, as the library's owner; gives a person one of them.

    Parameters
    ----------
    user, role : str
        Who gets which role; made as somebody who may sign on where there is none of that name. A password is set by
        the database's own means and never passes through here.

    Raises
    ------
    LibraryError
        Who is signed on may not do that.
    """
    database = PostgresDatabase(url, 5.0)
    with database.said():
        connection = database.open()
        try:
            if not owned(connection):
                raise LibraryError(
                    f"{database.user} does not own the library {database.name}: let its owner make roles"
                )
            connection.exec_driver_sql("BEGIN")
            for name in ROLES:
                _make(connection, f"groundtone_{name}", "NOLOGIN")
            grant(connection)
            if user:
                if role not in ROLES:
                    raise LibraryError(f"there is no role {role!r}: choose one of {', '.join(ROLES)}")
                _make(connection, user, "LOGIN")
                for other in ROLES:
                    word = "GRANT groundtone_{} TO {}" if other == role else "REVOKE groundtone_{} FROM {}"
                    connection.exec_driver_sql(word.format(other, _quoted(connection, user)))
            connection.exec_driver_sql("COMMIT")
        finally:
            connection.close()


def _make(connection: Connection, name: str, how: str) -> None:
    if connection.exec_driver_sql("SELECT 1 FROM pg_roles WHERE rolname = %s", (name,)).first() is None:
        connection.exec_driver_sql(f"CREATE ROLE {_quoted(connection, name)} {how}")


def _quoted(connection: Connection, name: str) -> str:
    return str(connection.exec_driver_sql("SELECT quote_ident(%s)", (name,)).scalar_one())
