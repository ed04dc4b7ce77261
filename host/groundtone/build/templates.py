"""Writes all cut and drill drawings of a mat: SVG and DXF sheet by sheet, PDF for both papers."""

from __future__ import annotations

from pathlib import Path

from groundtone.build.atomic import write_file
from groundtone.build.mat_file import Mat
from groundtone.build.panel_drawings import all_drawings
from groundtone.build.write_dxf import dxf
from groundtone.build.write_pdf import PAGES_MM, pdf
from groundtone.build.write_svg import svg


def write_templates(mat: Mat, folder: Path, papers: tuple[str, ...] = tuple(PAGES_MM)) -> list[Path]:
    """Write every drawing of a mat into a folder named after its layout.

    Parameters
    ----------
    mat : Mat
    folder : Path
        The drawings lie in `folder`/`layout id`.
    papers : tuple of str
        Of the PDF files.

    Returns
    -------
    list of Path
        What was written. Everything is computed before the first file is written.

    Raises
    ------
    BuildError
        Where a paper is not known, or nothing can be written.
    """
    drawings = all_drawings(mat)
    inside = folder / mat.layout.id
    ready: list[tuple[Path, bytes | str]] = []
    for drawing in drawings:
        ready += [(inside / f"{drawing.name}.svg", svg(drawing)), (inside / f"{drawing.name}.dxf", dxf(drawing))]
    for paper in papers:
        ready.append((inside / f"all-{paper}.pdf", pdf(drawings, paper, f"{mat.layout.id}, 1:1")))
    for path, content in ready:
        write_file(path, content)
    return [path for path, _ in ready]
