"""The page of a lesson for the desk: recordings are reviewed once, the page is made anew as it is chosen."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from groundtone.errors import GroundtoneError
from groundtone.lesson.report.choice import PageChoice
from groundtone.lesson.report.data import PageData, data_for
from groundtone.lesson.report.page import PageFiles, build_page
from groundtone.record.reader import open_recording
from groundtone.review.session_review import review


def data_of(paths: tuple[Path, ...]) -> PageData:
    """What the page of these recordings is made of.

    Raises
    ------
    GroundtoneError
        One cannot be read, or there is none.
    """
    if not paths:
        raise GroundtoneError("there is no lesson to make a page of: record one first")
    try:
        return _data(paths, tuple(path.stat().st_mtime_ns for path in paths))
    except OSError as error:
        raise GroundtoneError(f"a recording of this lesson cannot be read ({error.strerror}): choose again") from error


def built(paths: tuple[Path, ...], choice: PageChoice) -> PageFiles:
    """The page, made and not written; errors as `data_of` and `build_page`."""
    return build_page(data_of(paths), choice)


@lru_cache(2)
def _data(paths: tuple[Path, ...], _changed_ns: tuple[int, ...]) -> PageData:
    reviews = [review(open_recording(path)) for path in paths]
    return data_for(sorted(reviews, key=lambda seen: seen.recording.about.started))
