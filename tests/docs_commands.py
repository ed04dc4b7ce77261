"""The commands that the documents show: where they stand, and as they can be run without a mat on the table."""

import re
import shlex
from pathlib import Path

ROOT = Path(__file__).parents[1]
DOCUMENTS = [
    *(ROOT / name for name in ("README.md", "SAFETY.md", "SECURITY.md", "DEVELOPERS.md", "CHANGELOG.md")),
    *sorted(ROOT.glob("docs/*.md")),
    *sorted(ROOT.glob("hardware/*.md")),
    *sorted(ROOT.glob("calibration/*.md")),
    *sorted(ROOT.glob("firmware/*.md")),
]
# On the simulated mat whose calibration is the example, as fast as it can.
TWIN = ["--twin", "7", "--fast", "--layout", "starter-10x3"]
_BLOCK = re.compile(r"^```\w*\n(.*?)^```", re.S | re.M)
_INLINE = re.compile(r"`((?:groundtone|make) [^`]+)`")


def block_lines(path):
    """Lines of the command blocks of a document, fenced or indented, whole (a stroke at the end goes on)."""
    text = path.read_text("utf-8")
    blocks = _BLOCK.findall(text)
    blocks += re.findall(r"(?:^ {4}(?![-*] ).*\n)+", _BLOCK.sub("", text), re.M)
    lines = []
    for block in blocks:
        lines += re.sub(r"\\\n\s*", "", block).splitlines()
    return [line.strip() for line in lines if line.strip()]


def commands_in(path):
    """The words behind `groundtone` of each command of a document's blocks, in order, without remarks."""
    out = []
    for line in block_lines(path):
        words = shlex.split(line, comments=True)
        if words and Path(words[0]).name == "groundtone":
            out.append(words[1:])
    return out


def inline_in(path):
    """Commands named within sentences: (program, words)."""
    found = (shlex.split(each.replace("\n", " ")) for each in _INLINE.findall(path.read_text("utf-8")))
    return [(words[0], words[1:]) for words in found]


def runnable(words, folder):
    """A command as it is run here: names filled in, a simulated mat for one on the table."""
    filled = {"NAME": "anna", "PROFILE": "calibration/example/mat.json", "OUT": str(folder / "certificate")}
    words = [filled.get(word, word) for word in words if word != "..."]
    if "--port" in words:
        at = words.index("--port")
        del words[at : at + 2]
    live = words[0] in ("practise", "check") or words[:2] in (["calibrate", "bench"], ["calibrate", "standing"])
    if live and "--twin" not in words:
        words += TWIN
    # A run that goes on has its weights already.
    if words[:2] == ["calibrate", "bench"] and not {"--weights", "--resume", "--strip"} & set(words):
        words += ["--weights", "calibration/weights/kitchen.toml"]
    return words + (["--seconds", "15"] if words[0] == "practise" else [])
