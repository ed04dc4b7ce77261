"""The catalogues: every language has every text with the same braces, and a gap is named."""

import pytest

from groundtone.lesson.wording import PATTERN, WordsError, _read, differences, languages, words


@pytest.mark.parametrize("language", languages())
def test_every_language_is_complete(language):
    assert differences(_read(PATTERN), _read(language)) == []


@pytest.mark.parametrize("language", sorted(set(languages()) - {PATTERN}))
def test_a_translation_is_no_copy(language):
    here, there = _read(PATTERN), _read(language)
    same = [key for key in here["page"] if here["page"][key] == there["page"][key]]
    assert set(same) <= {"nobody"}  # a golfer is one in many languages


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        ({}, "a is missing"),
        ({"a": "{n}", "b": {"c": ["x"]}, "d": ""}, "d is not in the English one"),
        ({"a": "{n} {n}", "b": {"c": ["x"]}}, "a has the braces {n}, {n} instead of {n}"),
        ({"a": "{n}", "b": {"c": []}}, "b.c is of another kind"),
        ({"a": "{n}", "b": {"c": [""]}}, "b.c is empty"),
        ({"a": "{n}", "b": "c"}, "b is of another kind"),
    ],
)
def test_what_a_catalogue_lacks_is_named(table, sentence):
    assert sentence in differences({"a": "{n} swings", "b": {"c": ["y"]}}, table)


def test_words_are_found_and_filled():
    assert words("en")("strikes.inside", inside="4", placed="9") == "4 of 9 inside the circle"
    assert words("de")("strikes.inside", inside="4", placed="9") == "4 von 9 im Kreis"
    assert len(words("de").list("language.months")) == 12


def test_a_language_that_is_not_there():
    with pytest.raises(WordsError, match="choose from de, en"):
        words("xx")


def test_a_text_that_is_not_there():
    with pytest.raises(WordsError, match=r"no text 'page\.moon': add it to words/en\.toml"):
        words("en")("page.moon")
