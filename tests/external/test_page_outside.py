"""The page judged from outside: html5lib reads the HTML, poppler the PDF, WCAG 2.2 and a model of colour vision the
colours.
"""

import json
import re
import subprocess

import colorspacious
import html5lib
import numpy as np
import pytest
from pypdf import PdfReader

from groundtone.lesson.report import paper as colours
from groundtone.lesson.report.choice import PageChoice, units_of
from groundtone.lesson.report.example import example
from groundtone.lesson.report.page import build_page, write_page

SVG = "{http://www.w3.org/2000/svg}"
HTML = "{http://www.w3.org/1999/xhtml}"


@pytest.fixture(scope="module", params=["en", "de"])
def written(request, tmp_path_factory):
    """A page in a language, with every figure on it: the paths of HTML, PDF, PNG and JSON."""
    choice = PageChoice(language=request.param, weight=True, units=units_of("yards,lb"))
    folder = tmp_path_factory.mktemp(request.param)
    return write_page(build_page(example(request.param), choice), folder, as_json=True)


def tree_of(path):
    return html5lib.HTMLParser(strict=True).parse(path.read_text("utf-8"))


def test_html_is_parsed_without_a_single_error(written):
    tree = tree_of(written[0])
    assert len(list(tree.iter(f"{HTML}section"))) == 2
    assert len(list(tree.iter(f"{SVG}svg"))) == 3


def test_the_strict_parser_does_object_to_what_is_wrong(written):
    broken = written[0].read_text("utf-8").replace("</section>", "", 1)
    with pytest.raises(html5lib.html5parser.ParseError):
        html5lib.HTMLParser(strict=True).parse(broken)


def test_nothing_points_outside_and_nothing_runs(written):
    text = written[0].read_text("utf-8")
    tree = tree_of(written[0])
    ids = [element.get("id") for element in tree.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for element in tree.iter():
        assert element.tag not in {
            f"{HTML}{name}" for name in ("script", "link", "img", "iframe", "object", "base", "a")
        }
        for name, value in element.attrib.items():
            assert not str(name).startswith("on")
            if str(name).endswith(("href", "src", "action")):
                assert value.startswith("#")
                assert value[1:] in ids
            for target in re.findall(r"url\(([^)]*)\)", value):
                assert target.startswith("#")
                assert target[1:] in ids
    style = "".join(element.text for element in tree.iter(f"{HTML}style"))
    assert "url(" not in style
    assert "@import" not in style
    # Names of markup languages are no addresses.
    rest = text.replace("http://www.w3.org/2000/svg", "").replace("http://www.w3.org/1999/xlink", "")
    assert "://" not in rest


def test_poppler_opens_the_pdf_as_one_sheet(written):
    said = subprocess.run(["pdfinfo", written[1]], capture_output=True, text=True, check=True)
    assert said.stderr == ""
    assert re.search(r"Pages:\s+2\n", said.stdout)
    assert re.search(r"Page size:\s+595\.\d+ x 841\.\d+ pts \(A4\)", said.stdout)
    fonts = subprocess.run(["pdffonts", written[1]], capture_output=True, text=True, check=True).stdout
    rows = fonts.splitlines()[2:]
    assert rows
    assert all(row.split()[-5] == "yes" for row in rows), fonts  # embedded


def test_the_pdf_has_the_numbers_of_the_json_in_the_reader_s_language(written):
    raw = subprocess.run(["pdftotext", "-layout", written[1], "-"], capture_output=True, text=True, check=True).stdout
    text = " ".join(raw.replace("\u00a0", " ").split())
    numbers = json.loads(written[3].read_text("utf-8"))
    comma = numbers["language"] == "de"
    assert len(numbers["figures"]) > 50
    for name, figure in numbers["figures"].items():
        shown = figure["text"].replace("\u00a0", " ")
        # A narrow blank before a unit is none for poppler.
        pattern = re.escape(shown).replace("\\ ", " ?")
        assert re.search(rf"(?<![\d.,]){pattern}(?![\d])", text), name
        # The text is the value: read back, it differs by half of its last place at most.
        read = float(re.search(r"[\u2212+]?[\d.,]+", shown)[0].replace("\u2212", "-").replace(",", "."))
        unit = {"kg": 1, "m": 1, "yd": 0.9144, "lb": 0.45359237}.get(shown.split()[-1], 1)
        per_cent = "." in name and name.split(".")[0] not in ("tempo", "held_s", "placed", "contact")
        factor = (
            100 if per_cent and abs(figure["value"]) <= 1.0001 and name not in ("inside.before", "inside.after") else 1
        )
        digits = len(re.search(r"[.,](\d+)", shown)[1]) if re.search(r"[.,]\d", shown) else 0
        assert abs(read * unit - factor * figure["value"]) <= (0.5 * 10**-digits) * unit + 1e-9, name
        assert ("," in shown) <= comma
        assert ("." in shown) <= (not comma)


def read_aloud(path):
    """What poppler finds in the tree of tags, in its order: (type, text)."""
    said = subprocess.run(["pdfinfo", "-struct-text", path], capture_output=True, text=True, check=True).stdout
    out = []
    for line in said.splitlines():
        text = line.strip()
        if text.startswith('"'):
            out[-1][1] += text[1:-1]
        elif not text.startswith("/"):
            out.append([text.partition(" ")[0].rstrip(":"), ""])
    return out


def letters(text):
    return re.sub(r"\s", "", text)


def test_the_pdf_can_be_read_aloud_in_order_and_wholly(written):
    said = subprocess.run(["pdfinfo", written[1]], capture_output=True, text=True, check=True).stdout
    assert re.search(r"Tagged:\s+yes", said)
    language = json.loads(written[3].read_text("utf-8"))["language"]
    title = "What your feet did" if language == "en" else "Was deine Füße taten"
    assert re.search(rf"Title:\s+.* · {title}", said)
    found = read_aloud(written[1])
    kinds = [kind for kind, _ in found]
    assert kinds[:3] == ["Document", "Sect", "H1"]
    assert (kinds.count("Sect"), kinds.count("H1"), kinds.count("Table"), kinds.count("Figure")) == (2, 1, 1, 3)
    # The headings are those of the HTML, which a browser reads aloud.
    html = ["".join(e.itertext()) for e in tree_of(written[0]).iter() if e.tag in {f"{HTML}h{n}" for n in (1, 2, 3)}]
    headings = [text for kind, text in found if kind in ("H1", "H2", "H3")]
    assert [letters(text) for text in headings] == [letters(text) for text in html]
    rows = kinds.count("TR")
    assert rows > 5
    assert kinds.count("TH") == 6 + rows - 1
    assert kinds.count("TD") == 5 * (rows - 1)
    # Nothing that is printed is left out: all letters but those in the pictures are in the tree, words apart.
    (front, back) = (page.extract_text() for page in PdfReader(written[1]).pages)
    words = " ".join(text for _, text in found).split()
    assert len(words) > 300
    assert max(map(len, words)) < 45
    assert len(letters(" ".join(words))) > 0.9 * len(letters(front + back)) - 400


def test_pictures_have_words_language_and_outline_are_told_and_nothing_is_drawn_outside_the_tags(written):
    reader = PdfReader(written[1])
    root = reader.trailer["/Root"]
    numbers = json.loads(written[3].read_text("utf-8"))
    assert root["/Lang"] == numbers["language"]
    assert root["/MarkInfo"]["/Marked"] is not None
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value is True
    figures = []

    def walk(element):
        element = element.get_object()
        if element.get("/S") == "/Figure":
            figures.append(element["/Alt"])
        for part in element.get("/K", []):
            walk(part)

    walk(root["/StructTreeRoot"]["/K"][0])
    assert len(figures) == 3
    assert all(len(alt) > 20 for alt in figures)
    assert figures[1] != figures[2]
    tops = [each for each in reader.outline if not isinstance(each, list)]
    below = [each.title for part in reader.outline if isinstance(part, list) for each in part]
    assert len(tops) == 2
    assert len(below) > 7
    for page in reader.pages:
        depth, marks = 0, []
        for operands, operator in page.get_contents().operations:
            if operator in (b"BDC", b"BMC"):
                depth += 1
                marks += [operands[1]["/MCID"]] if operator == b"BDC" and "/MCID" in operands[1] else []
            depth -= operator == b"EMC"
            assert depth or operator not in (b"Tj", b"TJ", b"S", b"f", b"B", b"Do", b"f*", b"b", b"s"), operator
        assert depth == 0
        tree = root["/StructTreeRoot"]["/ParentTree"]["/Nums"]
        mine = tree[2 * page["/StructParents"] + 1].get_object()
        assert sorted(marks) == list(range(len(mine)))


# Contrast by WCAG 2.2: relative luminance from sRGB, (L1 + 0.05) / (L2 + 0.05).


def luminance(colour):
    channels = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(a, b):
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_itself():
    assert contrast("#FFFFFF", "#000000") == 21
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


def rules_of(style):
    """Colours that each selector sets; only single tags and classes are used on the page."""
    out = {}
    for selector, body in re.findall(r"([^{}]+)\{([^{}]*)\}", re.sub(r"@media[^{]*\{(.*)\}", "", style)):
        said = dict(part.split(":", 1) for part in body.split(";") if ":" in part)
        said = {name.strip(): value.strip() for name, value in said.items()}
        found = {name: said[name] for name in ("color", "background") if name in said}
        if found:
            assert re.fullmatch(r"\.?[a-z0-9]+", selector.strip()), selector
            out[selector.strip()] = found
    return out


def pairs_of(tree):
    """Every text's colour with its background, by inheritance from the body down."""
    rules = rules_of("".join(element.text for element in tree.iter(f"{HTML}style")))
    out = set()

    def walk(element, colour, ground):
        if not isinstance(element.tag, str) or element.tag.startswith(SVG) or element.tag == f"{HTML}head":
            return
        names = [element.tag.removeprefix(HTML), *(f".{c}" for c in (element.get("class") or "").split())]
        for name in names:
            colour = rules.get(name, {}).get("color", colour)
            ground = rules.get(name, {}).get("background", ground)
        if (element.text or "").strip() or any((child.tail or "").strip() for child in element):
            out.add((colour, ground))
        for child in element:
            walk(child, colour, ground)

    walk(tree, None, None)
    return out


def test_every_text_on_the_page_is_one_of_the_pairs_that_are_judged(written):
    found = pairs_of(tree_of(written[0]))
    assert found <= set(colours.TEXTS)
    assert len(found) >= 5
    text = written[0].read_text("utf-8")
    named = {value for value in vars(colours).values() if isinstance(value, str) and value.startswith("#")}
    pale = {"#F5F6F7"}  # the ribbons' own ground
    assert {c.upper() for c in re.findall(r"#[0-9a-fA-F]{6}\b", text)} <= named | pale


@pytest.mark.parametrize(("text", "ground"), colours.TEXTS)
def test_every_text_can_be_read(text, ground):
    assert contrast(text, ground) >= 4.5


@pytest.mark.parametrize(("mark", "ground"), colours.GRAPHICS)
def test_every_mark_can_be_seen(mark, ground):
    assert contrast(mark, ground) >= 3


def distance_seen(a, b, kind):
    """Of two colours in full red-green blindness (Machado and others 2009), in CAM02-UCS (Luo and others 2006)."""
    space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
    seen = []
    for colour in (a, b):
        channels = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
        seen.append(np.clip(colorspacious.cspace_convert(channels, space, "sRGB1"), 0, 1))
    return float(colorspacious.deltaE(*seen, input_space="sRGB1", uniform_space="CAM02-UCS"))


@pytest.mark.parametrize("kind", ["deuteranomaly", "protanomaly"])
@pytest.mark.parametrize(("a", "b", "meaning"), colours.APART)
def test_colours_that_mean_something_stay_apart_for_every_eye(kind, a, b, meaning):
    """A distance of 1 can just be seen side by side. A pale band on paper is bounded by a line as well."""
    distance = distance_seen(a, b, kind)
    print(f"{meaning}, {kind}: {distance:.1f}")
    assert distance >= (10 if meaning == "a band and the paper" else 20)


def test_the_model_does_bring_red_and_green_together():
    # A pair that every eye with three kinds of cones tells apart at once.
    assert distance_seen("#B04A3A", "#7A7030", "deuteranomaly") < 12
