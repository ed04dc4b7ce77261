"""A recording is read by the MCAP project's indexed reader (@mcap/core, npm): it finds its way by the indexes alone."""

import base64
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "record"))
from recorded import frame, record

from groundtone.record.channels import Channel
from groundtone.record.reader import open_recording
from groundtone.record.recorder import append
from groundtone.wire.codec import encode

NODE = Path(__file__).parent / "node"


@pytest.fixture(scope="module")
def indexed():
    """What the indexed reader finds in a file; the judge comes from the npm registry, where that can be reached."""
    if not (NODE / "node_modules" / "@mcap" / "core").is_dir():
        if shutil.which("npm") is None:
            pytest.skip("npm is not here: the indexed reader did NOT judge")
        install = ["npm", "install", "--prefix", NODE, "--no-package-lock", "--no-audit", "--no-fund", "--silent"]
        if subprocess.run(install, capture_output=True).returncode:
            pytest.skip("the npm registry cannot be reached: the indexed reader did NOT judge")

    def read(path):
        ran = subprocess.run(["node", NODE / "indexed.mjs", path], capture_output=True, text=True)
        assert ran.returncode == 0, ran.stderr
        return json.loads(ran.stdout)

    return read


def whole(found):
    return [base64.b64decode(data) for _, data in found["frame"]]


def test_every_message_is_found_by_the_indexes(indexed, tmp_path):
    path = tmp_path / "a.mcap"
    record(path, 300, before_close=lambda recorder: recorder.heard("toes", True, 0.5))
    append(path, [(Channel.STRIKE, {"id": "1", "impact_s": 1.0, "undone": False})])
    said = indexed(path)
    assert said["inOrder"]
    assert said["picked"] == 1
    assert whole(said["found"]) == [encode(frame(i), 14) for i in range(300)]
    assert sorted(said["found"]) == sorted(
        ["frame", "session", "profile", "settings", "golfer", "block", "heard", "strike"]
    )


def test_after_a_kill_and_something_added_too(indexed, tmp_path):
    """Cut anywhere at its end, and a strike told later: what is whole is found, the added strike with it."""
    path = tmp_path / "a.mcap"
    sizes = record(path, 300)
    data = path.read_bytes()
    for cut in (sizes[-2][0], sizes[-2][0] - 3, sizes[-2][0] - 200, sizes[-3][0] + 40):
        path.write_bytes(data[:cut])
        left = len(open_recording(path).frames)
        append(path, [(Channel.STRIKE, {"id": "1", "impact_s": 1.0, "undone": False})])
        said = indexed(path)
        assert whole(said["found"]) == [encode(frame(i), 14) for i in range(left)]
        assert said["picked"] == 1
