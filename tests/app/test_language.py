"""Commands in German: a practice and what follows from it, end to end; and how the language is chosen."""

import json
import re

import pytest

from groundtone.app.console import turned
from groundtone.app.language import SPOKEN

ENGLISH = re.compile(r"\b(the|of|is|were|with|not|swings?|outside|before|after|from|to|and|it|no|heard|lead)\b")


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    """An empty data folder, and English again afterwards."""
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    yield tmp_path / "home"
    SPOKEN.choose("en")


def english(text):
    """Lines with English left in them; what is to be typed and where things lie is no sentence."""
    lines = (
        re.sub(r"„[^“]*“|\S*/\S*|\S+\.mcap|'[^']*'|--\w+|groundtone \w+ \w+", "", line) for line in text.splitlines()
    )
    return [line for line in lines if ENGLISH.search(line)]


def test_a_practice_and_what_follows_are_told_in_german(groundtone):
    def said(*words):
        told = groundtone("--language", "de", *words)
        assert told.code == 0, told.err
        left = english(told.out + told.err)
        assert not left, (words, left)
        return told.out

    practised = said("practise", "--twin", "3", "--fast", "--seconds", "40", "--golfer", "Anna", "--club", "7 iron")
    assert "langsam wiegen: Von den Fersen" in practised
    assert re.search(r"freies Üben, 7 iron: \d Schw", practised)
    assert "„groundtone page last“ macht die Seite" in practised.replace("\n", " ")
    assert "Anteil" in said("review", "last")
    assert "unsicherheit" in said("review", "last", "--swing", "1")
    assert "Schwung 1: Mitte, sauber." in said("strike", "last", "5 c")
    said("library", "list")
    assert "Rechtshänder" in said("library", "list", "Anna")
    said("bands", "show", "Anna")
    said("plan", "--golfer", "Anna", "--new", "--clubs", "7 iron,driver")
    said("feel", "--golfer", "Anna")


@pytest.mark.parametrize(
    ("words", "told", "code"),
    [
        (("divider",), "Brauchbare Kraft einer Zelle: 0,29 N (dreimal das Rauschen) bis nicht erreicht", 0),
        (("divider", "--series", "10"), "ABGELEHNT: nicht so bauen\n- Zwei Reihen verbunden, Matte leer: ein", 1),
        (("scan", "--settle", "1"), "NICHT RICHTIG\n- Eine Spalte braucht 2,0 µs nach dem Multiplexer und hat 1", 1),
        (("layout", "--rows", "8"), "8 von 16 Anschlüssen für Reihen", 0),
        (("parts",), "| Elektronik | Kondensator 100 nF | 2 St. | 0,20 | - |", 0),
        (("steps",), "| Grundplatten | Beide Platten mit ihrer Kerbe sägen, Löcher bohren", 0),
        (("wiring",), "4,7 kΩ 1 % am Anschluss, NPN-Transistor, Kleinsignal am Kollektor, 100 kΩ 1 % vor", 0),
    ],
)  # fmt: skip
def test_what_a_builder_reads_is_german_line_by_line(groundtone, tmp_path, words, told, code):
    out = ("--out", str(tmp_path)) if words[0] in ("layout", "wiring") else ()
    done = groundtone("--language", "de", "build", *words, *out)
    assert done.code == code, done.err
    assert told in done.out
    assert not english(re.sub(r"`[^`]*`|[\w-]+-from-below", "", done.out))
    assert words[0] not in ("divider", "scan") or max(map(len, done.out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("review", "last"), "groundtone: Noch ist nichts aufgenommen: „groundtone practise“ nimmt auf."),
        (("page", "--example", "last"),
         "groundtone: --example ist eine erfundene Stunde: nenne dazu weder Aufnahme noch Golfer."),
        (("library", "send"),
         "groundtone: Kein Ort für Aufnahmen ist gesetzt: nenne einen mit „groundtone library at --recordings“."),
        (("library", "roles"),
         "groundtone: Die Bibliothek ist eine Datei dieses Rechners: wer sie öffnen kann, darf alles."),
        (("practise", "--port", "nowhere:1"),
         "groundtone: 'nowhere:1' nennt keine Verbindung: sie beginnt mit serial:, ble:, replay:, twin:."),
        (("progress",), "groundtone: Nenne einen Golfer der Bibliothek, oder --example für erfundene Stunden."),
    ],
)  # fmt: skip
def test_what_cannot_be_done_is_said_in_german(groundtone, words, sentence):
    assert groundtone("--language", "de", *words).err.strip().replace("\n", " ") == sentence


def test_the_environment_chooses_too_and_the_option_wins(groundtone, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_LANGUAGE", "de")
    assert "Noch ist nichts aufgenommen" in groundtone("review", "last").err
    assert "Nothing has been recorded yet" in groundtone("--language", "en", "review", "last").err
    monkeypatch.setenv("GROUNDTONE_LANGUAGE", "xx")
    assert "choose from en, de" in groundtone("review", "last").err


def test_without_a_word_it_is_english_whatever_the_system_speaks(groundtone, monkeypatch):
    monkeypatch.setenv("LANG", "de_DE.UTF-8")
    monkeypatch.setenv("LC_ALL", "de_DE.UTF-8")
    assert "Nothing has been recorded yet" in groundtone("review", "last").err


def test_json_lines_stay_english(groundtone):
    told = groundtone("--language", "de", "practise", "--twin", "3", "--fast", "--seconds", "2", "--json-lines")
    asked = [line["sentence"] for line in map(json.loads, told.out.splitlines()) if "ask" in line]
    assert "From the heels over one foot to the toes, and back over the other." in asked


def test_a_golfer_called_like_a_word_is_not_turned(groundtone):
    groundtone("library", "add", "toes")
    assert "toes" in groundtone("--language", "de", "library", "list").out


def test_tables_and_panels_are_turned_with_what_is_in_them():
    from rich.console import Group
    from rich.panel import Panel
    from rich.table import Table
    from rich.text import Text

    SPOKEN.choose("de")
    table = Table(title="swing 3")
    table.add_column("strike")
    table.add_row("toe strike")
    drawn = turned(Panel(Group(table, Text("play", style="bold")), title="groundtone, practice"))
    inner = drawn.renderable.renderables
    assert (drawn.title, inner[0].title, inner[0].columns[0].header) == ("groundtone, Üben", "Schwung 3", "Treffer")
    assert list(inner[0].columns[0].cells) == ["Treffer an der Spitze"]
    assert (inner[1].plain, str(inner[1].style)) == ("spielen", "bold")


@pytest.mark.parametrize(
    "words",
    [(), ("practise",), ("library",), ("library", "rename"), ("review",), ("check",), ("build",), ("build", "install")],
)
def test_help_is_german(groundtone, words):
    told = groundtone("--language", "de", *words, "--help").out
    assert told.startswith("Aufruf: ")
    # What click writes in brackets, and names of options and values, are what is typed.
    typed = r"^ *(--?[\w\[|-]+.{0,28}|[\w-]+ {2,})|\[.*?(\]|$)|`\w+`|„.*"
    lines = [re.sub(typed, "", line) for line in told.splitlines()]
    assert not [line for line in lines if ENGLISH.search(line)]
