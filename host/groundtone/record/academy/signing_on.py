"""How a bay signs on to the academy's database: the engine, and where a password may come from."""

from __future__ import annotations

import functools
import os

from sqlalchemy import Engine, create_engine
from sqlalchemy.engine import URL, make_url
from sqlalchemy.pool import NullPool

from groundtone.errors import LibraryError

# A cable that was pulled is noticed so soon, unless the address says otherwise (libpq's own settings).
_PATIENCE = {"connect_timeout": "5", "tcp_user_timeout": "10000", "keepalives_idle": "5"}
SERVICE = "groundtone"
"""What passwords are kept under in the system's keyring."""


@functools.lru_cache(maxsize=8)
def engine_of(url: str, password: str) -> Engine:
    """Kept, because it remembers what statements become; every connection is new all the same."""
    try:
        import psycopg  # noqa: F401
    except ImportError:
        raise LibraryError(
            "a library on PostgreSQL needs more than is installed: pip install 'groundtone[academy]'"
        ) from None
    parts = make_url(url).set(drivername="postgresql+psycopg")
    parts = parts.update_query_dict({k: v for k, v in _PATIENCE.items() if k not in parts.query})
    if password:
        parts = parts.set(password=password)
    return create_engine(
        parts, poolclass=NullPool, isolation_level="AUTOCOMMIT", paramstyle="format", use_native_hstore=False
    )


def password_of(url: str) -> str:
    """The password from the system's keyring; empty where the environment or the address has it, or nobody does."""
    parts = make_url(url)
    if parts.password or os.environ.get("PGPASSWORD") or os.environ.get("PGPASSFILE") or not parts.username:
        return ""
    try:
        import keyring
        import keyring.errors

        return keyring.get_password(SERVICE, named(parts)) or ""
    except Exception:
        # No keyring on this computer, or one that is locked: the database says whether it wants a password.
        return ""


def named(parts: URL) -> str:
    """USER@HOST/DATABASE: what people and the keyring call a database."""
    host = parts.host or str(parts.query.get("host", "this computer"))
    return f"{parts.username}@{host}/{parts.database}" if parts.username else f"{host}/{parts.database}"
