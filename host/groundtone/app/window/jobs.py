"""What the desk does: every job is a function of plain data that gives plain data."""

from __future__ import annotations

import datetime
import math


def check_history() -> tuple[list[str], list[float], list[str]]:
    """Days, common changes in per cent and verdicts of the checks of the mat that was checked last."""
    from groundtone.calibration.check_log import read_checks
    from groundtone.files import data_folder

    files = sorted((data_folder() / "profiles").glob("*.checks.jsonl"), key=lambda path: path.stat().st_mtime)
    if not files:
        return [], [], []
    checks = read_checks(files[-1])[-40:]
    days = [_day(kept.record.date) for kept in checks]
    changes = [100.0 * (1.0 / (1.0 + kept.record.common) - 1.0) for kept in checks]
    return days, changes, [kept.record.verdict for kept in checks]


def _day(date: str) -> str:
    try:
        return f"{datetime.datetime.fromisoformat(date):%d.%m. %H:%M}"
    except ValueError:
        return date[:10]


def ready() -> float:
    """Imports what the other jobs need, so that the first of them does not wait for it."""
    import groundtone.lesson.compare
    import groundtone.lesson.pair
    import groundtone.lesson.reviewed  # noqa: F401

    return math.pi


def twin_profile(seed: int) -> str:
    """Sees to it that the simulated mat of a seed has a profile, by a simulated bench run; says what was done."""
    from groundtone.app.bench.live import quick_profile
    from groundtone.app.folders import profile_path
    from groundtone.app.opening import mat_of
    from groundtone.calibration.profile import write_profile
    from groundtone.twin.scenario import Empty, Scenario

    mat = mat_of(seed)
    path = profile_path(mat.uid)
    if path.exists():
        return ""
    write_profile(path, quick_profile(Scenario(mat, Empty())))
    return "The simulated mat has been calibrated with simulated weights."
