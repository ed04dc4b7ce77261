"""A recording cut at any byte, with flipped bits, killed, or of another program: what is left opens, and is said."""

import io
import os
import random
import signal
import subprocess
import sys
import time
from itertools import pairwise
from pathlib import Path

import pytest
from recorded import about, frame, record

from groundtone.errors import OtherFileError, RecordError
from groundtone.record.channels import MARK, Channel
from groundtone.record.chunkfile import ChunkFile
from groundtone.record.reader import open_recording
from groundtone.record.recover import chunks_of, whole_chunks
from groundtone.wire.codec import encode


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    """A recording of 2.3 s at 10 Hz, its bytes, and the file's size with the frames in it after each chunk."""
    path = tmp_path_factory.mktemp("short") / "short.mcap"
    sizes = record(path, 23, step_s=0.1)
    return path.read_bytes(), sizes


def test_cut_at_every_byte(short, tmp_path):
    data, sizes = short
    path = tmp_path / "cut.mcap"
    path.write_bytes(data)
    words = set()
    for cut in range(len(data) - 1, -1, -1):
        os.truncate(path, cut)
        expected = [frames for size, frames in sizes if size <= cut]
        try:
            got = open_recording(path)
        except RecordError as error:
            # Only where not even the first chunk, which says whose file it is, is there.
            assert cut < sizes[0][0]
            words.add(str(error).replace(str(path), "FILE"))
            continue
        assert len(got.frames) >= (expected[-1] if expected else 0)
        assert len(got.frames) in (0, 23, *(frames for _, frames in sizes))
        assert got.frames.raw.tobytes() == b"".join(encode(frame(i), 14) for i in range(len(got.frames)))
        assert got.about.golfer.name == "Ann"
        (said,) = got.lost
        assert said.startswith("cut.mcap was not ended in order: it goes to ")
        # Cut long after it was written: nobody knows how much it had been.
        assert said.endswith(", and nothing in it tells how much came after that.")
    assert words == {
        "FILE is empty: nothing was recorded",
        "FILE was cut before anything was recorded: nothing is lost, record anew",
    }


def test_never_more_than_half_a_second_lies_between_what_is_on_the_disk(short):
    _, sizes = short
    frames = [count for _, count in sizes]
    assert frames[0] == 0
    assert max(b - a for a, b in pairwise(frames)) <= 5
    assert frames[-1] == 20


def test_any_flipped_bit_costs_one_chunk_at_most(short, tmp_path):
    data, sizes = short
    path = tmp_path / "flipped.mcap"
    largest = max(b - a for (_, a), (_, b) in pairwise(sizes))
    draw = random.Random(1)
    whole = [encode(frame(i), 14) for i in range(23)]
    damaged = 0
    for at in range(0, len(data), 5):
        changed = bytearray(data)
        changed[at] ^= 1 << draw.randrange(8)
        path.write_bytes(changed)
        got = open_recording(path)
        assert got.lost_frames == 23 - len(got.frames) or at >= sizes[-2][0]
        assert len(got.frames) >= 23 - max(largest, 23 - sizes[-1][1])
        raw = got.frames.raw
        assert [raw[i].tobytes() for i in range(len(raw))] == [whole[seq] for seq in got.frames.seq.tolist()]
        if got.lost_frames:
            damaged += 1
            assert f"flipped.mcap is damaged: {got.lost_frames} frames" in got.lost[0]
    assert damaged > 200


def test_a_whole_second_of_rubbish_costs_that_second(short, tmp_path):
    data, sizes = short
    path = tmp_path / "hole.mcap"
    begin, end = sizes[1][0] + 10, sizes[2][0] + 10
    path.write_bytes(data[:begin] + os.urandom(end - begin) + data[end:])
    got = open_recording(path)
    assert got.lost_frames == sizes[3][1] - sizes[1][1]
    assert set(got.frames.seq.tolist()) == set(range(23)) - set(range(sizes[1][1], sizes[3][1]))
    assert got.frames.missed.max() == got.lost_frames


KILLED = """
import sys, threading, time
sys.path.append(sys.argv[2])
from pathlib import Path
from recorded import about, stamped
from groundtone.record.recorder import begin
recorder = begin(Path(sys.argv[1]), about())
threading.Thread(target=recorder.work, daemon=True).start()
number = 0
while True:
    recorder.frame(stamped(number, host_s=time.monotonic()))
    print(number, flush=True)
    number += 1
    time.sleep(0.005)
"""


def test_killed_while_it_writes(tmp_path):
    path = tmp_path / "killed.mcap"
    command = [sys.executable, "-c", KILLED, str(path), str(Path(__file__).parent)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        last = 0
        # However slow the machine: so many frames take a second and a half at least, three turns of the writer.
        while last < 300:
            last = int(process.stdout.readline())
        process.send_signal(signal.SIGKILL)
        last = max([last, *map(int, process.stdout.read().split()[-2:-1])])
    got = open_recording(path)
    assert got.frames.seq.tolist() == list(range(len(got.frames)))
    # 200 a second at most: a second's worth is missing at most.
    assert last + 1 - len(got.frames) <= 200
    assert len(got.frames) > 50
    (said,) = got.lost
    assert said.endswith(", and at most a second after that is missing.")
    # Cut afterwards, it says no such thing.
    os.truncate(path, round(0.06 * path.stat().st_size) + 5_000)
    os.utime(path, (time.time() + 60, time.time() + 60))
    assert open_recording(path).lost[0].endswith(", and nothing in it tells how much came after that.")


@pytest.mark.parametrize("piece", [15_000, 20_001, 33_333, 10_000_000])
def test_read_in_pieces_it_is_the_same(tmp_path, monkeypatch, piece):
    """Chunks that reach into the next piece, damage at a seam, an end that is cut."""
    path = tmp_path / "x.mcap"
    record(path, 400)
    data = bytearray(path.read_bytes())
    chunks = list(whole_chunks(bytes(data)))
    assert max(chunk.end - chunk.at for chunk in chunks) < 15_000
    data[chunks[4].at + 200] ^= 1
    del data[chunks[-1].end - 7 :]
    whole = [(chunk.at, bytes(chunk.body)) for chunk in whole_chunks(bytes(data))]
    monkeypatch.setattr("groundtone.record.recover._PIECE", piece)
    got = [bytes(chunk.body) for chunk in chunks_of(io.BytesIO(bytes(data)))]
    assert got == [body for _, body in whole]
    assert len(got) == len(chunks) - 2


def test_files_of_others_are_named(tmp_path):
    from mcap.writer import Writer

    path = tmp_path / "x.mcap"
    path.write_bytes(b"RIFF" + bytes(10_000))
    with pytest.raises(OtherFileError, match="is no groundtone recording: choose another file"):
        open_recording(path)
    with path.open("wb") as file:
        writer = Writer(file)
        writer.start("another")
        channel = writer.register_channel("session", "json", 0)
        writer.add_message(channel, 0, b'{"session": "none of ours"}', 0)
        writer.finish()
    with pytest.raises(OtherFileError, match="is an MCAP file, but no groundtone recording"):
        open_recording(path)
    with pytest.raises(RecordError, match="cannot be read"):
        open_recording(tmp_path)
    with pytest.raises(RecordError, match="cannot be read"):
        open_recording(tmp_path / "nothing.mcap")


def written(path, channel, *texts):
    with path.open("wb", buffering=0) as file:
        out = ChunkFile(file, "test")
        for text in texts:
            out.add(channel, 0, text.encode())
        out.finish()


def test_a_newer_format_is_refused_and_nonsense_is_said(tmp_path):
    path = tmp_path / "x.mcap"
    written(path, Channel.SESSION, f'{{"{MARK}": 2}}')
    with pytest.raises(OtherFileError, match="was written by a newer program: bring this one up to date"):
        open_recording(path)
    written(path, Channel.SESSION, f'{{"{MARK}": 1}}')
    with pytest.raises(RecordError, match="what it says of its session cannot be understood"):
        open_recording(path)


def test_entries_without_sense_are_left_out_and_counted(tmp_path):
    path = tmp_path / "x.mcap"

    def spoil(recorder):
        recorder._queue.append((Channel.NOTE, 0, b"{no json"))
        recorder._queue.append((Channel.GOLFER, 0, b'{"name": "Eve", "hand": "both"}'))
        recorder._queue.append((Channel.SETTINGS, 0, b'{"stance": 5}'))
        recorder._queue.append((Channel.BLOCK, 0, b'{"number": 9, "kind": "odd", "cues": true}'))
        recorder._queue.append((Channel.FRAME, 0, b"too short"))

    record(path, 10, before_close=spoil)
    got = open_recording(path)
    assert got.about.golfer.name == "Ann"
    assert len(got.frames) == 10
    assert [block.number for block in got.blocks] == [1]
    assert got.lost == ["5 entries of x.mcap make no sense and were left out."]
    assert about().settings == got.about.settings
