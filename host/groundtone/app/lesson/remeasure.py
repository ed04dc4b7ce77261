"""Measures recordings of the library anew, many at a time: on processes of this computer, or on a Dask cluster.

Each recording is measured and put in by whoever measures it, in one step. So nothing is lost when a worker or this
program is killed, what is done is done, and no result travels.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from importlib import import_module
from itertools import islice
from pathlib import Path
from typing import Any

from groundtone.errors import GroundtoneError, LibraryError
from groundtone.record.academy.where import Where

# So many sessions of each worker are on their way at once: none waits for its next one, and memory stays bounded.
_AHEAD = 2
# A session is given up when so many workers have died over it: more than are ever killed by hand.
_DEATHS = 10
# Workers that put in what they measured wait for each other, s.
_BUSY_S = 60.0
WORKERS = "GROUNDTONE_WORKERS"
"""How many processes of this computer measure; without it as many as it has processors, less one."""


def measure_one(folder: str, at: Where, session: str, version: str, again: bool = False) -> str:
    """Measures one recording and puts it in; a sentence why it could not be, else empty. Runs in a worker.

    Parameters
    ----------
    folder : str
        The data folder of whoever asks; a worker of another computer brings the recording into one of its own.
    """
    from groundtone.record.academy.versions import put_anew, row_of
    from groundtone.record.library import Library
    from groundtone.record.reader import open_recording
    from groundtone.review.session_review import analysed

    with contextlib.ExitStack() as held:
        try:
            with Library(_any(Path(folder)), _BUSY_S, at) as library:
                row = row_of(library, session)
            if row is None or (row.version == version and not again):
                return ""
            own = Path(folder) / row.path
            home = Path(folder) if own.exists() else Path(held.enter_context(tempfile.TemporaryDirectory()))
            with Library(home, _BUSY_S, at) as library:
                recording = open_recording(library.here(row))
                found, doubts = analysed(recording)
                put_anew(library, recording, found, doubts, version)
        except GroundtoneError as error:
            return str(error)
    return ""


def _any(folder: Path) -> Path:
    """The folder, or where that is another computer's, one that can be made here."""
    return folder if folder.exists() else Path(tempfile.gettempdir())


def remeasured(folder: Path, at: Where, sessions: list[str], version: str, cluster: str = "", again: bool = False,
               workers: int = 0) -> Iterator[tuple[str, str]]:  # fmt: skip
    """Measures sessions anew.

    Parameters
    ----------
    sessions : list of str
        Their ids.
    cluster : str
        The address of a Dask scheduler; empty: processes of this computer.
    workers : int
        How many processes; 0: what the environment says.

    Yields
    ------
    session, why_not : str
        One that has been dealt with, and a sentence why it could not be measured; empty where it was.

    Raises
    ------
    LibraryError
        The cluster cannot be reached, or is another computer while the library is a file on this one.
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise LibraryError("to measure anew needs more than is installed: pip install 'groundtone[academy]'") from None
    if cluster and not at.library:
        raise LibraryError("the library is a file of this computer: a cluster needs one on PostgreSQL")
    with contextlib.ExitStack() as held:
        client = held.enter_context(_client(held, cluster, workers or _workers()))
        flying = _AHEAD * max(len(client.scheduler_info(n_workers=-1)["workers"]), 1)
        waiting = iter(sessions)

        def sent(session: str) -> Any:
            return client.submit(measure_one, str(folder), at, session, version, again, key=session, pure=False)

        going = distributed.as_completed([sent(session) for session in islice(waiting, flying)])
        for future in going:
            error = future.exception()
            yield str(future.key), _sentence(error) if error is not None else str(future.result())
            future.release()
            for session in islice(waiting, 1):
                going.add(sent(session))


def _client(held: contextlib.ExitStack, cluster: str, workers: int) -> Any:
    dask, distributed = (import_module(name) for name in ("dask", "distributed"))
    # Small matrices gain nothing from more threads than one.
    held.enter_context(dask.config.set({
        "distributed.scheduler.allowed-failures": _DEATHS,
        "distributed.nanny.pre-spawn-environ.OPENBLAS_NUM_THREADS": "1",
        "distributed.logging.distributed": "critical",
    }))  # fmt: skip
    try:
        if cluster:
            return distributed.Client(cluster, timeout=10)
        local = held.enter_context(
            distributed.LocalCluster(
                n_workers=workers, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None,
                silence_logs=50,
            )
        )  # fmt: skip
        return distributed.Client(local)
    except (OSError, ValueError, TypeError) as error:
        raise LibraryError(
            f"the cluster {cluster or 'of this computer'} cannot be reached: look at its address"
        ) from error


def _workers() -> int:
    with contextlib.suppress(ValueError):
        return max(int(os.environ.get(WORKERS, "")), 1)
    return max((os.cpu_count() or 2) - 1, 1)


def _sentence(error: BaseException) -> str:
    if type(error).__name__ == "KilledWorker":
        return f"{_DEATHS} workers ended while they measured it: look at their memory"
    return f"it could not be measured ({type(error).__name__}: {error})"
