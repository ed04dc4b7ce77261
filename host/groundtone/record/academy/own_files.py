"""What is one golfer's own (bands, a plan) follows them from bay to bay: who changed it wins, two who did are told."""

from __future__ import annotations

import contextlib
import hashlib
import json
from pathlib import Path

from sqlalchemy import delete, insert, select

from groundtone.errors import LibraryError, Telling
from groundtone.files import write_whole
from groundtone.record.library import Library
from groundtone.record.tables import golfers, own_files

_BASE = "own files.json"


def exchange(library: Library, golfer: str, files: dict[str, Path]) -> list[str]:
    """Brings what another bay has changed of a golfer's files here, and what was changed here there.

    Parameters
    ----------
    files : dict
        What each is called, and where it lies here; it may be missing.

    Returns
    -------
    list of str
        A sentence for each that was changed at both since it was last the same: both stay as they are.

    Raises
    ------
    LibraryError
        A file or the library cannot be read or written.
    """
    known = library.rows(select(golfers.c.id).where(golfers.c.name == golfer))
    if not known or not library.shared or library.read_only:
        return []
    base, out = _base(library.folder), []
    for kind, path in files.items():
        with library.writing() as execute:
            of_it = (own_files.c.golfer_id == known[0].id, own_files.c.kind == kind)
            rows = library.rows(select(own_files).where(*of_it))
            there = rows[0].text if rows else None
            with Telling(LibraryError, f"{path} cannot be read", "check the disk"):
                here = path.read_text("utf-8") if path.exists() else None
            before = base.get(path.name, "")
            if _digest(here) == _digest(there):
                pass
            elif _digest(there) == before or (there is None and here is not None and before == ""):
                execute(delete(own_files).where(*of_it))
                if here is not None:
                    values = {"golfer_id": known[0].id, "kind": kind, "text": here, "bay": library.bay}
                    execute(insert(own_files), values)
            elif _digest(here) == before:
                _replace(path, there)
                here = there
            else:
                out.append(
                    f"the {kind} of {golfer!r} were changed here and at {rows[0].bay if rows else 'another bay'!r}: "
                    "each bay keeps its own until 'groundtone library own' says which"
                )
                continue
            base[path.name] = _digest(here)
    with Telling(LibraryError, f"{library.folder / _BASE} cannot be written", "check the folder and the disk"):
        write_whole(library.folder / _BASE, json.dumps(base))
    return out


def decide(library: Library, golfer: str, files: dict[str, Path], here: bool) -> None:
    """Says whose changes hold where both sides have some: those of this bay, or the library's. Errors as `exchange`."""
    base = _base(library.folder)
    known = library.rows(select(golfers.c.id).where(golfers.c.name == library.golfer(golfer).name))
    for kind, path in files.items():
        rows = library.rows(select(own_files).where(own_files.c.golfer_id == known[0].id, own_files.c.kind == kind))
        mine = path.read_text("utf-8") if path.exists() else None
        base[path.name] = _digest(rows[0].text if rows else None) if here else _digest(mine)
    write_whole(library.folder / _BASE, json.dumps(base))
    exchange(library, golfer, files)


def forget_base(folder: Path, names: list[str]) -> None:
    """A golfer who is erased leaves nothing here either."""
    base = _base(folder)
    if set(names) & set(base):
        write_whole(folder / _BASE, json.dumps({name: value for name, value in base.items() if name not in names}))


def _replace(path: Path, text: str | None) -> None:
    with Telling(LibraryError, f"{path} cannot be written", "check the folder and the disk"):
        if text is None:
            path.unlink(missing_ok=True)
        else:
            write_whole(path, text)


def _digest(text: str | None) -> str:
    return "" if text is None else hashlib.sha256(text.encode()).hexdigest()


def _base(folder: Path) -> dict[str, str]:
    with contextlib.suppress(OSError, ValueError):
        table = json.loads((folder / _BASE).read_text("utf-8"))
        if isinstance(table, dict):
            return {str(name): str(value) for name, value in table.items()}
    return {}
