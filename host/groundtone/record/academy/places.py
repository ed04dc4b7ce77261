"""Recordings at a place of their own, by what they hold: any folder, share or bucket that fsspec opens.

A recording's name there is the SHA-256 of its bytes, so nothing is written over, the same bytes lie there once, and
whether they are right can be told from them alone.
"""

from __future__ import annotations

import contextlib
import hashlib
import secrets
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from groundtone.errors import AwayError, LibraryError
from groundtone.files import make_folder, new_file

_BLOCK = 1 << 20


class Place:
    """Where recordings lie beside the data folder.

    Parameters
    ----------
    url : str
        As fsspec names it; credentials are the file system's own matter (for S3 the usual AWS environment).

    Raises
    ------
    LibraryError
        It is of a kind that is not installed, or not a place at all.
    """

    def __init__(self, url: str) -> None:
        try:
            import fsspec
        except ImportError:
            raise LibraryError(
                "recordings at a place of their own need more than is installed: pip install 'groundtone[academy]'"
            ) from None
        self.url = url
        try:
            self._files, self._root = fsspec.core.url_to_fs(url, use_listings_cache=False)
        except (ValueError, ImportError, OSError) as error:
            raise LibraryError(f"{url} is no place for recordings ({error}): write a folder or s3://BUCKET") from error

    def _path(self, sha256: str) -> str:
        return f"{self._root.rstrip('/')}/{sha256[:2]}/{sha256}.mcap"

    def make(self) -> None:
        """Makes the place where it is missing; AwayError."""
        self._asked(lambda: self._files.makedirs(self._root, exist_ok=True))

    def has(self, sha256: str) -> bool:
        """Something of that name lies there; AwayError where nobody can tell."""
        return bool(self._asked(lambda: self._files.exists(self._path(sha256))))

    def put(self, path: Path, sha256: str) -> None:
        """Brings a file there and reads it back: only what came whole counts.

        Raises
        ------
        AwayError
            The place cannot be reached, or did not take it whole; it is here all the same.
        """
        if self.has(sha256) and self._digest(sha256) == sha256:
            return
        to = self._path(sha256)
        # Under another name first: what was cut off must not lie there as if it were whole.
        part = f"{to}.{secrets.token_hex(4)}.part"

        def bring() -> None:
            # Its own folder alone: a share that is not mounted must not be filled as if it were there.
            with contextlib.suppress(FileExistsError):
                self._files.mkdir(to.rsplit("/", 1)[0], create_parents=False)
            try:
                self._files.put_file(str(path), part)
                self._files.mv(part, to)
            except BaseException:
                if self._files.exists(part):
                    self._files.rm_file(part)
                raise

        self._asked(bring)
        if self._digest(sha256) != sha256:
            raise AwayError(f"{self.url} holds {path.name} otherwise than it was sent: it stays here, try again")

    def fetch(self, sha256: str, to: Path) -> None:
        """Brings a recording into a file here.

        Raises
        ------
        AwayError
            The place cannot be reached.
        LibraryError
            It is not there, or damaged.
        """
        if not self.has(sha256):
            raise LibraryError(f"{to.name} is neither here nor at {self.url}: see 'groundtone library check'")
        make_folder(to.parent)
        part = to.with_name(f".{to.name}.{secrets.token_hex(4)}")
        try:
            new_file(part).close()
            self._asked(lambda: self._files.get_file(self._path(sha256), str(part)))
            with part.open("rb") as file:
                if hashlib.file_digest(file, "sha256").hexdigest() != sha256:
                    raise LibraryError(f"{to.name} at {self.url} is damaged: see 'groundtone library check'")
            part.replace(to)
        finally:
            part.unlink(missing_ok=True)

    def remove(self, sha256s: Iterable[str]) -> None:
        """Removes recordings; what is not there already is as good. AwayError where it cannot be done."""
        for sha256 in sha256s:
            if self.has(sha256):
                self._asked(lambda sha256=sha256: self._files.rm_file(self._path(sha256)))

    def all(self) -> set[str]:
        """The names of all that lies there; AwayError."""
        found = self._asked(lambda: self._files.find(self._root))
        return {path.rsplit("/", 1)[-1].removesuffix(".mcap") for path in found if path.endswith(".mcap")}

    def whole(self, sha256: str) -> bool:
        """What lies there under a name is what the name says; AwayError."""
        return self._digest(sha256) == sha256

    def _digest(self, sha256: str) -> str:
        def read() -> str:
            digest = hashlib.sha256()
            with self._files.open(self._path(sha256), "rb") as file:
                while block := file.read(_BLOCK):
                    digest.update(block)
            return digest.hexdigest()

        return str(self._asked(read))

    def _asked(self, ask: Any) -> Any:
        try:
            return ask()
        except Exception as error:
            # Each file system has failures of its own, and only some of them are an OSError.
            why = " ".join(str(error).split())[:120] or type(error).__name__
            raise AwayError(f"the recordings at {self.url} cannot be reached ({why}): look at the place") from error
