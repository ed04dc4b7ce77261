"""The command `groundtone export`: a recorded session for other programs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click
import numpy as np
from rich.console import Console

from groundtone.app.console import say
from groundtone.app.lesson.targets import recording_path
from groundtone.errors import GroundtoneError
from groundtone.lesson.export_files import series_columns, write_c3d, write_table
from groundtone.pressure.series import Series
from groundtone.record.reader import open_recording
from groundtone.review.session_review import Review, ReviewedSwing, review
from groundtone.review.settings import stance_in

_BEFORE_S, _AFTER_S = 1.0, 1.0


@click.command()
@click.argument("target", default="last")
@click.option(
    "--to", "folder", type=click.Path(file_okay=False, path_type=Path), required=True, help="Into this folder."
)
@click.option("--csv", "csv", is_flag=True, help="Frames and swings as CSV.")
@click.option("--parquet", is_flag=True, help="The same as Parquet.")
@click.option("--c3d", is_flag=True, help="Each swing as C3D, two force platforms.")
@click.option("--profile", type=click.Path(dir_okay=False, path_type=Path), help="Measure with this profile.")
def export(target: str, folder: Path, csv: bool, parquet: bool, c3d: bool, profile: Path | None) -> None:
    """Write a session as CSV (the default), Parquet or C3D."""
    console = Console()
    seen = review(open_recording(recording_path(target)), profile)
    for sentence in seen.measured.doubts:
        say(console, sentence)
    if not seen.measured.series.t_s.size:
        raise GroundtoneError("there are no frames in this recording to export")
    written = []
    kinds = [kind for kind, wanted in (("csv", csv), ("parquet", parquet), ("c3d", c3d)) if wanted]
    for kind in kinds or ["csv"]:
        if kind == "c3d":
            written += _swings_as_c3d(seen, folder)
            continue
        for name, table in (("frames", series_columns(seen.measured.series)), ("swings", seen.columns())):
            path = folder / f"{name}.{kind}"
            write_table(path, table)
            written.append(path)
    say(console, f"Written to {folder}: {', '.join(path.name for path in written) or 'nothing, there is no swing'}.")


def _swings_as_c3d(seen: Review, folder: Path) -> list[Path]:
    settings, written = seen.recording.about.settings, []
    for each in seen.swings:
        part = around(seen.measured.series, each)
        path = folder / f"swing-{each.swing.number:03d}.c3d"
        write_c3d(path, part, seen.recording.layout, stance_in(settings), _rate(part), _events(part, each))
        written.append(path)
    return written


def around(series: Series, each: ReviewedSwing) -> Series:
    """The frames of one swing, from a second before the takeaway to a second after its end."""
    begin, end = np.searchsorted(series.t_s, [each.swing.takeaway.t_s - _BEFORE_S, each.swing.end_s + _AFTER_S])
    cut = slice(int(begin), int(end))
    names = ("t_s", "force_n", "u_mm", "v_mm", "position", "position_u", "share", "overall", "centre_mm", "weight_n")
    return replace(series, **{name: getattr(series, name)[cut] for name in names}, stands=(), strikes=())


def _rate(part: Series) -> float:
    return round(1.0 / float(np.median(np.diff(part.t_s))), 3)


def _events(part: Series, each: ReviewedSwing) -> list[tuple[float, str]]:
    swing = each.swing
    moments = (
        ("takeaway", swing.takeaway), ("turn of pressure", swing.turn), ("top (estimate)", swing.top),
        ("impact", swing.impact), ("finish", swing.finish),
    )  # fmt: skip
    return [(m.t_s, word) for word, m in moments if m is not None and part.t_s[0] <= m.t_s <= part.t_s[-1]]
