"""The wire: decoding a frame and finding it in a stream of bytes."""

from __future__ import annotations

from typing import Any

import numpy as np

from groundtone.wire.codec import decode, encode
from groundtone.wire.messages import Frame
from groundtone.wire.stream import StreamDecoder, line_bytes
from studies.machine import seconds, spread

FRAMES = 2000


def frames(count: int) -> list[bytes]:
    """Messages of random frames, 128 cells of 14 bits."""
    rng = np.random.default_rng(1)
    return [
        encode(Frame(0, i & 0xFFFF, i * 10_000, 0, 0, 10, 8000, rng.integers(0, 16384, 128).astype(np.uint16)))
        for i in range(count)
    ]


def study_wire(_seeds: int | None = None) -> dict[str, Any]:
    """The figures; `ok` is about correctness: every message came through."""
    messages = frames(FRAMES)
    line = b"".join(map(line_bytes, messages))
    pieces = [line[i : i + 97] for i in range(0, len(line), 97)]

    def stream() -> int:
        decoder = StreamDecoder()
        return sum(len(decoder.feed(piece)) for piece in pieces)

    return {
        "bytes a frame": len(messages[0]),
        "bytes a frame on the line": len(line) / FRAMES,
        "decode a frame": spread(seconds(lambda: [decode(m, 128, 14) for m in messages], 7), FRAMES),
        "stream to checked messages, a frame": spread(seconds(stream, 7), FRAMES),
        "ok": stream() == FRAMES and len(messages[0]) <= 244,
    }
