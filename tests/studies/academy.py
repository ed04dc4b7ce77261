"""An academy: desks that file at once, cut and killed on the way; everything measured anew, one worker against two."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from postgres_server import Server, served

from groundtone.app.calibration.demo_profile import quick_profile
from groundtone.app.lesson.remeasure import remeasured
from groundtone.errors import LibraryError
from groundtone.files import with_our_modules
from groundtone.record.academy import queue
from groundtone.record.academy.where import Where
from groundtone.record.contents import put
from groundtone.record.library import Library
from groundtone.record.reader import open_recording
from groundtone.record.session import Golfer
from groundtone.record.swing_rows import FindingRow, SwingRow
from groundtone.review.session_review import analysed
from groundtone.twin.scenario import demo_scenario
from studies.record import RATE_HZ, about_of, messages_of, write_hour

DESKS, SWINGS = 8, 2000
_CUTS, _KILLS = 100, 50


def _swing() -> list[SwingRow]:
    """One swing with as much in it as a real one."""
    measures = {f"measure {i}": (0.5, 0.01, "") for i in range(30)}
    findings = [FindingRow(f"finding {i}", 0.5, 0.1, {"sentence": "invented"}) for i in range(2)]
    return [SwingRow(1, "swing", 0.02, {"impact": (0.02, "pressure", 0.03)}, measures, findings)]


def make_sessions(folder: Path, desk: int, count: int) -> None:
    """So many recordings of one swing, all of which are to be filed."""
    scenario = demo_scenario(1)
    about, messages = about_of(scenario, quick_profile(scenario)), messages_of(scenario)[:10]
    (folder / "recordings").mkdir(parents=True)
    lines = []
    for number in range(count):
        told = replace(about, session=f"{desk:08x}{number:024x}", golfer=Golfer(f"golfer {number % 20}"))
        write_hour(folder / "recordings" / f"{number:04d}.mcap", told, messages, 10)
        lines.append(f'{{"name": "{number:04d}.mcap", "seen": 0}}\n')
    (folder / queue.FILE).write_text("".join(lines), "utf-8")


def desk(folder: Path, url: str, name: str) -> None:
    """One desk, a process: files what waits, begins again where it was cut, and notes how long each took, s."""
    with (folder / "times").open("a", encoding="utf-8") as times:
        while waiting := queue.waiting(folder):
            try:
                with Library(folder, 30.0, Where(url, name)) as library:
                    for each in waiting:
                        recording = open_recording(library.recordings / each.name)
                        began = time.perf_counter()
                        put(library, recording, _swing(), [], "1", each.seen)
                        times.write(f"{time.perf_counter() - began}\n")
                        times.flush()
                        queue.settle(folder, each.name)
            except LibraryError:
                time.sleep(0.05)


def _start(folder: Path, server: Server, number: int) -> subprocess.Popen[bytes]:
    words = (str(folder), server.url(), f"desk {number}")
    script = "import sys; from pathlib import Path; from studies.academy import desk\n"
    script += "desk(Path(sys.argv[1]), *sys.argv[2:])"
    return subprocess.Popen([sys.executable, "-c", script, *words], env=with_our_modules())


def _filed(server: Server) -> tuple[int, int, int]:
    """Recordings, swings and sessions that are there twice, as psql counts them."""
    query = (
        "SELECT (SELECT count(*) FROM recordings), (SELECT count(*) FROM swings), "
        "(SELECT count(*) FROM (SELECT session FROM recordings GROUP BY session HAVING count(*) > 1) twice)"
    )
    recordings, swings, twice = map(int, server.sql(query)[0].split("|"))
    return recordings, swings, twice


def study_desks(seeds: int | None = None) -> dict[str, Any]:
    """Desks that file at once on a server that syncs; then the same with cuts, kills of desks and one of the server.

    Parameters
    ----------
    seeds : int, optional
        Swings of each run; without it `SWINGS`.
    """
    total = (seeds or SWINGS) // DESKS * DESKS
    calm, took, _ = _run(total, rough=False)
    rough, _, ills = _run(total, rough=True)
    p50, p95, most = (float(v) * 1e3 for v in np.percentile(took, [50, 95, 100]))
    return {
        "desks, swings": (DESKS, total),
        "filing a swing, ms": {"p50": round(p50, 1), "p95 (50 asked)": round(p95, 1), "max": round(most, 1)},
        "recordings, swings, twice": calm,
        "the same with cuts, kills": rough,
        "cuts, kills of desks, of the server": ills,
        "ok": p95 <= 50.0 and calm == rough == (total, total, 0) and ills == (_CUTS, _KILLS, 1),
    }


def _run(total: int, rough: bool) -> tuple[tuple[int, int, int], list[float], tuple[int, int, int]]:
    cuts = kills = servers = 0
    with served(durable=True) as server, tempfile.TemporaryDirectory() as name:
        folders = [Path(name) / f"desk {number}" for number in range(DESKS)]
        for number, folder in enumerate(folders):
            make_sessions(folder, number, total // DESKS)
        with Library(Path(name) / "owner", at=Where(server.url(), "owner")):
            pass
        going = [_start(folder, server, number) for number, folder in enumerate(folders)]
        left = begun = [total // DESKS] * DESKS
        while any(left := [len(queue.waiting(folder)) for folder in folders]):
            time.sleep(0.02)
            # Ills are spread over the swings, and who is killed has filed something since it was started: a desk that
            # is killed while it starts shows nothing.
            filed = total - sum(left)
            if rough and cuts < _CUTS and filed >= (cuts + 1) * total // (_CUTS + 2):
                query = "SELECT pid FROM pg_stat_activity WHERE backend_type = 'client backend'"
                query += " AND pid <> pg_backend_pid() ORDER BY random() LIMIT 1"
                cuts += len(server.sql(f"SELECT pg_terminate_backend(pid) FROM ({query}) one"))
            at_work = [n for n in range(DESKS) if 0 < left[n] < begun[n]]
            if rough and kills < _KILLS and at_work and filed >= (kills + 1) * total // (_KILLS + 2):
                number = at_work[kills % len(at_work)]
                going[number].kill()
                going[number].wait()
                begun = [*begun[:number], left[number], *begun[number + 1 :]]
                going[number] = _start(folders[number], server, number)
                kills += 1
            if rough and not servers and filed >= total // 2:
                server.stop(signal.SIGKILL)
                server.start(durable=True)
                servers = 1
        for process in going:
            process.wait()
        times = [float(line) for folder in folders for line in (folder / "times").read_text("utf-8").splitlines()]
        return _filed(server), times, (cuts, kills, servers)


def study_remeasure(seeds: int | None = None) -> dict[str, Any]:
    """Sessions of 20 minutes measured by one worker and by two, a worker killed on the way; memory of the workers.

    Parameters
    ----------
    seeds : int, optional
        How many sessions; without it 60.
    """
    count = seeds or 60
    scenario = demo_scenario(1)
    about, messages = about_of(scenario, quick_profile(scenario)), messages_of(scenario)
    with served() as server, tempfile.TemporaryDirectory() as name:
        folder, at = Path(name), Where(server.url(), "bay")
        os.environ["GROUNDTONE_HOME"] = name
        (folder / "recordings").mkdir()
        first = folder / "recordings" / "0000.mcap"
        write_hour(first, replace(about, session=f"{0:032x}"), messages, 20 * 60 * RATE_HZ)
        found, doubts = analysed(open_recording(first))
        with Library(folder, at=at) as library:
            for number in range(count):
                path = folder / "recordings" / f"{number:04d}.mcap"
                if number:
                    write_hour(path, replace(about, session=f"{number:032x}"), messages, 20 * 60 * RATE_HZ)
                put(library, open_recording(path), found, doubts, "of old")
        sessions = [f"{number:032x}" for number in range(count)]
        took, memory = {}, 0.0
        for workers in (1, 2):
            began, killed, left = time.monotonic(), False, []
            for _, why_not in remeasured(folder, at, sessions, f"new {workers}", workers=workers):
                left += [why_not] if why_not else []
                memory = max(memory, *(_memory_mib(pid) for pid in _workers()))
                if not killed and workers == 2:
                    os.kill(_workers()[0], signal.SIGKILL)
                    killed = True
            took[workers] = time.monotonic() - began
        versions = server.sql("SELECT version, count(*) FROM recordings GROUP BY version")
    gain = took[1] / took[2]
    return {
        "sessions of 20 min": count,
        "s with one worker, with two": (round(took[1], 1), round(took[2], 1)),
        "gain (1.8 asked)": round(gain, 2),
        "largest worker, MiB": round(memory),
        "measured by": versions,
        "ok": gain >= 1.8 and versions == [f"new 2|{count}"] and not left,
    }


def _workers() -> list[int]:
    """Processes of this one's children's that measure: those of Dask's nannies."""
    found = subprocess.run(["ps", "-eo", "pid,ppid,args"], check=True, capture_output=True, text=True).stdout
    rows = [line.split(None, 2) for line in found.splitlines()[1:]]
    return [int(pid) for pid, parent, words in rows if int(parent) == os.getpid() and "spawn_main" in words]


def _memory_mib(pid: int) -> float:
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text("utf-8").split()[1])
    except (OSError, IndexError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20
