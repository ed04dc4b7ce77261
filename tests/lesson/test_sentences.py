"""Sentences in another language: fields, plurals, decimals, dates and names by cases; and the catalogue itself."""

import tomllib
from importlib.resources import files

import pytest

from groundtone.lesson.sentences import Given, Sentences, fields
from groundtone.lesson.wording import languages, sentences, words
from groundtone.swing.bands import default_bands


def table(language):
    text = (files("groundtone.lesson") / "words" / "said" / f"{language}.toml").read_text("utf-8")
    return {english: turned for section in tomllib.loads(text).values() for english, turned in section.items()}


OTHERS = [language for language in languages() if language != "en"]


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("1 swing", "1 Schwung"),
        ("0 swings", "0 Schwünge"),
        ("13 swings", "13 Schwünge"),
        ("1 of 1 swings", "1 von 1 Schwung"),
        ("3 of 8 swings, 1 of 3 outside", "3 von 8 Schwüngen, 1 von 3 außerhalb"),
        ("1 recordings came, 0 were here already.", "1 Aufnahme kam, 0 waren schon da."),
        ("2 recordings came, 1 were here already.", "2 Aufnahmen kamen, 1 war schon da."),
        ("Counted again 1 days later:", "Nach einem Tag wieder gezählt:"),
        ("Counted again 12 days later:", "Nach 12 Tagen wieder gezählt:"),
        ("1 damaged message dropped (a bad cable or plug makes them)",
         "1 beschädigte Nachricht verworfen (das kommt von schlechten Kabeln oder Steckern)"),
        ("0.25 s before impact: lead share 45 %, heel to toe 60 %",
         "0,25 s vor dem Treffmoment: Anteil vorn 45 %, Ferse–Zehen 60 %"),
        ("12.5", "12,5"),
        ("\u22123.5 kg", "\u22123,5 kg"),
        ("26 Mar 2026", "26. Mär 2026"),
        ("In the lesson of nobody", None),
        ("Last time, 3 Dec 2026: toes in the downswing in 6 of 8.",
         "Zuletzt, 3. Dez 2026: Zehen im Abschwung in 6 von 8."),
        ("Toes in the downswing: 6 of 8 before, 1 of 8 after.", "Zehen im Abschwung: 6 von 8 vorher, 1 von 8 nachher."),
        ("Two clubs of one class (7 iron before, 8 iron after): compared as irons.",
         "Zwei Schläger einer Klasse (vorher 7 iron, nachher 8 iron): verglichen als Eisen."),
        ("At setup the lead foot carried over the ball (72 %), the trail foot under the laces (53 %); at impact the "
         "lead foot at the heel (30 %).",
         "Beim Ansprechen lag der Druck im vorderen Fuß über dem Ballen (72 %), im hinteren unter den Schnürsenkeln "
         "(53 %); im Treffmoment im vorderen Fuß an der Ferse (30 %)."),
        ("turn of pressure, part of the way to impact: 27 %", "Umkehr des Drucks, Teil des Wegs zum Treffmoment: 27 %"),
        ("drill, 7 iron: 5 swings; toes in 2.", "Übung, 7 iron: 5 Schwünge; Zehen in 2."),
        ("Good strikes, iron: 4 balls, 2 well struck, are too few to say something; 12 are needed, three of either "
         "kind.",
         "Gute Treffer, Eisen: 4 Bälle, 2 gut getroffen, sind zu wenige, um etwas zu sagen; 12 braucht es, drei von "
         "jeder Art."),
        ("The pair: nothing that anybody has written", None),
        ("Anna is toes from now on, in all recordings.", "Anna heißt von jetzt an toes, in allen Aufnahmen."),
        ("Saved. baseline: 8 swings; 6 of 8 outside, in silence; 1 of 8 strikes inside the centre circle.",
         "Gesichert. Anfang: 8 Schwünge; 6 von 8 außerhalb, in Stille; 1 von 8 Treffern im Kreis in der Mitte."),
    ],
)  # fmt: skip
def test_german_by_cases(english, german):
    assert sentences("de")(english) == german


def test_the_sentence_with_most_words_of_its_own_is_taken():
    say = Sentences({"{a}: {b}": "allgemein", "swing {n:#}: {b}": "Schwung {n}: {b}"}, ",", str)
    assert say("swing 3: 4.5") == "Schwung 3: 4,5"


def test_english_stays_as_it_is():
    assert sentences("en")("3 of 8 swings") is None


@pytest.mark.parametrize("language", OTHERS)
def test_every_field_is_on_both_sides(language):
    wrong = {english: turned for english, turned in table(language).items() if fields(english) != fields(turned)}
    assert wrong == {}


@pytest.mark.parametrize("language", OTHERS)
def test_what_is_found_in_a_swing_and_its_drill_are_known(language):
    bands, say = default_bands(), sentences(language)
    told = [text for each in bands.findings for text in (each.title, each.sentence_low, each.sentence_high,
            each.sentence_far)] + list(bands.drills.values())  # fmt: skip
    assert [text for text in told if text and say(text) is None] == []


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_is_empty_and_a_form_is_one_of_two(language):
    for english, turned in table(language).items():
        assert turned.strip(), english
        say = Sentences({english: turned}, ",", str)
        assert say is not None
        assert all(part.count("|") in (0, 1) for part in turned.split("{")), english


@pytest.mark.parametrize("language", OTHERS)
def test_texts_of_the_page_are_known_to_the_window_too(language):
    say, page, there = sentences(language), words("en"), words(language)
    assert say(page("drills.even-feet.title")) == there("drills.even-feet.title")
    assert say(page("page.title")) == there("page.title")


def test_what_somebody_typed_is_not_turned():
    from groundtone.app.language import SPOKEN, tr

    SPOKEN.choose("de")
    try:
        assert (tr("toes"), tr(Given("toes")), tr("never said")) == ("Zehen", "toes", "never said")
    finally:
        SPOKEN.choose("en")
