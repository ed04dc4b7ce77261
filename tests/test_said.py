"""Every sentence that the window and the commands of golfers and coaches can show has its German one.

The texts are read from the source: constants and f-strings that hold words, their fields filled with what may be there.
"""

import ast
import itertools
import re
import tomllib
from pathlib import Path

import click
import pytest

from groundtone.app.click_parts import paragraphs
from groundtone.app.command import cli
from groundtone.app.window.keys import KEYS, PLACES
from groundtone.lesson.wording import sentences

PROGRAM = Path(__file__).parents[1] / "host" / "groundtone"
WINDOW = sorted(path.relative_to(PROGRAM).as_posix() for path in (PROGRAM / "app" / "window").rglob("*.py"))
WINDOW = [name for name in WINDOW if not name.endswith(("__init__.py", "theme.py"))]
COMMANDS = [
    "app/live/practice_screen.py", "app/live/practice_run.py", "app/live/practice_setup.py", "app/live/recording.py",
    "app/calibration/check_run.py", "app/lesson/review.py", "app/lesson/progress.py", "app/lesson/feel.py",
    "app/lesson/page.py", "app/lesson/strike.py", "engine/practice_state.py", "engine/plan_follow.py",
    "engine/feel_block.py", "lesson/compare.py", "lesson/outcome.py", "lesson/pair.py", "lesson/strike_links.py",
    "lesson/progress.py", "lesson/pupils.py", "calibration/checking/verdict.py", "calibration/checking/check_steps.py",
    "app/calibration/bench_screen.py", "app/lesson/library.py", "app/lesson/bands.py", "feel/plan.py",
    "pressure/cell_watch.py", "review/feet_words.py", "app/builder/build_commission.py", "app/builder/build_install.py",
    "app/builder/commission_run.py", "build/commission_more.py", "build/faults.py", "wire/findings.py",
    "app/builder/build.py", "app/builder/build_words.py", "build/divider.py", "build/eseries.py", "build/film_law.py",
    "build/layout_check.py", "build/parts.py", "build/pin_load.py", "build/pins.py", "build/scan_budget.py",
    "build/steps.py", "build/wiring.py", "app/doctor.py", "app/tones/latency.py", "app/tones/latency_measure.py",
    "app/calibration/commands.py", "app/calibration/strip.py", "app/calibration/standing_run.py",
    "app/calibration/bench_run.py", "app/lesson/academy.py", "app/lesson/academy_page.py", "app/lesson/remeasure.py",
    "calibration/fitting/capture.py", "calibration/fitting/expected.py", "calibration/fitting/fit_quality.py",
    "calibration/fitting/forms.py", "calibration/fitting/placement_table.py", "calibration/fitting/pooled.py",
    "calibration/guided/bench_plan.py", "calibration/pages/certificate.py", "calibration/pooled_films.py",
    "record/academy/keeping.py", "record/academy/own_files.py", "record/academy/places.py",
    "record/academy/postgres.py", "record/academy/roles.py", "record/academy/signing_on.py", "record/academy/where.py",
    "calibration/guided/weights.py", "calibration/own_profile.py", "cue/learning.py", "gravity.py",
    "lesson/proposed.py", "link/ble_link.py", "link/find.py", "link/lasting_link.py", "link/scan.py",
    "link/serial_link.py", "link/talk.py",
    "link/uri.py", "onboard/collect.py", "onboard/make.py", "onboard/pack.py", "onboard/transfer.py",
    "record/contents.py", "record/database.py", "record/recorder.py", "tone/devices.py",
]  # fmt: skip
# What may stand in a field.
FILLINGS = ("3", "toes", "", "Anna", "left", "3 Dec 2026", "2 of 8")
# How what is for a program begins: pages' frames, questions to a database, figures of a measurement.
NO_SENTENCE = ("<!DOCTYPE", "SELECT ", "a step in force on the simulated mat,")
# No sentence for a person: names of actions, places, sounds and things, what a program reads.
NOT_SAID = {
    *(key.name for key in KEYS), *PLACES, "strike set", "take back", "bold reverse", "say done",
    "`groundtone build commission`",
    "# {}, written by groundtone build layout; the entries are explained in hardware/mats.",
    "| step | what | drawing | minutes | done when |", "| contact of the plug | left panel | right panel |",
    "sound asked for at a time, ms", "steps without a sound within 150 ms", "times the sound ran dry",
    "said of the sound", "load average before and after", "blas core", "model name", "chosen by the library",
    "groundtone films", "groundtone film {}", "own files.json", "does not exist", "not translate host",
    "invalid connection option",
    "ask feel", "say where", "go {}", "name {}", "lesson {}", "kept.no clear change", "kept.too few swings to say",
    # Tried by a case of its own in tests/lesson/test_sentences.py.
    "Two clubs of one class ({}): compared as {}s.",
}  # fmt: skip


def texts(path):
    """Constants and f-strings with a blank between words, each with its line; docstrings and help are left out."""
    tree = ast.parse(path.read_text("utf-8"))
    left = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            left.add(node.value)
        if isinstance(node, ast.JoinedStr):
            left |= set(node.values)
        if isinstance(node, ast.keyword) and node.arg in ("help", "metavar"):
            left |= set(ast.walk(node.value))
    for node in ast.walk(tree):
        if node in left:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            parts = (node.value,)
        elif isinstance(node, ast.JoinedStr):
            parts = tuple(part.value if isinstance(part, ast.Constant) else None for part in node.values)
        else:
            continue
        if re.search(r"[a-z]{2,} [a-z]", " ".join(part or "x" for part in parts)):
            yield node.lineno, parts


def known(say, parts, keys):
    """One of the fillings gives a sentence that the catalogue has, or all its words stand in one of its sentences."""
    gaps = sum(part is None for part in parts)
    fillings = FILLINGS if gaps < 4 else FILLINGS[:3] if gaps < 7 else FILLINGS[:1]
    for filled in itertools.product(fillings, repeat=gaps):
        left = iter(filled)
        if say("".join(next(left) if part is None else part for part in parts)) is not None:
            return True
    # A part of a sentence that is put together.
    words = [part.strip().lower() for part in parts if part and part.strip()]
    return any(all(word in key for word in words) for key in keys)


def missing_in(names):
    """Sentences without a German one, and how many there are in all."""
    say = sentences("de")
    catalogue = tomllib.loads((PROGRAM / "lesson" / "words" / "said" / "de.toml").read_text("utf-8"))
    keys = [english.lower() for section in catalogue.values() for english in section]
    missing, every = [], 0
    for name in names:
        for line, parts in texts(PROGRAM / name):
            text = "".join("{}" if part is None else part for part in parts)
            if text not in NOT_SAID and not text.startswith(NO_SENTENCE):
                every += 1
                missing += [] if known(say, parts, keys) else [f"{name}, line {line}: {text}"]
    return missing, every


def test_every_help_text_of_every_command_is_known_in_german():
    say = sentences("de")

    def helps(command, context):
        yield from paragraphs(command.help or "")
        yield from filter(None, (getattr(option, "help", None) for option in command.params))
        if isinstance(command, click.Group):
            for name in command.list_commands(context):
                yield from helps(command.get_command(context, name), context)

    told = list(helps(cli, click.Context(cli)))
    assert len(told) > 250
    assert not [text for text in told if say(text) is None]


@pytest.mark.parametrize("name", WINDOW)
def test_every_sentence_of_the_window_is_known_in_german(name):
    missing, _ = missing_in([name])
    assert missing == [], "add it to lesson/words/said/de.toml"


def test_so_are_those_of_commands():
    """All but two in a hundred: one that has just been written is heard in English until it has its line."""
    missing, every = missing_in(COMMANDS)
    assert every > 250
    assert len(missing) <= 0.02 * every, "\n".join(missing)
