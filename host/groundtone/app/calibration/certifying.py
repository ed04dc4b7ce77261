"""`groundtone calibrate certificate`: prints a profile's certificate, and writes it as text and as a page."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from groundtone.app.saying import say
from groundtone.calibration.pages.certificate import certificate_lines
from groundtone.calibration.pages.certificate_page import draw_certificate
from groundtone.calibration.profile import read_profile
from groundtone.errors import GroundtoneError


def certify(console: Console, path: Path, out: Path | None) -> None:
    """Prints the certificate; with `out`, writes certificate.txt and certificate.png there.

    Raises
    ------
    GroundtoneError
        The profile or the folder cannot be used.
    """
    profile = read_profile(path)
    lines = certificate_lines(profile)
    for line in lines:
        console.print(line, highlight=False, markup=False, soft_wrap=True)
    if out is None:
        return
    try:
        out.mkdir(parents=True, exist_ok=True)
        (out / "certificate.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    except OSError as error:
        raise GroundtoneError(f"the folder {out} cannot be written ({error.strerror}): choose another") from error
    draw_certificate(out / "certificate.png", profile)
    say(console, f"Written: {out / 'certificate.txt'} and {out / 'certificate.png'}")
