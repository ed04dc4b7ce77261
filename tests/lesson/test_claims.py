"""What the words may not claim, in every language: the body's movement, and causes without exception.

Vertical force sees where the pressure is, never the body; and no fault of the pressure always makes the same strike.
"""

import re
import tomllib
from importlib.resources import files

import pytest

from groundtone.lesson.wording import languages
from groundtone.swing.bands import default_bands

# Nobody is told that their body moved, turned, swayed or slid: the mat does not see it.
BODY = {
    "en": r"\byou (moved|went|slid|swayed|turned|shifted|hung)\b"
    r"|\byour (body|hips?|shoulders?|head) (moved|went|slid|swayed|turned)\b",
    "de": r"\bdu (bewegtest|gingst|glittst|drehtest|rutschtest|hast dich bewegt)\b"
    r"|\bdeine? (körper|hüften?|schultern?|kopf) (ging|bewegte|drehte|glitt)",
}
# And no cause is one without exception.
ALWAYS = {
    "en": r"\b(always|never|every time|certainly|proves?)\b",
    "de": r"\b(immer|nie|niemals|jedes mal|beweist)\b",
}
# This one says that going together proves nothing; what to do, what to mind and what a drill is called are no causes.
# Nor is what is said of wires, files and options: a line may be always low, and recordings are never written over.
SPARED = re.compile(
    r"limits\.link|drills\..*\.(steps|title|care)"
    r"|said\.(builder|build-calculators|build-parts|build-steps|troubles|rarer|help-rest|academy)\..*"
)


def texts(table, at=""):
    """Every text of a catalogue with its key."""
    for key, value in table.items():
        where = f"{at}.{key}" if at else key
        if isinstance(value, dict):
            yield from texts(value, where)
        elif isinstance(value, list):
            yield from ((where, text) for text in value)
        else:
            yield where, value


def catalogue(language):
    """The page's texts, and what the window and the console say."""
    folder = files("groundtone.lesson") / "words"
    said = folder / "said" / f"{language}.toml"
    out = list(texts(tomllib.loads((folder / f"{language}.toml").read_text("utf-8"))))
    return out + (list(texts(tomllib.loads(said.read_text("utf-8")), "said")) if said.is_file() else [])


def test_what_the_window_says_in_german_is_read_too():
    assert sum(where.startswith("said.") for where, _ in catalogue("de")) > 500


@pytest.mark.parametrize("language", languages())
def test_no_words_claim_that_the_body_moved(language):
    assert [where for where, text in catalogue(language) if re.search(BODY[language], text.lower())] == []


@pytest.mark.parametrize("language", languages())
def test_no_cause_is_without_exception(language):
    told = [(where, text) for where, text in catalogue(language) if not SPARED.fullmatch(where)]
    assert [where for where, text in told if re.search(ALWAYS[language], text.lower())] == []


def test_the_bands_sentences_claim_neither():
    for band in default_bands().findings:
        for text in (band.strike, band.sentence_low, band.sentence_high, band.sentence_far):
            assert not re.search(f"{BODY['en']}|{ALWAYS['en']}", text.lower()), (band.name, text)
    for text in default_bands().drills.values():
        assert not re.search(ALWAYS["en"], text.lower()), text


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "You moved to the lead side."), ("en", "Your hips slid."), ("en", "This always makes a shank."),
        ("de", "Du gingst nach vorn."), ("de", "Deine Hüfte ging hinüber."), ("de", "Das gibt immer einen Socket."),
    ],
)  # fmt: skip
def test_what_is_forbidden_would_be_found(language, text):
    assert re.search(f"{BODY[language]}|{ALWAYS[language]}", text.lower())
