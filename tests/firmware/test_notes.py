"""Notes of swings on the board, on MicroPython's own file system with a flash whose power may go at any moment."""

import json

import numpy as np
import pytest
from test_onmat import packed, what

from groundtone.mat.layout import layout_of
from groundtone.onboard.pack import places_of
from groundtone.wire.notes import Note, NoteFlag

STARTER = layout_of("starter-10x3")

FLASH = """
import json, os, sys
import micropython, vfs
BLOCK = 4096
@micropython.viper
def program(at: ptr8, offset: int, buf: ptr8, n: int):
    i = 0
    while i < n:
        at[offset + i] = at[offset + i] & buf[i]
        i += 1
@micropython.viper
def copied(to: ptr8, at: ptr8, offset: int, n: int):
    i = 0
    while i < n:
        to[i] = at[offset + i]
        i += 1
@micropython.viper
def wiped(at: ptr8, n: int):
    i = 0
    while i < n:
        at[i] = 255
        i += 1
class Flash:
    # Programs pages and erases blocks; the power goes in the middle of the operation numbered `cut`.
    def __init__(self, blocks):
        self.data = [bytearray(b"\\xff" * BLOCK) for _ in range(blocks)]
        self.erased = [0] * blocks
        self.n, self.cut, self.seed = 0, -1, 1
    def again(self):
        # The same cells, powered again; what still refers to the old one stays without power.
        new = Flash(0)
        new.data, new.erased, new.seed = self.data, self.erased, self.seed
        self.n, self.cut = 1, 0
        return new
    def power(self, cut):
        self.n, self.cut = 0, cut
    def dead(self):
        return self.cut >= 0 and self.n > self.cut
    def _part(self, whole):
        # How much of an operation has happened: all of it, but for the one in which the power goes.
        if self.dead():
            return -1
        self.n += 1
        if self.dead():
            self.seed = (self.seed * 1103515245 + 12345) & 0x3FFFFFFF
            return self.seed % whole
        return whole
    def readblocks(self, block, buf, offset=0):
        if self.dead():
            return -5
        copied(buf, self.data[block], offset, len(buf))
    def writeblocks(self, block, buf, offset=0):
        done = self._part(len(buf))
        program(self.data[block], offset, buf, done)
        return 0 if done == len(buf) else -5
    def ioctl(self, op, arg):
        if op == 4: return len(self.data)
        if op == 5: return BLOCK
        if op == 6:
            self.erased[arg] += 1
            done = self._part(BLOCK)
            wiped(self.data[arg], done)
            return 0 if done == BLOCK else -5
        return 0
flash = Flash({blocks})
vfs.VfsLfs2.mkfs(flash, progsize=256, readsize=256)
def mount():
    vfs.mount(vfs.VfsLfs2(flash, progsize=256, readsize=256), "/f")
    os.chdir("/f")
def umount():
    os.chdir("/")
    vfs.umount("/f")
from mat.alone import notes, onmat
def keep(book, *marks):
    for mark in marks:
        note = book.note()
        note[22] = mark & 255
        note[23] = mark >> 8
    book.write()
def there(last=9999):
    book, first, following = notes.span()
    first = max(first, following - last)
    out = []
    while first < following:
        first, data = notes.read(first, 3)
        out += [data[k:k + 64] for k in range(0, len(data), 64)]
        first += len(data) // 64
    return out
mount()
"""
RING = """
book = notes.Book(0x1234, 1_800_000_000)
n = 0
while n < 2300:
    keep(book, *range(n, n + 5))
    n += 5
print(json.dumps([list(notes.span()), [x.hex() for x in there()], max(flash.erased), sum(flash.erased), book.lost]))
"""
POWER_UPS = """
notes.Book(1, 0).write()
keep(notes.Book(1, 0), 7)
notes.told(1_800_000_000)
keep(notes.Book(1, 0), 8)
keep(notes.Book(2, 1_800_000_500), 9, 10)
print(json.dumps([x.hex() for x in there()]))
notes.forget(4)
print(json.dumps(list(notes.span())))
book = notes.Book(1, 0)
keep(book, *range(8)); keep(book, *range(8))
for _ in range(7): keep(book, *range(8))
print(json.dumps(list(notes.span())))
notes.forget(64)
print(json.dumps([list(notes.span()), len(there())]))
notes.forget(notes.span()[2])
print(json.dumps([list(notes.span()), len(there())]))
"""
FULL = """
def fill():
    try:
        for k in range(100):
            with open("large%d" % k, "ab") as file: file.write(bytes(4096))
    except OSError: pass
book = notes.Book(1, 0)
for k in range(20): keep(book, *range(8 * k, 8 * k + 8))
fill()
keep(book, *range(160, 168))
print(json.dumps([book.lost, [x[22] for x in there()]]))
notes.forget(128)
fill()
for k in range(4): keep(book, *range(8))
print(json.dumps([book.lost, len(there())]))
for name in os.listdir():
    if name.startswith("large"): os.remove(name)
keep(book, 77)
print(json.dumps([book.lost, there()[-1][22]]))
"""
BROKEN = """
book = notes.Book(1, 0)
for k in range(20): keep(book, *range(8 * k, 8 * k + 8))
class Broken:
    def __getattr__(self, name): return getattr(os, name)
    def remove(self, path): raise OSError(5)
def refuse(*wanted): raise OSError(28)
notes.os, notes.open = Broken(), refuse
keep(book, 1, 2)
print(json.dumps([book.lost]))
"""
CUTS = """
old, new = open("{folder}/old.bin", "rb").read(), open("{folder}/new.bin", "rb").read()
uid, layout = bytes.fromhex("00112233445566aa"), "starter-10x3"
def send(data):
    box = onmat.Inbox(uid, layout)
    box.begin(len(data))
    for at in range(0, len(data), 230): box.put(at, data[at:at + 230])
    box.end()
send(old)
mark, safe, wrong, cuts = 0, 0, [], 0
plan = json.loads(open("{folder}/plan.json").read())
for cut in plan:
    flash.power(cut)
    try:
        book = notes.Book(1, 0)
        if cut & 1:
            while True:
                keep(book, mark)
                if book.lost: raise OSError(5)
                mark += 1
                safe = mark
        else:
            while True:
                send(new)
                send(old)
                notes.told(1_800_000_000 + cut)
    except OSError:
        cuts += 1
    os.chdir("/")
    vfs.umount("/f")
    flash = flash.again()
    mount()
    # The swing that was being written when the power went may be there or not; those before it are.
    known = notes.span()[2]
    kept = [x[22] | x[23] << 8 for x in there(100)]
    if not safe <= known <= safe + 1 or kept != list(range(max(0, known - 100), known)):
        wrong.append(["notes", cut, safe, known, kept[-3:]])
    mark = safe = known
    for name in os.listdir():
        if name not in ("notes", "onmat.bin", "onmat.new"): wrong.append(["file", name])
    with open("onmat.bin", "rb") as file: data = file.read()
    if data != old and data != new: wrong.append(["setting", cut, len(data)])
    if onmat.read(uid, layout) is None: wrong.append(["read", cut])
print(json.dumps([cuts, mark, wrong]))
"""


@pytest.fixture
def flash(mpy):
    def run(code, blocks=100, most_s=60):
        return [
            json.loads(line)
            for line in mpy(FLASH.replace("{blocks}", str(blocks)) + code, heap="32m", most_s=most_s).splitlines()
            if line[0] == "["
        ]

    return run


def test_the_last_two_thousand_are_there_and_no_block_wears_alone(flash):
    ((book, first, following), raw, most, erases, lost) = flash(RING)[0]
    notes = [Note.of(bytes.fromhex(text)) for text in raw]
    assert None not in notes
    assert (following, lost) == (2300, 0)
    assert following - first >= 2048
    assert [note.number for note in notes] == list(range(first, 2300))
    assert [round(note.weight_n * 10) for note in notes] == list(range(first, 2300))
    assert {note.book for note in notes} == {book}
    assert {note.digest for note in notes} == {0x1234}
    # 460 times something was written: a block of data each, and the folder's own now and then.
    assert erases < 460 * 1.5
    assert most < 460 * 1.5 / 12  # spread over the 66 blocks that are free


def test_power_ups_times_and_numbers(flash):
    raw, whole, grown, cut, empty = flash(POWER_UPS)
    notes = [Note.of(bytes.fromhex(text)) for text in raw]
    assert [(n.number, n.power_up, n.digest, n.time_s) for n in notes] == [
        (0, 0, 1, 0), (1, 1, 1, 1_800_000_000), (2, 2, 2, 1_800_000_500), (3, 2, 2, 1_800_000_500),
    ]  # fmt: skip
    assert [n.has(NoteFlag.TIME_TOLD) for n in notes] == [False, False, True, True]
    assert whole[1:] == [0, 4]  # a segment with room stays
    assert grown[1:] == [0, 76]
    assert cut == [[grown[0], 64, 76], 12]
    assert empty[0][2] == 76


def test_a_full_flash_costs_the_oldest_or_the_newest_and_stops_nothing(flash):
    oldest_gone, newest_lost, again = flash(FULL, 40)
    assert oldest_gone == [0, list(range(64, 168))]
    assert newest_lost[0] > 0
    assert newest_lost[1] >= 40
    assert again == [newest_lost[0], 77]


def test_a_flash_on_which_nothing_can_be_removed_costs_what_waits_and_no_more(flash):
    assert flash(BROKEN, 40) == [[2]]


@pytest.mark.parametrize("count", [40, pytest.param(500, marks=pytest.mark.long)])
def test_a_cut_at_any_moment_leaves_whole_settings_and_all_earlier_swings(flash, tmp_path, count):
    small = {
        "layout": STARTER.id,
        "force": what().force[:10, :6],
        "pulldown": (16384,) * 6,
        "places": places_of(STARTER),
    }
    (tmp_path / "old.bin").write_bytes(packed(what(**small)))
    (tmp_path / "new.bin").write_bytes(packed(what(**small, volume=90)))
    moments = np.random.default_rng(19).integers(0, 110, count).tolist()
    (tmp_path / "plan.json").write_text(json.dumps(moments))
    code = CUTS.replace("{folder}", str(tmp_path))
    cuts, marks, wrong = flash(code, most_s=600)[0]
    assert wrong == []
    assert cuts == count
    assert marks > count
