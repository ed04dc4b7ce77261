"""Every command that a document shows is run as it stands there; commands and links named in sentences exist."""

import os
import re
import shutil
import subprocess
import sys

import click
import pytest
from docs_commands import DOCUMENTS, ROOT, block_lines, commands_in, inline_in, runnable

from groundtone.app.command import cli, main
from groundtone.app.twin import mat_of
from groundtone.calibration.own_profile import profile_path

sys.path.append(str(ROOT / "tests"))
from studies.__main__ import STUDIES
from studies.invented_lesson import WHOLE, record

# What ends otherwise than with 0 here: without a board on the table, or because the fault that was asked for is found.
OTHERWISE = {
    "build install --mat starter": (2, "No board was found"),
    "build commission": (2, "No mat was found"),
    "build commission --keep-order": (2, "No mat was found"),
    "build commission --twin --layout starter-10x3 --soak 5 --fault open-row:3 --fault swap-columns:1,2": (
        1,
        "Not commissioned",
    ),
}
# Played by a test of its own: the demo takes a minute.
ELSEWHERE = {"demo": "tests/app/test_demo.py"}
RUN = [path for path in DOCUMENTS if path.exists() and commands_in(path)]


@pytest.fixture(scope="module")
def lesson(tmp_path_factory):
    """A data folder with a lesson of the invented pupil anna and the example's calibration."""
    folder = tmp_path_factory.mktemp("docs")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GROUNDTONE_HOME", str(folder / "home"))
        place = profile_path(mat_of(7, "starter-10x3").uid)
        place.parent.mkdir(parents=True)
        shutil.copy(ROOT / "calibration" / "example" / "mat.json", place)
        record("anna", WHOLE)
    return folder / "home"


@pytest.mark.long
@pytest.mark.parametrize("path", RUN, ids=[path.relative_to(ROOT).as_posix() for path in RUN])
def test_every_command_of_a_document_runs(path, lesson, tmp_path, monkeypatch, capfd):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path / "home"))
    shutil.copytree(lesson, tmp_path / "home")
    for folder in ("calibration", "hardware"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    monkeypatch.chdir(tmp_path)
    done = set()
    for words in commands_in(path):
        key = " ".join(words)
        if key in done or words[0] in ELSEWHERE:
            continue
        done.add(key)
        with pytest.raises(SystemExit) as ended:
            main(runnable(words, tmp_path))
        said = capfd.readouterr()
        code, telling = OTHERWISE.get(key, (0, ""))
        # A check's exit code is its verdict, and a corrected mat is ready too.
        fine = (0, 1) if words[0] == "check" else (code,)
        assert (ended.value.code or 0) in fine, f"{key}\n{said.out[-2000:]}{said.err}"
        assert "Traceback" not in said.out + said.err, key
        assert telling in said.out + said.err, key


def test_what_is_left_to_other_tests_is_there():
    for words, where in ELSEWHERE.items():
        assert words in (ROOT / where).read_text("utf-8")


@pytest.mark.parametrize("path", [path for path in DOCUMENTS if path.exists()], ids=lambda path: path.name)
def test_commands_named_in_sentences_exist(path):
    for program, words in inline_in(path):
        if program == "make":
            named = [word for word in words if "=" not in word]
            made = subprocess.run(["make", "-n", *named, "NAME=network"], cwd=ROOT, capture_output=True, text=True)
            assert "No rule to make target" not in made.stderr, words
            continue
        command, context = cli, click.Context(cli)
        while isinstance(command, click.Group) and words and words[0] in command.list_commands(context):
            command = command.get_command(context, words.pop(0))
        options = {name for param in command.params for name in (*param.opts, *param.secondary_opts)}
        for word in words:
            if word.startswith("--"):
                assert word.split("=")[0] in options, f"{command.name} {word}"
        assert not isinstance(command, click.Group) or not words or words[0].startswith("--"), words


@pytest.mark.parametrize("path", [path for path in DOCUMENTS if path.exists()], ids=lambda path: path.name)
def test_studies_named_in_documents_exist(path):
    for name in re.findall(r"make study NAME=([\w-]+)", path.read_text("utf-8")):
        # A name that is the first word of several stands for all of them.
        assert name == "all" or any(known == name or known.startswith(f"{name}-") for known in STUDIES), name


def anchors(path):
    """The places in a document that a link may name, as the common hosts make them of headings."""
    found = re.findall(r"^#+ +(.*)$", path.read_text("utf-8"), re.M)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).strip().replace(" ", "-") for heading in found}


@pytest.mark.parametrize("path", [path for path in DOCUMENTS if path.exists()], ids=lambda path: path.name)
def test_links_lead_somewhere(path):
    for target in re.findall(r"\]\(([^)\s]+)\)", path.read_text("utf-8")):
        if re.match(r"[a-z]+:", target):
            assert re.fullmatch(r"https?://[\w.-]+\.[a-z]+(/\S*)?", target), target
            continue
        name, _, anchor = target.partition("#")
        file = (path.parent / name) if name else path
        assert file.exists(), target
        assert not anchor or anchor in anchors(file), target


def test_the_first_commands_are_those_of_the_makefile():
    """README's way without make is what make does: the same extras, the same tests."""
    lines = block_lines(ROOT / "README.md")
    text = (ROOT / "Makefile").read_text("utf-8")
    (install,) = [line for line in lines if "pip install" in line]
    extras = re.search(r"\[([\w,]+)\]", install)[1]
    # The window is for who has a screen; make installs it for the tests' sake with them.
    assert set(re.search(r"\[(twin,[\w,]+)\]", text)[1].split(",")) <= set(extras.split(","))
    for target in ("demo", "test"):
        assert any(line.startswith(f"make {target}") for line in lines)
        assert re.search(rf"^{target}:", text, re.M)
    assert os.access(ROOT / ".ci" / "run", os.X_OK)
