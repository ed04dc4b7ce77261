"""Where an academy's library is, what this bay is called, and where recordings are kept: the environment, then a file.

Read at the start of every command, so nothing heavy is imported here.
"""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from groundtone.errors import LibraryError, Telling
from groundtone.files import write_whole

FILE = "academy.toml"
_SCHEMES = ("postgresql", "postgres")


@dataclass(frozen=True)
class Where:
    """An academy as a bay sees it; empty is the small case.

    Attributes
    ----------
    library : str
        The database's URL, postgresql://…; empty for the SQLite file of this computer.
    bay : str
        What this bay is called.
    recordings : str
        A place for recordings as fsspec names it (a folder, s3://…); empty keeps them in the data folder alone.
    """

    library: str = ""
    bay: str = ""
    recordings: str = ""


def where(folder: Path) -> Where:
    """What the environment says (GROUNDTONE_LIBRARY, GROUNDTONE_BAY, GROUNDTONE_RECORDINGS), else the setting.

    Raises
    ------
    LibraryError
        The setting cannot be read, or the library's address is none.
    """
    kept = _kept(folder / FILE)
    names = ("library", "bay", "recordings")
    found = Where(*(os.environ.get(f"GROUNDTONE_{name.upper()}", str(kept.get(name, ""))).strip() for name in names))
    if found.library:
        check_address(found.library)
    return found if not found.library or found.bay else Where(found.library, _computer(), found.recordings)


def keep(folder: Path, what: Where) -> None:
    """Keeps the setting; a password has no place in it.

    Raises
    ------
    LibraryError
    """
    if what.library:
        check_address(what.library)
        if urlsplit(what.library).password is not None:
            raise LibraryError(
                "a password is kept in no file: leave it out of the address, and give it by PGPASSWORD or the keyring"
            )
    import tomli_w

    with Telling(LibraryError, f"{folder / FILE} cannot be written", "check the folder and the disk"):
        write_whole(folder / FILE, tomli_w.dumps({k: v for k, v in vars(what).items() if v}))


def check_address(url: str) -> None:
    """LibraryError where an address is none of a PostgreSQL database."""
    try:
        parts = urlsplit(url)
        usable = parts.scheme in _SCHEMES and len(parts.path) > 1
        _ = parts.port
    except ValueError:
        usable = False
    if not usable:
        raise LibraryError(
            "the library's address does not name a PostgreSQL database: write postgresql://USER@HOST/DATABASE"
        )


def _computer() -> str:
    import platform

    return platform.node() or "a bay"


def _kept(path: Path) -> dict[str, object]:
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError) as error:
        raise LibraryError(f"{path} cannot be read ({error}): write it anew with 'groundtone library at'") from error
