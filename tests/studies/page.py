"""The page: how long it takes to make and write, how large it is, and whether its colours hold."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from groundtone.lesson.report.choice import PageChoice
from groundtone.lesson.report.example import example
from groundtone.lesson.report.page import build_page, write_page
from groundtone.lesson.report.paper import GRAPHICS, TEXTS

_MOST_S, _MOST_BYTES = 3.0, 1.5e6


def contrast(a: str, b: str) -> float:
    """Contrast of two colours by WCAG 2.2: of their relative luminances, each with 0.05 of stray light."""

    def luminance(colour: str) -> float:
        parts = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
        linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def study_page(_seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` says whether each is what is asked for."""
    out: dict[str, Any] = {}
    ok = True
    for language in ("en", "de"):
        data, choice = example(language), PageChoice(language=language)
        build_page(data, choice)
        walls, busy, sizes = [], [], []
        with tempfile.TemporaryDirectory() as name:
            for _ in range(5):
                began, worked = time.perf_counter(), time.process_time()
                paths = write_page(build_page(data, choice), Path(name), as_json=True)
                walls.append(time.perf_counter() - began)
                busy.append(time.process_time() - worked)
                sizes = [path.stat().st_size for path in paths]
        out[f"{language}: HTML, PDF, PNG and JSON made and written, s (3 asked), median of 5"] = round(
            float(np.median(walls)), 2
        )
        out[f"{language}: processor time of that, s"] = round(float(np.median(busy)), 2)
        out[f"{language}: kB of HTML, PDF, PNG, JSON (1,500 asked, together)"] = [round(size / 1000) for size in sizes]
        ok &= float(np.median(walls)) < _MOST_S and sum(sizes) < _MOST_BYTES
    with tempfile.TemporaryDirectory() as name:
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "groundtone", "page", "--example", "--out", name], check=True, capture_output=True
        )
        out["the whole command, with the program's start, s"] = round(time.perf_counter() - began, 2)
    texts, marks = (min(contrast(a, b) for a, b in pairs) for pairs in (TEXTS, GRAPHICS))
    out["least contrast of a text (4.5 asked)"] = round(texts, 2)
    out["least contrast of a line or a mark (3 asked)"] = round(marks, 2)
    return {**out, "ok": ok and texts >= 4.5 and marks >= 3}
