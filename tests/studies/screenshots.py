"""Pictures of every place, light and dark, on a small and on a large screen: `make screenshots`.

All that is seen is invented: a simulated mat and a simulated pupil. The places are brought to a telling moment by the
same modes that the worker runs, frame by frame, so that the pictures are the same each time.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

SIZES = ((1280, 720), (3840, 2160))
# The large ones are kept at this width: they show proportions, not pixels.
_KEPT_WIDE = 1280
_WAIT_S = 60.0
SEED, LAYOUT = 7, "starter-10x3"


def play(mode: Any, choice: Any, place: Any, until: Callable[[Any, Any], bool], shell: Any = None) -> None:
    """Runs a mode here, feeding a place, until a moment has come.

    Parameters
    ----------
    mode : Mode
    choice : MatChoice
    place : Place
    until : callable
        Takes the place and the newest picture; True ends it there, without ending the mode.
    shell : Shell, optional
        The window whose place it is: its strip shows the block then.
    """
    from groundtone.app.window.modes.mode import Courier

    newest: list[Any] = [None]

    def draw(picture: Any) -> None:
        newest[0] = picture
        if shell is None:
            place.picture(picture)
        else:
            shell._picture(picture)
        courier.taken()

    courier = Courier(draw)
    with mode.opened(choice, place.told) as mat:
        mode.begin(mat, place.told, courier)
        place.began(mode.name)
        mat.link.start(100)
        for item in mat.link.frames():
            if item is None or mode.take(item) or until(place, newest[0]):
                break


def main(folder: Path) -> None:
    """Makes the pictures."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PyQt5.QtWidgets import QApplication

    app = QApplication(sys.argv[:1])
    with tempfile.TemporaryDirectory() as home:
        os.environ["GROUNDTONE_HOME"] = home
        _take_all(app, folder)


def _take_all(app: Any, folder: Path) -> None:
    from groundtone.app.twin import TwinChoice, mat_of
    from groundtone.app.window.desk import Desk
    from groundtone.app.window.mats import MatChoice
    from groundtone.app.window.places.pupil import Checked, Pupil
    from groundtone.app.window.shell import Shell
    from groundtone.app.window.views import MatState
    from groundtone.calibration.own_profile import profile_path
    from groundtone.feel import plan as plans
    from groundtone.feel.plan import Plan, write_plan
    from studies.invented_lesson import GUESSES, SHORT, WHOLE, record

    example = Path(__file__).parents[2] / "calibration" / "example" / "mat.json"
    path = profile_path(mat_of(SEED, LAYOUT).uid)
    path.parent.mkdir(parents=True)
    shutil.copy(example, path)
    choice = MatChoice(twin=TwinChoice(mat_of(SEED, LAYOUT), None, True))
    desk = Desk(ThreadPoolExecutor(1))
    empty = Shell(None, desk=desk, first=True, theme="light")
    _keep(app, empty, "start", folder)
    empty.close()
    lesson = record("Invented pupil", WHOLE)
    _checks(choice)
    shell = Shell(choice, desk=Desk(ThreadPoolExecutor(1)), theme="light")
    record("Another invented pupil", SHORT)
    record("Invented pupil", GUESSES)
    write_plan(Plan("Invented pupil", ("7 iron", "driver"), "heels-down", 40, SEED, made=plans.today()))
    shell.common.take(Pupil("Invented pupil", "right", "7 iron", "turf", "heels-down"))
    shell.common.pupil.checked = Checked("ready", 0, shell.common.clock())
    for name, ready in (
        ("pupils", _pupils), ("build", _build), ("check", _check), ("practise", _practise),
        ("review", partial(_review, lesson)),
        ("hand over", _hand_over),
    ):  # fmt: skip
        shell.resize(*SIZES[0])
        shell.go(name)
        if name in ("build", "check", "practise"):
            shell._told(MatState("running", "", "simulated mat", simulated=True))
        ready(app, shell, choice)
        _keep(app, shell, name.replace(" ", "-"), folder)
        if name == "practise":
            _ended(shell)
        if name == "review":
            for name, ready in (("progress", _progress), ("feel", _feel)):
                ready(app, shell, choice)
                _keep(app, shell, name, folder)
    shell.close()


def _pupils(app: Any, shell: Any, _: Any) -> None:
    place = shell.places["pupils"]
    # It is shown from the start, and the lessons were recorded since.
    place.entered()
    _wait(app, lambda: len(place.lines) == 2)
    place.table.choose(next(i for i, line in enumerate(place.shown_lines) if line.name == "Invented pupil"))
    place._show_card()


def _progress(app: Any, shell: Any, _: Any) -> None:
    place = shell.places["review"]
    place.progress()
    _wait(app, lambda: place.progress_pane.chart.points > 0)


def _feel(app: Any, shell: Any, _: Any) -> None:
    place = shell.places["review"]
    place.feel()
    _wait(app, lambda: place.feel_pane.balls.rowCount() > 0)


def _wait(app: Any, until: Callable[[], bool]) -> None:
    end = time.monotonic() + _WAIT_S
    while not until():
        if time.monotonic() > end:
            raise TimeoutError("the window did not come to what was to be shown")
        app.processEvents()
        time.sleep(0.01)


def _build(_: Any, shell: Any, choice: Any) -> None:
    from groundtone.app.window.modes.build import Watch
    from groundtone.app.window.views import Findings
    from groundtone.twin.scenario import Session

    place = shell.places["build"]
    standing = type(choice)(twin=choice.twin, acts={"watch": Session()})
    play(Watch(), standing, place, _both_feet)
    place.field.choose(2, 1)
    text = "Left panel, row 6, column 1 is noisy: mend its joint."
    place.told(Findings("empty", ((text, True),), {(6, 1): "noisy"}))


def _both_feet(_: Any, seen: Any) -> bool:
    half = 0 if seen is None else seen.level.shape[1] // 2
    return seen is not None and min(seen.level[:, :half].sum(), seen.level[:, half:].sum()) > 1.5


def _checks(choice: Any) -> None:
    """Earlier checks, so that the history has something to show: the same mat, each time a little older."""
    from dataclasses import replace

    from groundtone.app.window.modes.check import Check, CheckWish
    from groundtone.app.window.modes.mode import Courier

    for aged in (0.0, -0.04, -0.07, -0.1):
        mode = Check(CheckWish(mass_kg=78.4))
        older = type(choice)(twin=replace(choice.twin, mat=replace(choice.twin.mat, aged_common=aged)))
        with mode.opened(older, lambda _: None) as mat:
            mode.begin(mat, lambda _: None, Courier(lambda _: None))
            mat.link.start(mode.rate_hz)
            for item in mat.link.frames():
                if item is None or mode.take(item):
                    break
            mode.end()


def _check(app: Any, shell: Any, choice: Any) -> None:
    from groundtone.app.window.modes.check import Check, CheckWish

    place = shell.places["check"]
    _wait(app, lambda: place.history.points == 4)
    play(
        Check(CheckWish(mass_kg=78.4)),
        choice,
        place,
        lambda p, _: p.call.word == "rock slowly" and p.bar.value() > 45,
    )


def _practise(_: Any, shell: Any, choice: Any) -> None:
    from groundtone.app.window.modes.practise import Practise, PupilWish
    from groundtone.twin.scenario import Session, SwingSpec

    place = shell.places["practise"]
    act = Session(swings=(SwingSpec("good"), SwingSpec("trail_hang"), SwingSpec("good")), seed=3)
    playing = type(choice)(twin=choice.twin, acts={"practise": act})
    place.block("drill")
    mode = Practise(PupilWish("Another invented pupil", block="drill"))
    told: list[bool] = []

    def moment(_: Any, seen: Any) -> bool:
        if seen is not None and seen.swings == 1 and not told:
            told.append(True)
            for key in "6c":
                mode.command("strike", key)
        sounds = seen is not None and seen.swings == 1 and seen.sizes.get("trail side", 0.0) > 0
        return sounds and _since_turn(place) > 0.8

    shell.common.practising = True
    play(mode, playing, place, moment, shell)
    shell.say("")


def _ended(shell: Any) -> None:
    """What was played for a picture is over."""
    shell.common.practising, shell._block = False, None
    shell.places["practise"].running = False
    shell._show_strip()


def _since_turn(place: Any) -> float:
    turns = [at for at, word in place.lane._marks if word == "turn of pressure"]
    return place.lane._t[-1] - turns[-1] if turns and place.lane._t else 0.0


def _review(lesson: Path, app: Any, shell: Any, _: Any) -> None:
    place = shell.places["review"]
    place.open_path(lesson)
    _wait(app, lambda: place.view is not None and len(place.lanes) > 8)
    place.pair()
    _wait(app, lambda: place.title.text().startswith("The pair") and place.field.level.max() > 0.2)
    shell.say("")


def _hand_over(app: Any, shell: Any, _: Any) -> None:
    place = shell.places["hand over"]
    # Where the pictures are taken is nobody's folder.
    place.folder_words.setText("Into pages")
    _wait(app, lambda: not place.sheets[0].empty)


def _keep(app: Any, shell: Any, name: str, folder: Path) -> None:
    """The window as it is now, in both themes and sizes."""
    from groundtone.app.window.theme import THEMES

    folder.mkdir(parents=True, exist_ok=True)
    shell.show()
    for theme in THEMES.values():
        for wide, high in SIZES:
            shell.resize(wide, high)
            shell.look.theme = theme
            shell._style()
            for _ in range(3):
                app.processEvents()
                time.sleep(0.02)
            colours = [value for value in vars(theme).values() if str(value).startswith("#")]
            _write(shell.grab().toImage(), folder / f"{name}-{theme.name}-{wide}x{high}.png", colours)


def _write(image: Any, path: Path, colours: Sequence[str]) -> None:
    """A small file: few colours are in the window, and none is dithered."""
    from PIL import Image
    from PyQt5.QtGui import QImage

    image = image.convertToFormat(QImage.Format.Format_RGB888)
    bits = image.constBits()
    bits.setsize(image.sizeInBytes())
    picture = Image.frombytes("RGB", (image.width(), image.height()), bytes(bits), "raw", "RGB", image.bytesPerLine())
    if picture.width > _KEPT_WIDE:
        size = (_KEPT_WIDE, round(picture.height * _KEPT_WIDE / picture.width))
        picture = picture.resize(size, Image.Resampling.LANCZOS)
    # The window's own colours stay what they are; a shade of a letter's edge may move.
    found, counts = np.unique(np.asarray(picture).reshape(-1, 3), axis=0, return_counts=True)
    table = Image.new("P", (1, 1))
    own = [int(colour[i : i + 2], 16) for colour in colours for i in (1, 3, 5)]
    table.putpalette([*own, *found[np.argsort(-counts)[: 200 - len(colours)]].ravel().tolist()])
    picture.quantize(palette=table, dither=Image.Dither.NONE).save(path, optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "docs/window"))
