"""The head coach's page: who was where, what is due, which mats age. Made of one query, with the page's own means."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path

from groundtone.app.language import SPOKEN, tr, tr_all
from groundtone.calibration.checking.check_result import Verdict
from groundtone.errors import GroundtoneError, Telling
from groundtone.files import write_whole
from groundtone.lesson.report import paper as colours
from groundtone.record.academy.head_coach import Line

# A retention test is shown so long before its day; a check and a calibration are old after so many days (all invented).
_AHEAD_DAYS, _CHECK_DAYS, _CALIBRATION_DAYS = 7, 7, 180

_TEMPLATE = """<!DOCTYPE html>
<html lang="{{ code }}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{ title }}, {{ day }}</title>
<style>
html { font-family: "DejaVu Sans", Verdana, "Segoe UI", Helvetica, Arial, sans-serif; }
html { font-size: 10pt; line-height: 1.4; }
body { margin: 0; color: {{ k.INK }}; background: {{ k.DESK }}; }
h1 { font-size: 2.1em; margin: 0; } h2 { font-size: 1.15em; margin: 1.2em 0 0.25em 0; color: {{ k.INSIDE }}; }
.sheet { background: {{ k.PAPER }}; max-width: 180mm; margin: 6mm auto; padding: 13mm 15mm; overflow-wrap: anywhere; }
.sub { color: {{ k.FAINT }}; }
table { border-collapse: collapse; width: 100%; font-size: 0.85em; font-variant-numeric: tabular-nums; }
th { text-align: left; border-bottom: 1.5px solid {{ k.INK }}; padding: 0.25em 0.5em 0.25em 0; }
td { border-bottom: 1px solid {{ k.LINE }}; padding: 0.22em 0.5em 0.22em 0; vertical-align: top; }
@media print { body { background: {{ k.PAPER }}; } .sheet { margin: 0; } }
</style>
</head>
<body>
<main class="sheet">
<h1>{{ title }}</h1>
<p class="sub">{{ of }}</p>
{% for title, head, rows, empty in parts %}<h2>{{ title }}</h2>
{% if rows %}<table>
<tr>{% for cell in head %}<th>{{ cell }}</th>{% endfor %}</tr>
{% for row in rows %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>
{% endfor %}</table>
{% else %}<p>{{ empty }}</p>
{% endif %}{% endfor %}</main>
</body>
</html>
"""

Part = tuple[str, tuple[str, ...], list[tuple[str, ...]], str]
"""Title, heads of the columns, rows, and what is said where there are none."""


def write_academy(lines: Sequence[Line], library: str, today: datetime.date, out: Path) -> Path:
    """Writes the page as HTML; its file.

    Raises
    ------
    GroundtoneError
        It cannot be written.
    """
    import jinja2

    shape = jinja2.Environment(autoescape=True, trim_blocks=False).from_string(_TEMPLATE)
    day = today.isoformat()
    text = shape.render(
        code=SPOKEN.code, title=tr("Academy"), day=day, of=tr(f"{day}, of the library {library}"),
        parts=parts_of(lines, today), k=colours,
    )  # fmt: skip
    path = out / f"academy-{today.isoformat()}.html"
    with Telling(GroundtoneError, f"{path} cannot be written", "choose another folder"):
        write_whole(path, text)
    return path


def parts_of(lines: Sequence[Line], today: datetime.date) -> list[Part]:
    """The parts of the page, in the language in force: what is to be done first, then everybody and everything."""
    of = {kind: [line for line in lines if line.kind == kind] for kind in ("pupil", "coach", "bay", "mat")}
    due = sorted((line for line in of["pupil"] if _soon(line.due, today)), key=lambda line: line.due)
    old = [(line, why) for line in of["mat"] if (why := _ageing(line, today))]
    whole = ("lessons", "swings", "last session")

    def counted(kind: str) -> list[tuple[str, ...]]:
        nobody = tr("(nobody named)")
        return [(line.name or nobody, str(line.lessons), str(line.swings), _day(line.last)) for line in of[kind]]

    parts: list[Part] = [
        ("Retention tests due", ("pupil", "day", "last seen at"),
         [(line.name, tr(_when(line.due, today)), line.where or "-") for line in due], "None is due this week."),
        ("Mats to look after", ("mat", "bay", "why"), [(line.name, line.where, tr(why)) for line, why in old],
         "Every mat is calibrated and was checked this week."),
        ("Pupils", ("pupil", "last at", *whole),
         [(row[0], line.where or "-", *row[1:]) for line, row in zip(of["pupil"], counted("pupil"), strict=True)],
         "Nobody is in the library yet."),
        ("Coaches", ("signed on as", *whole), counted("coach"), "Nobody has signed on yet."),
        ("Bays", ("bay", *whole), counted("bay"), "No bay has filed anything yet."),
        ("Mats", ("mat", "bay", "calibrated", "last check", "it said"),
         [(m.name, m.where, _day(m.due), _day(m.last), tr(m.words) or "-") for m in of["mat"]],
         "No mat is known yet."),
    ]  # fmt: skip
    return [(tr(title), tuple(tr_all(head)), rows, tr(empty)) for title, head, rows, empty in parts]


def _ageing(mat: Line, today: datetime.date) -> str:
    """Why a mat wants somebody's attention; empty where it does not."""
    if not mat.due:
        return "it has no calibration"
    if not mat.last:
        return "it was never checked"
    if mat.words == Verdict.NOT_FIT.words:
        return f"its last check said: {mat.words}"
    if (days := _ago(mat.last, today)) > _CHECK_DAYS:
        return f"its last check was {days} days ago"
    if (days := _ago(mat.due, today)) > _CALIBRATION_DAYS:
        return f"its calibration is {days} days old"
    return ""


def _soon(day: str, today: datetime.date) -> bool:
    return bool(day) and -_ago(day, today) <= _AHEAD_DAYS


def _when(day: str, today: datetime.date) -> str:
    late = _ago(day, today)
    return f"{day}, {late} days ago" if late > 0 else f"{day}, today" if late == 0 else f"{day}, in {-late} days"


def _ago(day: str, today: datetime.date) -> int:
    return (today - datetime.date.fromisoformat(day[:10])).days


def _day(text: str) -> str:
    return text[:10] or "-"
