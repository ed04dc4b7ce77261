"""A page as files: it is on one sheet whatever is written on it, its files are whole, and its names are safe."""

import io
import json
import re
from dataclasses import replace

import pytest
from matplotlib.text import Text
from pypdf import PdfReader

from groundtone.errors import GroundtoneError
from groundtone.lesson.report import paper, pdf
from groundtone.lesson.report.choice import PageChoice, shown
from groundtone.lesson.report.example import example
from groundtone.lesson.report.page import build_page, stem_of, write_page
from groundtone.lesson.report.paper import visual
from groundtone.lesson.report.pictures import FACE_MM, SWINGS_MM, drawing, face_picture, places, swings_picture
from groundtone.lesson.wording import words
from groundtone.review.strikes import Contact, Strike
from groundtone.review.swings import BlockRows, SwingRow

BARE = shown(("picture", "strikes", "card"))
"""Without pictures a page is made at once."""


@pytest.fixture(scope="module")
def page():
    return build_page(example())


def named(name, **choice):
    data = example()
    return build_page(replace(data, golfer=replace(data.golfer, name=name)), PageChoice(**{**BARE, **choice}))


def text_of(page):
    pages = PdfReader(io.BytesIO(page.pdf)).pages
    return " ".join(" ".join(part.extract_text() for part in pages).split())


def test_two_sides_of_one_sheet_and_the_picture_s_words_are_in_it(page):
    pages = PdfReader(io.BytesIO(page.pdf)).pages
    assert len(pages) == 2
    assert [round(float(v)) for v in pages[0].mediabox[2:]] == [595, 842]
    assert "turn of" in pages[0].extract_text()
    assert page.card.startswith(b"\x89PNG")


def test_on_a_narrow_screen_no_letter_is_smaller_than_11_px(page):
    """390 px wide: what stands there by the page's own rules, and the letters within its pictures."""
    narrow = page.html.split("@media (max-width: 600px) {")[1].split("@media")[0]
    plain = float(re.search(r"\.front, \.back \{ font-size: ([\d.]+)px", narrow)[1])
    parts, least = re.search(r"([^{}]*) \{ font-size: ([\d.]+)em; \}", narrow).groups()
    assert parts.strip() == ".small, .tiny, table"
    assert plain * float(least) >= 11
    others = re.findall(r"^([^{}@]+) \{[^}]*font-size: ([\d.]+)em", page.html.split("@media")[0], flags=re.M)
    assert {name for name, size in others if plain * float(size) < 11} <= {"table", ".small", ".tiny"}
    wide = {name: float(re.search(rf"\.{name} svg {{ min-width: ([\d.]+)px", narrow)[1]) for name in ("swings", "face")}
    with drawing():
        data, say = example(), words("en")
        for figure, size, px in (
            (swings_picture(data, say), SWINGS_MM, wide["swings"]),
            (face_picture(data.after, say, filled=True), FACE_MM, wide["face"]),
        ):
            letters = min(text.get_fontsize() for text in figure.findobj(Text) if text.get_text().strip())
            assert letters * px / (size[0] / 25.4 * 72) >= 11
    # A strike map needs no scrolling there: 390 px less the sheet's own margins of 5 mm.
    assert wide["face"] <= 390 - 2 * 5 / 25.4 * 96


def test_the_front_alone_says_what_to_practise_how_often_and_how_it_feels(page):
    front = " ".join(PdfReader(io.BytesIO(page.pdf)).pages[0].extract_text().split())
    for text in ("Practise “Lead heel heavy”", "3 sets of 10 balls, 3 days a week", "at half speed", "silence is right",
                 "You could lift the lead toes at impact."):  # fmt: skip
        assert text in front


def test_the_back_has_the_steps_the_stop_rule_and_the_safety_note(page):
    back = " ".join(PdfReader(io.BytesIO(page.pdf)).pages[1].extract_text().split())
    for text in ("with a heavy lead heel until the ball is gone", "44 % to 62 %", "Stop at any pain", "cannot tell",
                 "Two clear club lengths", "vertical force alone", "This page is no medical advice."):  # fmt: skip
        assert text in back


def test_the_same_lesson_gives_the_same_page(page):
    again = build_page(example())
    assert again.html == page.html
    assert again.pdf == page.pdf
    assert again.card == page.card


def test_an_example_says_so_on_every_file_s_first_side(page):
    assert "Invented example" in PdfReader(io.BytesIO(page.pdf)).pages[0].extract_text()
    assert "Invented example" in page.html
    assert page.numbers["invented"] is True


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("size", ["a4", "letter"])
def test_every_paper_and_language_fits_one_sheet_in_readable_letters(size, language):
    made = build_page(example(language), PageChoice(language=language, paper=size, card=False))
    pages = PdfReader(io.BytesIO(made.pdf)).pages
    points = {"a4": (595, 842), "letter": (612, 792)}[size]
    assert [tuple(round(float(v)) for v in page.mediabox[2:]) for page in pages] == [points] * 2
    assert made.html.count('<section class="sheet') == 2
    front, back = (float(made.html.split(f".{side} {{ font-size: ")[1].split("pt")[0]) for side in ("front", "back"))
    assert min(front, back) >= 8.0


def test_long_words_of_the_coach_shrink_the_letters_and_too_long_ones_are_refused():
    usual, long = named("Ann"), named("Ann", saw="The ball went where it wanted. " * 60)
    assert len(PdfReader(io.BytesIO(long.pdf)).pages) == 2
    assert text_of(long).count("The ball went where it wanted.") == 60
    assert size_of(long) < size_of(usual)
    with pytest.raises(GroundtoneError, match="too long for one sheet: shorten them"):
        named("Ann", saw="The ball went where it wanted. " * 400)


def size_of(page):
    return float(page.html.split(".front { font-size: ")[1].split("pt")[0])


@pytest.mark.parametrize(
    "name",
    [
        "<script>alert('x')</script> & \"Co\"",
        "{{ 7 * 7 }} {% raw %}",
        "$x^2$ \\alpha",
        "W" * 100,
        "Łódź Ñandú Ωmega",
        "O'Neill",
    ],
)
def test_names_of_any_characters_stand_as_they_are(name):
    made = named(name, card=True)
    assert name.replace(" ", "") in text_of(made).replace(" ", "")
    assert "<script" not in made.html
    assert made.numbers["golfer"] == name
    if "<" in name:
        assert "&lt;script&gt;" in made.html


def test_characters_without_a_font_are_said_and_not_lost_in_html(monkeypatch):
    monkeypatch.setattr(pdf, "font_with", lambda _: None)
    made = named("李 Ann")
    assert "李 Ann" in made.html
    assert "No font of this machine has the characters 李" in made.doubts[0]
    assert "Ann" in text_of(made)


def test_characters_of_another_font_are_set_in_that_font(monkeypatch):
    # Stands in for a machine with such a font: the page's own lacks the letter by decree.
    monkeypatch.setattr(paper, "_characters", lambda _: frozenset(range(0x20, 0x7F)) | {0x2212, 0xA0, 0xB7, 0x2013})
    monkeypatch.setattr(pdf, "font_with", lambda _: ("DejaVu Serif", paper.plain_font().with_name("DejaVuSerif.ttf")))
    made = named("Åse")
    assert made.doubts == ()
    front = PdfReader(io.BytesIO(made.pdf)).pages[0]
    assert any("Serif" in font.get_object()["/BaseFont"] for font in front["/Resources"]["/Font"].values())
    assert "Åse" in text_of(made)


def test_a_name_from_right_to_left_is_set_in_that_order():
    first, second = "\u05d3\u05d5\u05d3", "\u05db\u05d4\u05df"
    assert visual(f"{first} {second}, 12 Ann") == f"{second[::-1]} {first[::-1]}, 12 Ann"
    assert visual("Ann") == "Ann"
    assert f"{first} {second}" in named(f"{first} {second}").html
    assert "letters that should join" in named("\u0639\u0644\u064a").doubts[-1]


def test_a_font_is_found_where_it_has_the_characters():
    assert paper.missing(["Ann Åse −1 °"]) == set()
    assert paper.missing(["Ann 李"]) == {"李"}
    name, path = paper.font_with({"Å"})
    assert paper.missing(["Å"], path) == set()
    assert name


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("Ann", "page-Ann-2026-03-14"),
        ("", "page-2026-03-14"),
        ("Jörg Ä.", r"page-Jörg-Ä-[0-9a-f]{6}-2026-03-14"),
        ("a/b", r"page-a-b-[0-9a-f]{6}-2026-03-14"),
        ("../../etc", r"page-etc-[0-9a-f]{6}-2026-03-14"),
        ("CON", "page-CON-2026-03-14"),
        ("\ud800", r"page-[0-9a-f]{6}-2026-03-14"),
        ("李" * 100, r"page-李{26}-[0-9a-f]{6}-2026-03-14"),
    ],
)
def test_file_names(name, stem):
    made = stem_of(name, "2026-03-14T10:00:00+01:00")
    assert re.fullmatch(stem, made)
    assert len(made.encode("utf-8", "replace")) < 200


def test_two_golfers_never_share_a_file():
    assert len({stem_of(name, "2026-03-14") for name in ("a/b", "a:b", "a b", "a?b", "ab")}) == 5


def test_files_are_written_and_the_json_holds_every_figure(page, tmp_path):
    paths = write_page(page, tmp_path / "new" / "folder", as_json=True)
    assert [path.suffix for path in paths] == [".html", ".pdf", ".png", ".json"]
    numbers = json.loads(paths[3].read_text("utf-8"))
    assert numbers["figures"]["overall_most_down.before"]["text"] == "74\u00a0%"
    assert numbers["verdicts"]["overall_most_down"] == "these two blocks differ"
    assert numbers["swings"] == {"before": 12, "after": 12, "drill": 18, "only": 0}
    assert [path.suffix for path in write_page(page, tmp_path)] == [".html", ".pdf", ".png"]


def test_a_folder_that_cannot_be_written_is_said_and_the_old_page_stays(page, tmp_path):
    (tmp_path / "file").write_text("here first")
    with pytest.raises(GroundtoneError, match=r"cannot be written into .*file .*choose another folder with --out"):
        write_page(page, tmp_path / "file")
    assert (tmp_path / "file").read_text() == "here first"
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / f"{page.stem}.pdf").mkdir()
    with pytest.raises(GroundtoneError, match="cannot be written"):
        write_page(page, tmp_path / "out")
    left = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert left == [f"{page.stem}.html", f"{page.stem}.pdf"]


def test_every_strike_has_a_mark_of_its_own():
    told = (
        [Strike(field=4)] * 9
        + [Strike(field=5)] * 9
        + [Strike(contact=Contact.SHANK), Strike(), Strike(place_mm=(3, -2))]
    )
    block = BlockRows("1", tuple(SwingRow(i, {}, strike=strike) for i, strike in enumerate(told)))
    marks = places(block)
    assert len(marks) == 20
    assert len(set(marks)) == 20
    assert all(-22 - 7 <= x <= -22 + 7 for x, _ in marks[:9])
    assert max(x * x + y * y for x, y in marks[9:18]) < 13**2
    assert marks[18] == (-38.0, 0.0)
    assert marks[19] == (3, -2)
