"""What is recorded comes back to the byte, chunks are small and soon on the disk, and a full disk is said once."""

import json
import math
import threading

import numpy as np
import pytest
from mcap.reader import make_reader
from patience import PATIENCE_S
from recorded import Clocks, about, frame, record, stamped

from groundtone.cue.bands import Bands
from groundtone.errors import RecordError
from groundtone.mat.layout import RIGHT
from groundtone.pressure.feet import Stance
from groundtone.record.channels import Channel
from groundtone.record.chunkfile import CHUNK_BYTES
from groundtone.record.reader import open_recording
from groundtone.record.recorder import QUEUE, _written, append, begin, hold
from groundtone.record.recover import messages, whole_chunks
from groundtone.record.session import Block, Golfer
from groundtone.review.settings import settings_of
from groundtone.wire.codec import decode, encode


def test_everything_comes_back(tmp_path):
    told = about(
        settings=settings_of(Stance(RIGHT, 512.5, 12.0, (3.0, 21.0)), 200.0, 281.0, Bands(trail=0.6)),
        golfer=Golfer("Ä \U0001f9b6 'x'; --", "left", 71.5, None, "two\nlines"),
        block=Block(1, "baseline", "7 iron", "turf", 140.0, False),
        profile_text="{ not looked at here }",
        lesson="first",
        simulated=True,
    )
    with begin_and_close(tmp_path / "a.mcap", told) as recorder:
        recorder.frame(stamped(7))
        recorder.event("gap", number=3)
        recorder.heard("toes", True, np.float64(0.25))
        recorder.swing({"number": 1, "takeaway_s": 1.5, "turn_s": math.nan})
        recorder.note("a note")
        recorder.block(Block(2, "drill", device_us=5_000_000))
    got = open_recording(tmp_path / "a.mcap")
    assert got.lost == []
    assert got.about == told
    assert got.frames.raw.tobytes() == encode(frame(7), 14)
    assert [entry.table for entry in got.events] == [{"what": "gap", "device_us": 70_000, "text": "", "number": 3}]
    assert got.heard[0].table == {"sound": "toes", "on": True, "size": 0.25, "device_us": 70_000}
    assert got.swings[0].table == {"number": 1, "takeaway_s": 1.5, "turn_s": None}
    assert got.notes[0].table["text"] == "a note"
    assert [block.kind for block in got.blocks] == ["baseline", "drill"]
    assert got.block_at(4_999_999).number == 1
    assert got.block_at(5_000_000).number == 2


class begin_and_close:
    def __init__(self, path, told):
        self.recorder = begin(path, told)

    def __enter__(self):
        return self.recorder

    def __exit__(self, *_):
        self.recorder.close()


def test_frames_as_arrays(tmp_path):
    record(tmp_path / "a.mcap", 300)
    got = open_recording(tmp_path / "a.mcap")
    assert len(got.frames) == 300
    assert got.duration_s == pytest.approx(2.99)
    assert got.frames.seq.tolist() == list(range(300))
    assert got.frames.device_us.tolist() == [10_000 * i for i in range(300)]
    for number in (0, 137, 299):
        assert got.frames.readings(number, number + 1)[0].tolist() == frame(number).cells.tolist()
        assert (decode(got.frames.raw[number].tobytes(), 60, 14).cells == frame(number).cells).all()
    assert got.frames.references.tolist() == [[10, 8000]] * 300


def test_a_chunk_holds_at_most_half_a_second_and_32_kib(tmp_path):
    clocks = Clocks()
    recorder = clocks.recorder(tmp_path / "a.mcap")
    for number in range(400):  # 200 Hz
        recorder.frame(stamped(number, host_s=clocks.steady_s))
        clocks.move(0.005)
        recorder.pump()
    for number in range(400, 1400):  # all at once: size alone closes chunks
        recorder.frame(stamped(number, host_s=clocks.steady_s))
    recorder.close()
    data = (tmp_path / "a.mcap").read_bytes()
    chunks = list(whole_chunks(data))
    assert max(chunk.end - chunk.at for chunk in chunks) <= CHUNK_BYTES
    spans = []
    for chunk in chunks:
        times = [at for channel, _, at, _ in messages(chunk.body) if channel == Channel.FRAME]
        spans.append((times[-1] - times[0]) * 1e-9 if times else 0.0)
    assert 0.4 < max(spans) <= 0.5
    assert len(chunks) == 2 + 4 + 5


def test_a_message_longer_than_a_chunk_has_one_of_its_own(tmp_path):
    record(tmp_path / "a.mcap", 5, before_close=lambda recorder: recorder.note("x" * 100_000))
    assert len(open_recording(tmp_path / "a.mcap").notes[0].table["text"]) == 100_000


def test_a_recording_is_never_written_over(tmp_path):
    record(tmp_path / "a.mcap", 1)
    with pytest.raises(RecordError, match="is there already and recordings are never written over"):
        begin(tmp_path / "a.mcap", about())
    assert len(open_recording(tmp_path / "a.mcap").frames) == 1
    with pytest.raises(RecordError, match="cannot be written"):
        begin(tmp_path / "a.mcap" / "b.mcap", about())


def test_a_thread_writes_beside_the_loop(tmp_path):
    recorder = begin(tmp_path / "a.mcap", about())
    worker = threading.Thread(target=recorder.work)
    worker.start()
    for number in range(2000):
        recorder.frame(stamped(number))
    recorder.end_work()
    worker.join(PATIENCE_S)
    assert not worker.is_alive()
    recorder.close()
    recorder.close()
    assert open_recording(tmp_path / "a.mcap").frames.seq.tolist() == list(range(2000))


def test_frames_for_which_a_slow_disk_leaves_no_room_are_counted(tmp_path):
    recorder = begin(tmp_path / "a.mcap", about())
    for number in range(QUEUE + 5):
        recorder.frame(stamped(number))
    recorder.close()
    assert recorder.dropped == 5
    got = open_recording(tmp_path / "a.mcap")
    assert len(got.frames) == QUEUE
    assert [(entry.table["what"], entry.table["number"]) for entry in got.events] == [("not recorded", 5)]


class Full:
    """A file on a disk with so much room; takes what fits of the write that fills it."""

    def __init__(self, path, room):
        self.file, self.room = path.open("xb", buffering=0), room

    def write(self, data):
        if self.room <= 0:
            raise OSError(28, "No space left on device")
        part = data[: self.room]
        self.room -= len(part)
        return self.file.write(part)

    def __getattr__(self, name):
        return getattr(self.file, name)


@pytest.mark.parametrize("room", [0, 5, 4000, 20_000])
def test_a_full_disk_ends_the_recording_and_nothing_else(tmp_path, room):
    from groundtone.record.recorder import Recorder

    recorder = Recorder(Full(tmp_path / "a.mcap", room), about())
    for number in range(300):
        recorder.frame(stamped(number))
        if number % 20 == 0:
            recorder.pump(now=True)
    recorder.note("still taken without a word")
    recorder.close()
    assert str(recorder.trouble) == "nothing is recorded any more (the disk is full: free some space and start again)"
    if room < 10_000:
        with pytest.raises(RecordError):
            open_recording(tmp_path / "a.mcap")
    else:
        got = open_recording(tmp_path / "a.mcap")
        assert got.frames.seq.tolist() == list(range(len(got.frames)))
        assert 20 <= len(got.frames) < 300
        # No half chunk is left behind: the last one and the indexes of its messages end the file.
        data = (tmp_path / "a.mcap").read_bytes()
        last = _written(data)[0][-1]
        assert last.message_index_offsets
        assert last.chunk_start_offset + last.chunk_length + last.message_index_length == len(data)


def test_a_disk_that_goes_is_named(tmp_path):
    recorder = begin(tmp_path / "a.mcap", about())
    recorder._file._file.close()
    recorder._file._file = Gone()
    recorder.frame(stamped(0))
    recorder.pump(now=True)
    assert str(recorder.trouble) == "nothing is recorded any more (Input/output error: check the disk and start again)"


class Gone:
    def write(self, data):
        raise OSError(5, "Input/output error")

    def truncate(self, size):
        return size

    def seek(self, to):
        return to

    def close(self):
        pass


def test_what_is_told_later_is_added_and_the_last_told_counts(tmp_path):
    path = tmp_path / "a.mcap"
    record(path, 120)
    first = {"id": "1", "impact_s": 1.0, "field": 4}
    append(path, [(Channel.STRIKE, first), (Channel.STRIKE, {"id": "2", "impact_s": 2.0})])
    append(path, [(Channel.STRIKE, {**first, "field": 5}), (Channel.STRIKE, {"id": "2", "undone": True})])
    append(path, [(Channel.GOLFER, {"name": "Bob", "hand": "left"})])
    got = open_recording(path)
    assert got.lost == []
    assert len(got.frames) == 120
    assert [entry.table for entry in got.strikes] == [{**first, "field": 5}]
    assert got.about.golfer == Golfer("Bob", "left")


def test_a_cut_recording_can_be_added_to(tmp_path):
    path = tmp_path / "a.mcap"
    sizes = record(path, 120)
    path.write_bytes(path.read_bytes()[: sizes[-1][0] - 1500])
    append(path, [(Channel.NOTE, {"text": "later"})])
    got = open_recording(path)
    assert len(got.frames) == sizes[-2][1]
    assert got.notes[0].table == {"text": "later"}
    assert got.lost == []  # it is whole again, as far as it goes


def test_nothing_is_added_to_a_recording_under_way(tmp_path):
    recorder = begin(tmp_path / "a.mcap", about())
    with pytest.raises(RecordError, match="is being recorded just now: end that session first"):
        append(tmp_path / "a.mcap", [(Channel.NOTE, {"text": "x"})])
    recorder.close()
    append(tmp_path / "a.mcap", [(Channel.NOTE, {"text": json.dumps("x")})])
    (tmp_path / "b.mcap").write_bytes(b"x")
    with pytest.raises(RecordError, match="there is nothing whole in it"):
        append(tmp_path / "b.mcap", [])


def test_a_quota_that_is_used_up_is_a_full_disk_and_an_end_that_fails_is_said(tmp_path):
    recorder = begin(tmp_path / "a.mcap", about())
    file = recorder._file

    def fails():
        raise OSError(122, "Disk quota exceeded")

    file.finish = fails
    recorder.close()
    assert str(recorder.trouble) == "nothing is recorded any more (the disk is full: free some space and start again)"
    recorder.frame(stamped(1))
    recorder.note("x")
    assert len(recorder._queue) == 0
    # What waits when the disk goes is let go of.
    other = begin(tmp_path / "b.mcap", about())
    other.frame(stamped(1))
    other._stop(OSError(5, "Input/output error"))
    assert len(other._queue) == 0


def test_a_file_is_held_by_one(tmp_path):
    with (tmp_path / "a").open("wb") as one, (tmp_path / "a").open("rb") as other:
        assert hold(one.fileno()) is True
        assert hold(other.fileno()) is False


def test_what_is_added_keeps_every_chunk_findable_and_counts_on(tmp_path):
    path = tmp_path / "a.mcap"
    record(path, 120)
    append(path, [(Channel.NOTE, {"text": "one"}), (Channel.NOTE, {"text": "two"})])
    append(path, [(Channel.NOTE, {"text": "three"})])
    with path.open("rb") as file:
        reader = make_reader(file)
        chunks = reader.get_summary().chunk_indexes
        assert len(chunks) > 4
        assert all(chunk.message_index_offsets for chunk in chunks)
        notes = [m for _, channel, m in reader.iter_messages() if channel.topic.endswith("note")]
    assert [m.sequence for m in notes] == [notes[0].sequence + i for i in range(3)]
    assert notes[0].log_time <= notes[1].log_time <= notes[2].log_time
