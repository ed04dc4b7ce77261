# What the mat alone keeps of each swing, until a computer fetches it: 64 bytes, read by groundtone/onboard/notes.py.
#
# Segments of 64 notes in a folder, each one block of the flash; the oldest goes when there are more than 33, so that
# at least the last 2,048 swings are there. The file system writes elsewhere what changes and then refers to it: a cut
# leaves what was, and blocks wear alike. One note costs one erase of one block, several that wait cost one together.
import os

from mat import wire
from micropython import const

SIZE = const(64)
_IN_ONE = const(64)
_SEGMENTS = const(33)
_WAITING = const(8)  # notes that wait for a quiet moment
_FOLDER = "notes"
_TOLD = "notes/told"
_SEALED = const(62)


def _segments() -> list:
    # Names of the segments, oldest first: the book (drawn when it was begun) and the segment's number.
    try:
        return sorted(name for name in os.listdir(_FOLDER) if len(name) == 9)
    except OSError:
        return []


def _notes_in(name: str) -> int:
    return os.stat(_FOLDER + "/" + name)[6] // SIZE


def _number(name: str) -> int:
    return int(name[4:]) * _IN_ONE


def span() -> tuple:
    """(book, number of the oldest note, number of the next one); (0, 0, 0) where none was ever kept."""
    names = _segments()
    if not names:
        return 0, 0, 0
    return int(names[0][:4], 16), _number(names[0]), _number(names[-1]) + _notes_in(names[-1])


def read(number: int, count: int) -> tuple:
    """(number of the first, notes as bytes): those from a number on that lie in one segment, `count` at most."""
    for name in _segments():
        first = _number(name)
        if number < first + _notes_in(name):
            number = max(number, first)
            with open(_FOLDER + "/" + name, "rb") as file:
                file.seek((number - first) * SIZE)
                data = file.read(count * SIZE)
            return number, data[: len(data) // SIZE * SIZE]
    return number, b""


def forget(before: int) -> None:
    """Lets go of notes with smaller numbers, whole segments of them; the newest segment stays while it has room."""
    for name in _segments():
        if _number(name) + _IN_ONE <= before:
            if name == _segments()[-1]:  # numbers go on from here
                open(_FOLDER + "/" + _name(name[:4], _number(name) // _IN_ONE + 1), "wb").close()
            os.remove(_FOLDER + "/" + name)


def _name(book: str, segment: int) -> str:
    return book + "%05d" % segment


def told(now: int = 0) -> int:
    """The last time that a computer has told, seconds since 1970, 0: none ever has; from now on `now` where given."""
    if now:
        try:
            if _FOLDER not in os.listdir():
                os.mkdir(_FOLDER)
            data = now.to_bytes(4, "little")
            with open(_TOLD, "wb") as file:
                file.write(data)
        except OSError:
            pass  # then notes say that nobody knows
        return now
    try:
        with open(_TOLD, "rb") as file:
            return int.from_bytes(file.read(4), "little")
    except OSError:
        return 0


class Book:
    """Takes notes while the mat is alone, and writes them down when it is quiet."""

    def __init__(self, digest: int, now: int) -> None:
        self._digest = digest
        self.now = now  # seconds since 1970 at power-up, 0 where nobody has told since
        self._told = told()
        self._book = b""
        self._power_up = -1
        self._notes = [bytearray(SIZE) for _ in range(_WAITING)]
        self.waiting = 0
        self.lost = 0  # that could not be written

    def note(self) -> bytearray:
        """A note to be filled in; the oldest that waits goes where there is no room."""
        if self.waiting == _WAITING:
            self._notes.append(self._notes.pop(0))
            self.waiting -= 1
            self.lost += 1
        self.waiting += 1
        note = self._notes[self.waiting - 1]
        for i in range(SIZE):
            note[i] = 0
        note[0] = 1
        return note

    def write(self) -> None:
        """Everything that waits, onto the flash; where that is full the oldest notes make room."""
        tries = 3
        while self.waiting and tries:
            try:
                self._write()
            except OSError:
                tries -= 1
                names = _segments()
                if len(names) < 2:
                    break
                try:
                    os.remove(_FOLDER + "/" + names[0])
                except OSError:  # a flash on which nothing goes any more: the notes are lost, the tones are not
                    break
        self.lost += self.waiting
        self.waiting = 0

    def _write(self) -> None:
        names = _segments()
        if not names:
            if _FOLDER not in os.listdir():
                os.mkdir(_FOLDER)
            book = os.urandom(2)
            names = [_name("%02x%02x" % (book[0], book[1]), 0)]
            open(_FOLDER + "/" + names[0], "wb").close()
        name = names[-1]
        there = _notes_in(name)
        if there >= _IN_ONE:
            name = _name(name[:4], _number(name) // _IN_ONE + 1)
            there = 0
            while len(names) >= _SEGMENTS:
                os.remove(_FOLDER + "/" + names.pop(0))
        if self._power_up < 0:
            self._power_up = _last_power_up(names) + 1
        count = min(self.waiting, _IN_ONE - there)
        with open(_FOLDER + "/" + name, "ab") as file:
            for i in range(count):
                note = self._notes[i]
                self._head(note, int(name[:4], 16), _number(name) + there + i)
                file.write(note)
        self._notes = self._notes[count:] + self._notes[:count]
        self.waiting -= count

    def _head(self, note: bytearray, book: int, number: int) -> None:
        since = int.from_bytes(note[16:20], "little") // 10
        if self.now:
            note[1] |= 16
        note[2:4] = book.to_bytes(2, "little")
        note[4:8] = number.to_bytes(4, "little")
        note[8:12] = self._digest.to_bytes(4, "little")
        note[12:16] = (self.now + since if self.now else self._told).to_bytes(4, "little")
        note[20:22] = (self._power_up & 0xFFFF).to_bytes(2, "little")
        wire.crc(wire.TABLE, note, _SEALED, wire.CHECK)
        note[_SEALED:] = wire.CHECK[:2]


def _last_power_up(names: list) -> int:
    # Of the newest note; -1 without one.
    for name in reversed(names):
        if name in os.listdir(_FOLDER) and _notes_in(name):
            with open(_FOLDER + "/" + name, "rb") as file:
                file.seek(_notes_in(name) * SIZE - SIZE)
                return int.from_bytes(file.read(SIZE)[20:22], "little")
    return -1
