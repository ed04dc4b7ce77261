"""A recording is read by the MCAP project's own reader (mcap, PyPI) as by ours: schemas, checksums, every message."""

import json
import sys
from pathlib import Path

from mcap.reader import make_reader

sys.path.append(str(Path(__file__).parents[1] / "record"))
from recorded import frame, record

from groundtone.record.channels import SPECS, Channel
from groundtone.record.recorder import append
from groundtone.wire.codec import encode

KINDS = {"string": str, "number": int | float, "integer": int, "boolean": bool, "object": dict, "null": type(None)}


def test_the_reference_reader_finds_every_message_and_the_schemas_hold(tmp_path):
    path = tmp_path / "a.mcap"
    record(path, 300, before_close=lambda recorder: recorder.heard("toes", True, 0.5))
    append(path, [(Channel.STRIKE, {"id": "1", "impact_s": 1.0, "undone": False})])
    with path.open("rb") as file:
        reader = make_reader(file, validate_crcs=True)
        summary = reader.get_summary()
        assert reader.get_header().profile == "groundtone"
        assert {c.topic: c.id for c in summary.channels.values()} == {spec.topic: spec.id for spec in SPECS}
        assert summary.statistics.message_count == 300 + 2 * 5 + 2
        assert summary.statistics.channel_message_counts[Channel.FRAME] == 300
        frames = [message for _, _, message in reader.iter_messages(topics="frame")]
        words = [(schema, message) for schema, channel, message in reader.iter_messages() if channel.topic != "frame"]
    assert [message.data for message in frames] == [encode(frame(i), 14) for i in range(300)]
    assert [message.sequence for message in frames] == list(range(300))
    assert len(words) == 12
    for schema, message in words:
        rules, table = json.loads(schema.data), json.loads(message.data)
        assert set(rules["required"]) <= set(table)
        for name, value in table.items():
            kinds = rules["properties"][name]["type"]
            allowed = [kinds] if isinstance(kinds, str) else kinds
            assert any(isinstance(value, KINDS[kind]) for kind in allowed), name
