"""Every vector of every file in tests/vectors, both ways through the host's codec, and what a hello says."""

import json
from pathlib import Path

import numpy as np
import pytest
from hello_bytes import hello_payload

from groundtone.wire.codec import check, decode, encode, hello_from
from groundtone.wire.messages import Ack, Event, Feet, Frame, Reply, Request, Type

FILES = sorted((Path(__file__).parents[1] / "vectors").glob("*.json"))
VECTORS = [
    pytest.param(vector, id=f"{file.stem}: {vector['name']}")
    for file in FILES
    for vector in json.loads(file.read_text())
]
HELLOS = [param for param in VECTORS if "hello" in param.values[0]]
KINDS = {
    "frame": (Frame, Type.FRAME),
    "ack": (Ack, Type.ACK),
    "request": (Request, Type.REQUEST),
    "reply": (Reply, Type.REPLY),
    "event": (Event, Type.EVENT),
    "feet": (Feet, Type.FEET),
}


def plain(message):
    """A message's fields as the vectors write them."""
    out = {}
    for name, value in vars(message).items():
        out[name] = value.hex() if isinstance(value, bytes) else value.tolist() if name == "cells" else value
    return out


def test_no_vector_file_is_empty():
    assert {"frames", "replies", "requests"} <= {file.stem for file in FILES}
    assert all(json.loads(file.read_text()) for file in FILES)
    assert HELLOS


def test_vectors_hold_every_kind_of_message():
    vectors = [param.values[0] for param in VECTORS]
    assert {v["message"]["type"] for v in vectors} == set(KINDS)
    assert {v["bits"] for v in vectors if "bits" in v} == {12, 14}


@pytest.mark.parametrize("vector", VECTORS)
def test_bytes_to_message(vector):
    raw = bytes.fromhex(vector["hex"])
    expected = dict(vector["message"])
    kind, number = KINDS[expected.pop("type")]
    assert check(raw) is number
    message = decode(raw, vector.get("rows", 0) * vector.get("columns", 0), vector.get("bits", 14))
    assert type(message) is kind
    assert plain(message) == expected


@pytest.mark.parametrize("vector", VECTORS)
def test_message_to_bytes(vector):
    fields = dict(vector["message"])
    kind, _ = KINDS[fields.pop("type")]
    for name in fields.keys() & {"arguments", "payload"}:
        fields[name] = bytes.fromhex(fields[name])
    if "cells" in fields:
        fields["cells"] = np.array(fields["cells"], np.uint16)
    assert encode(kind(**fields), vector.get("bits", 14)).hex() == vector["hex"]


@pytest.mark.parametrize("vector", HELLOS)
def test_hello_payload(vector):
    payload = bytes.fromhex(vector["message"]["payload"])
    hello = hello_from(payload)
    said = vars(hello) | {"version": list(hello.version)}
    assert said == vector["hello"]
    assert hello.cells == vector["hello"]["rows"] * vector["hello"]["columns"]
    assert hello_payload(hello) == payload
