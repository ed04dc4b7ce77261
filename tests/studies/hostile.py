"""Bytes and files as damage, chance or malice may bring them: each reader gives what it can or refuses with a sentence.

What is fed in: valid samples with bits flipped, spans cut, doubled, spliced or filled with numbers and signs that
readers stumble over.
"""

from __future__ import annotations

import json
import random
import struct
import tempfile
import zlib
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from groundtone.build.mat_file import read_mat
from groundtone.calibration.checking.check_log import KeptCheck, append_check, read_checks
from groundtone.calibration.fitting.expected import FilmFacts
from groundtone.calibration.guided.run_log import read_run
from groundtone.calibration.pooled_films import read_films, write_films
from groundtone.calibration.profile import _checksum, profile_from_text
from groundtone.cue.rulefile import default_rules, read_rules
from groundtone.errors import GroundtoneError
from groundtone.link.base import Stamped
from groundtone.link.ble_link import PartsDecoder
from groundtone.mat.layout import layout_of, read_layout
from groundtone.onboard.pack import OnMat, limits_of, packed, places_of, unpacked
from groundtone.record.channels import Channel
from groundtone.record.chunkfile import ChunkFile
from groundtone.record.reader import open_recording
from groundtone.record.recorder import begin
from groundtone.record.session import About, Golfer, session_table, settings_table
from groundtone.tone.settings import SoundSettings, read_settings, write_settings
from groundtone.twin.scenario import demo_scenario
from groundtone.wire.codec import decode, findings_from, hello_from
from groundtone.wire.messages import Hello
from groundtone.wire.stream import StreamDecoder, line_bytes
from studies.record import messages_of

ROOT = Path(__file__).parents[2]
# What numbers, names and brackets of text files are exchanged for, now and then.
_ODD = (
    b"nan", b"inf", b"-inf", b"-1", b"0", b"1e400", b"9" * 400, b"true", b"null", b'""', b"[]", b"{}", b"[[", b"\x00",
    b"\xff\xfe", b"'", b'"', b"\n", b"=", b"1e-320", b"../../x", b"\\ud800",
)  # fmt: skip
_MOST = 60_000


@dataclass(frozen=True)
class Reader:
    """Something that reads what comes from outside.

    Attributes
    ----------
    read : callable
        Takes bytes; GroundtoneError where it refuses them.
    samples : list of bytes
        Valid ones.
    weight : int
        How many times more inputs it gets than the slowest.
    """

    read: Callable[[bytes], object]
    samples: list[bytes]
    weight: int = 1


def readers(folder: Path) -> dict[str, Reader]:
    """All of them by name; `folder` is theirs to write samples into."""
    file = folder / "sample.toml"

    def of_file(read: Callable[[Path], object]) -> Callable[[bytes], object]:
        def feed(data: bytes) -> object:
            # A new file each time: some disks write one out that was cut to nothing and filled again, at a millisecond.
            file.unlink(missing_ok=True)
            file.write_bytes(data)
            return read(file)

        return feed

    frames = _frames()
    line = b"".join(line_bytes(message) for message in frames)
    profile = (ROOT / "calibration" / "example" / "mat.json").read_bytes()
    write_settings(SoundSettings(), folder / "sound.toml")
    _checks(folder / "checks.jsonl")
    rules = ROOT / "host" / "groundtone" / "cue" / "rules.toml"
    mats, layouts = (sorted((ROOT / "hardware" / name).glob("*.toml")) for name in ("mats", "layouts"))
    return {
        "bytes from the cable": Reader(_from_the_line, [line[:700]], 40),
        "a message": Reader(lambda data: decode(data, 128, 14), frames[:4], 200),
        "parts from the radio": Reader(lambda data: PartsDecoder().feed(data), frames[:4], 100),
        "a message with its checksum right": Reader(_sealed_message, [*frames[:4], *_replies()], 200),
        "a hello": Reader(hello_from, [_hello_payload()], 200),
        "findings": Reader(findings_from, _payloads("self-test"), 200),
        "a profile": Reader(lambda data: profile_from_text(data.decode("utf-8", "replace"), "x"), [profile], 4),
        "a profile with its checksum right": Reader(_sealed_profile, [profile], 4),
        "the checks of a mat": Reader(of_file(read_checks), [(folder / "checks.jsonl").read_bytes()], 8),
        "a bench run": Reader(of_file(read_run), [_run()], 4),
        "sound settings": Reader(of_file(read_settings), [(folder / "sound.toml").read_bytes()], 10),
        "rules": Reader(of_file(read_rules), [rules.read_bytes()], 1),
        "films of other mats": Reader(of_file(read_films), [_films(folder)], 4),
        "a layout": Reader(of_file(read_layout), [path.read_bytes() for path in layouts], 8),
        "a mat's description": Reader(of_file(lambda path: read_mat(str(path))), [p.read_bytes() for p in mats], 2),
        "on-board data": Reader(unpacked, [_on_board()], 40),
        "on-board data with its checksum right": Reader(_sealed_on_board, [_on_board()], 20),
        "a recording": Reader(of_file(open_recording), [_recording(folder, frames)], 2),
        "words of a recording": Reader(_sealed_words(folder, _session()), [_session(), *_words()], 2),
    }


def _from_the_line(data: bytes) -> list[object]:
    out: list[object] = []
    for message in StreamDecoder().feed(data):
        try:
            out.append(decode(message, 128, 14))
        except GroundtoneError as error:
            out.append(str(error))
    return out


def _frames() -> list[bytes]:
    return messages_of(demo_scenario(1))[2000:2012]


def _hello_payload() -> bytes:
    return _payloads("hello")[0]


def _payloads(name: str) -> list[bytes]:
    vectors = json.loads((ROOT / "tests" / "vectors" / "replies.json").read_text("utf-8"))
    return [bytes.fromhex(entry["message"]["payload"]) for entry in vectors if entry["name"] == name]


def _sealed_message(data: bytes) -> object:
    """As if the sender had meant it: the checksum is right, whatever stands before it."""
    body = data[:-4]
    return decode(body + struct.pack("<I", zlib.crc32(body)), 128, 14)


def _sealed_profile(data: bytes) -> object:
    try:
        content = json.loads(data)
    except (ValueError, RecursionError):
        content = None
    if not isinstance(content, dict):
        raise GroundtoneError("no table: nothing to seal")
    content.pop("checksum", None)
    return profile_from_text(json.dumps({**content, "checksum": _checksum(content)}), "x")


def _films(folder: Path) -> bytes:
    """Two mats' films, of which one does not know all."""
    one = FilmFacts("0123456789abcdef", 3.5, 0.2, 1.1, 0.02, 0.05, 200.0, 0.1, 0.5, 0.6, 0.05, 0.01, "bench")
    write_films(folder / "films.json", [one, replace(one, about="b", inverse=float("nan"), by="standing")])
    return (folder / "films.json").read_bytes()


def _on_board() -> bytes:
    """What goes onto a small mat, invented."""
    layout = layout_of("starter-10x3")
    force = np.arange(layout.rows * layout.columns * 9, dtype=np.uint16).reshape(layout.rows, layout.columns, 9)
    limits, _ = limits_of(default_rules())
    return packed(OnMat(
        "00112233445566aa", layout.id, 1, 200, 784.5, 1_800_000_000, 131.5, 147.2, 100.0, 1000.0, 1000.0,
        (16384,) * layout.columns, limits, force, places_of(layout),
    ))  # fmt: skip


def _sealed_on_board(data: bytes) -> object:
    return unpacked(data[:-4] + struct.pack("<I", zlib.crc32(data[:-4])))


def _sealed_words(folder: Path, session: bytes) -> Callable[[bytes], object]:
    """A whole recording in which one message of words is the given bytes."""

    def feed(data: bytes) -> object:
        path = folder / "words.mcap"
        path.unlink(missing_ok=True)
        with path.open("wb", buffering=0) as file:
            out = ChunkFile(file, "groundtone")
            out.add(Channel.SESSION, 1, session)
            channel = list(Channel)[len(data) % len(Channel)]
            out.add(channel, 2, data)
            out.finish()
        return open_recording(path)

    return feed


def _run() -> bytes:
    found = sorted((ROOT / "calibration" / "example").glob("*.run.jsonl"))
    return found[0].read_bytes()[:12_000]


def _checks(path: Path) -> None:
    head = "2026-02-01T09:00:00", "67746d0000000007", "ready with correction"
    append_check(path, KeptCheck(*head, 0.05, ((4, 1),), (), (), 0.004, 0.03, 2.5, "2026-01-01", (), 78.4, "left"))


def _about() -> About:
    hello = Hello(1, (0, 2, 0), "00112233445566aa", 16, 8, 14, 16, 1, 200, 0, 0, "board", "reference-16x4", "mat")
    return About(hello, golfer=Golfer("Ann"))


def _session() -> bytes:
    return json.dumps(session_table(_about())).encode()


def _words() -> list[bytes]:
    about = _about()
    tables = (asdict(about.golfer), asdict(about.block), settings_table(about.settings), {"text": None})
    return [json.dumps(table).encode() for table in tables]


def _replies() -> list[bytes]:
    vectors = json.loads((ROOT / "tests" / "vectors" / "replies.json").read_text("utf-8"))
    return [bytes.fromhex(entry["hex"]) for entry in vectors]


def _recording(folder: Path, frames: list[bytes]) -> bytes:
    path = folder / "a.mcap"
    recorder = begin(path, _about())
    for number, raw in enumerate(frames):
        recorder.frame(Stamped(None, number * 5000, number * 0.005, 0.0, 0, raw))  # type: ignore[arg-type]
    recorder.note("a word")
    recorder.close()
    return path.read_bytes()


def mutated(draw: random.Random, samples: list[bytes]) -> bytes:
    """A sample, changed in one to eight places."""
    data = bytearray(draw.choice(samples))
    for _ in range(draw.randint(1, 8)):
        at = draw.randrange(len(data) + 1)
        until = min(len(data), at + draw.choice((1, 2, 4, 16, 200)))
        match draw.randrange(7):
            case 0 if data:
                data[at % len(data)] ^= 1 << draw.randrange(8)
            case 1:
                data[at:until] = draw.randbytes(until - at)
            case 2:
                del data[at:until]
            case 3:
                data[at:at] = data[at:until]
            case 4:
                data[at:until] = draw.choice(_ODD)
            case 5:
                other = draw.choice(samples)
                data[at:] = other[draw.randrange(len(other) + 1) :]
            case _:
                del data[at:]
    return bytes(data[:_MOST])


@dataclass
class Tally:
    """What became of inputs."""

    tried: int = 0
    read: int = 0
    refused: int = 0
    fell: list[str] | None = None

    def feed(self, reader: Reader, data: bytes) -> None:
        """One input."""
        self.tried += 1
        try:
            reader.read(data)
        except GroundtoneError:
            self.refused += 1
        except Exception as error:  # what nobody foresaw: it is what the study is there to find
            self.fell = [*(self.fell or []), f"{type(error).__name__}: {error} on {data[:60]!r}"]
        else:
            self.read += 1


def tried_on(name: str, reader: Reader, inputs: int, seed: int = 1) -> Tally:
    """Feeds a reader with so many changed samples."""
    draw, tally = random.Random(f"{name} {seed}"), Tally()
    for _ in range(inputs):
        tally.feed(reader, mutated(draw, reader.samples))
    return tally


def study_hostile(seeds: int | None = None) -> dict[str, Any]:
    """So many thousand inputs over all readers, by default 200."""
    thousands = seeds or 200
    out: dict[str, Any] = {"ok": True}
    with tempfile.TemporaryDirectory() as folder:
        known = readers(Path(folder))
        whole = sum(reader.weight for reader in known.values())
        for name, reader in known.items():
            tally = tried_on(name, reader, max(1, thousands * 1000 * reader.weight // whole))
            out[name] = f"{tally.tried} tried, {tally.read} read, {tally.refused} refused, {len(tally.fell or [])} fell"
            out["ok"] &= not tally.fell
            for what in (tally.fell or [])[:3]:
                out[f"{name} fell"] = what
    return out
