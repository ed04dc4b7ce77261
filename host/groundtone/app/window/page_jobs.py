"""What the desk does for Hand over: the lessons that a page can be made of, its preview, and the page written."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from groundtone.app.window.jobs import day_words, session_list
from groundtone.errors import GroundtoneError, Telling

if TYPE_CHECKING:
    from groundtone.lesson.report.choice import PageChoice
    from groundtone.lesson.report.data import PageData
    from groundtone.review.library_reader import SessionLine


@dataclass(frozen=True)
class LessonLine:
    """A lesson that a page can be made of: words for a choice, whose it is, and its recordings."""

    words: str
    golfer: str
    paths: tuple[Path, ...]


def lesson_lines() -> list[LessonLine]:
    """The newest lessons first."""
    found: dict[tuple[str, str], list[SessionLine]] = {}
    for line in session_list():
        # A walk-in is one of its own; a pupil's lesson is a day.
        day = line.started[:10]
        found.setdefault((line.golfer, day if line.golfer else f"{day} {line.lesson[-5:]}"), []).append(line)
    return [
        LessonLine(
            f"{day_words(day)}{day[10:]}  {golfer or 'nobody named'}, {_many(sum(line.swings for line in lines))}",
            golfer,
            tuple(line.path for line in reversed(lines)),
        )
        for (golfer, day), lines in found.items()
    ]  # fmt: skip


def _many(swings: int) -> str:
    return "1 swing" if swings == 1 else f"{swings} swings"


def page_options() -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Languages of the page, and its drills: name and title."""
    from groundtone.lesson.drills import all_drills, words_of
    from groundtone.lesson.wording import languages, words

    say = words("en")
    return languages(), tuple((name, words_of(drill, say).title) for name, drill in all_drills().items())


@dataclass(frozen=True)
class PagePreview:
    """What a page will say and show.

    Attributes
    ----------
    said : tuple of (str, str)
        Heading and text.
    lines : tuple of str
        What else stands on it.
    notes : tuple of str
        What must be known.
    sheets : tuple of bytes
        The page itself, side by side: PNG.
    card : bytes
        PNG; empty where there is none.
    """

    said: tuple[tuple[str, str], ...]
    lines: tuple[str, ...]
    notes: tuple[str, ...]
    sheets: tuple[bytes, ...]
    card: bytes
    html: str


def _page_data(paths: tuple[Path, ...]) -> PageData:
    """What the page of these recordings is made of: they are reviewed once, the page is made anew as it is chosen."""
    if not paths:
        raise GroundtoneError("there is no lesson to make a page of: record one first")
    with Telling(GroundtoneError, "a recording of this lesson cannot be read", "choose again"):
        data = _reviewed(paths, tuple(path.stat().st_mtime_ns for path in paths))
    from groundtone.files import data_folder
    from groundtone.lesson.report.data import with_history
    from groundtone.record.library import Library

    # What was asked and kept before, and the plan, change without these recordings.
    with Library(data_folder()) as library:
        return with_history(data, library)


@lru_cache(2)
def _reviewed(paths: tuple[Path, ...], _changed_ns: tuple[int, ...]) -> PageData:
    from groundtone.lesson.report.data import data_for, reviews_of

    return data_for(reviews_of(paths))


def page_preview(paths: tuple[Path, ...], choice: PageChoice) -> PagePreview:
    """The page as it would be saved.

    Raises
    ------
    GroundtoneError
        A recording cannot be read, or the texts do not fit.
    """
    from groundtone.lesson.report.page import build_page

    data = _page_data(paths)
    page = build_page(data, choice)
    content = page.content
    drill = content.drill
    lines = [f"{drill.title}: {drill.aim} {drill.often}"] if drill is not None else []
    lines += ["  ·  ".join(filter(None, side)) for side in content.sides]
    lines += ["  ·  ".join(filter(None, row)) for row in content.rows]
    lines += content.feel_lines
    notes = tuple(filter(None, (content.banner, *page.doubts)))
    return PagePreview(content.said, tuple(lines), notes, _drawn(page.pdf), page.card, page.html)


# Dots an inch of the preview: a sheet is some 900 px high, sharp on a large screen.
_DPI = 110


def _drawn(pdf: bytes) -> tuple[bytes, ...]:
    """The sides of the sheet as pictures."""
    import io

    import pypdfium2

    out = []
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            file = io.BytesIO()
            page.render(scale=_DPI / 72).to_pil().save(file, format="PNG")
            out.append(file.getvalue())
    finally:
        document.close()
    return tuple(out)


def page_saved(paths: tuple[Path, ...], choice: PageChoice, folder: Path) -> list[str]:
    """Writes the page; the files.

    Raises
    ------
    GroundtoneError
        As `page_preview`, or the folder cannot be written.
    """
    from groundtone.lesson.report.page import build_page, write_page

    return [str(path) for path in write_page(build_page(_page_data(paths), choice), folder)]
