"""A PostgreSQL server of the tests' own: in a temporary folder, over a socket, as somebody who is not root."""

import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from patience import until

from groundtone.record.library import Library

# Debian keeps the server's programs out of the way of the shell.
PROGRAMS = max(Path("/usr/lib/postgresql").glob("*/bin"), default=Path("/usr/bin"))


class Server:
    """A running server; `url(user)` is its database's address."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.data = folder, folder / "data"
        self._as = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []
        self._process: subprocess.Popen[bytes] | None = None

    def program(self, *command: object, **more: Any) -> None:
        """Runs one of the server's programs as its owner."""
        subprocess.run(
            [*self._as, str(PROGRAMS / str(command[0])), *map(str, command[1:])], check=True, cwd=self.folder, **more
        )

    def make(self) -> None:
        """A new database cluster; whoever has the role "guarded" needs a password."""
        quiet = {"stdout": subprocess.DEVNULL}
        more = ["--no-sync", "--encoding=UTF8", "--locale=C.UTF-8", "--auth=trust", "-U", "owner"]
        self.program("initdb", "-D", self.data, *more, **quiet)
        rules = self.data / "pg_hba.conf"
        rules.write_text("local all +guarded scram-sha-256\nlocal all all trust\n", "utf-8")

    def start(self, durable: bool = False) -> None:
        settings = {
            "listen_addresses": "",
            "unix_socket_directories": str(self.folder),
            "fsync": "on" if durable else "off",
            "max_connections": "60",
            "shared_buffers": "32MB",
        }
        words = [word for name, value in settings.items() for word in ("-c", f"{name}={value}")]
        log = (self.folder / "log").open("ab")
        with log:
            self._process = subprocess.Popen(
                [*self._as, str(PROGRAMS / "postgres"), "-D", str(self.data), *words],
                stdout=log, stderr=log, cwd=self.folder, start_new_session=True,
            )  # fmt: skip
        until(self._ready, words=lambda: (self.folder / "log").read_text("utf-8", "replace")[-2000:], step_s=0.05)

    def _ready(self) -> bool:
        command = [str(PROGRAMS / "pg_isready"), "-q", "-h", str(self.folder), "-U", "owner", "-d", "postgres"]
        return subprocess.run(command).returncode == 0

    def pid(self) -> int:
        """The server's first process, as its own file tells it."""
        return int((self.data / "postmaster.pid").read_text("utf-8").split()[0])

    def stop(self, how: int = signal.SIGINT) -> None:
        """SIGINT is a fast end in order; SIGKILL is none."""
        if self._process is not None:
            with contextlib.suppress(OSError, ValueError):
                os.kill(self.pid(), how)
            self._process.wait()
            self._process = None

    def url(self, database: str = "postgres", user: str = "owner") -> str:
        return f"postgresql://{user}@/{database}?host={self.folder}"

    def sql(self, text: str, database: str = "postgres") -> list[str]:
        """What plain psql says, a row a line, columns by '|'."""
        command = [str(PROGRAMS / "psql"), "-X", "-At", "-v", "ON_ERROR_STOP=1", self.url(database), "-c", text]
        return subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines()


@contextlib.contextmanager
def served(durable: bool = False) -> Iterator[Server]:
    """A new server; gone afterwards with all of it."""
    # A socket's path has 107 letters at most, and pytest's folders are longer.
    folder = Path(tempfile.mkdtemp(prefix="gt-pg-", dir="/tmp"))
    if os.getuid() == 0:
        shutil.chown(folder, "postgres", "postgres")
    server = Server(folder)
    try:
        server.make()
        server.start(durable)
        yield server
    finally:
        server.stop()
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """One database server for all tests of this process."""
    with served() as one:
        yield one


@pytest.fixture
def database(server: Server, monkeypatch: pytest.MonkeyPatch) -> str:
    """An empty library on it, which this bay is set to; its address."""
    if server.sql("SELECT to_regclass('golfers')") != [""]:
        server.sql("TRUNCATE golfers, mats, erased RESTART IDENTITY CASCADE")
    monkeypatch.setenv("GROUNDTONE_LIBRARY", server.url())
    monkeypatch.setenv("GROUNDTONE_BAY", "bay 1")
    return server.url()


@pytest.fixture(params=["file", "database"])
def either(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Library]:
    """The library in its file, then in a database: what holds for one holds for the other."""
    if request.param == "database":
        request.getfixturevalue("database")
    with Library(tmp_path / "home") as found:
        yield found
