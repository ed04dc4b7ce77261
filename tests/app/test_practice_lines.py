"""Every swing is a line of its own, however many come between two looks at the screen (a mat faster than time)."""

import json

from click.testing import CliRunner
from test_practise import ACT

from groundtone.app.command import cli
from groundtone.app.live import practice_run
from groundtone.twin.scenario import MatSpec, Scenario


def test_no_swing_is_passed_over(tmp_path, monkeypatch):
    monkeypatch.setenv("GROUNDTONE_HOME", str(tmp_path))
    monkeypatch.setattr(practice_run, "_SHOW_S", 1e9)
    act = tmp_path / "act.json"
    act.write_text(Scenario(MatSpec.reference(), ACT).to_json())
    arguments = ["practise", "--twin", str(act), "--fast", "--json-lines", "--no-record"]
    done = CliRunner().invoke(cli, arguments, catch_exceptions=False)
    lines = [json.loads(text) for text in done.stdout.splitlines()]
    assert [line["number"] for line in lines if line.get("seen") == "swing"] == [1, 2]
    assert [(line["swings"], line["cells"]) for line in lines if "result" in line] == [(2, [])]
