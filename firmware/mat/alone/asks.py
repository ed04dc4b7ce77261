# Requests about what makes a mat work alone. Read when the first of them comes: memory is for frames until then.
from mat import board as boards
from mat import requests, wire
from mat.alone import feet, notes, onmat
from micropython import const

_FEET_MAX = const(100)
_NOTES = const(3)  # in one reply


def _start_feet(app, args: bytes) -> bytes:
    requests.exactly(args, 2)
    if app.running:
        raise requests.RefusedError(requests.NOT_NOW, "the mat is running already: stop it first")
    if wire.u16(args, 0) > _FEET_MAX:
        raise requests.RefusedError(requests.OUT_OF_RANGE, "feet come at %d Hz at most" % _FEET_MAX)
    try:
        meter = onmat.read(boards.uid(), app.layout).pressure
    except onmat.OnMatError as error:
        raise requests.RefusedError(requests.NOTHING_ON, str(error))
    app.frame = feet.Frame(meter)
    app.link.size_for(app.frame.message, app.settings["window"])
    try:
        return requests.start(app, args)
    finally:
        app.settings_changed()  # frames again: now where the start was refused, else after the run


def _put_begin(app, args: bytes) -> bytes:
    size = _u32(args)
    if app.running:
        raise requests.RefusedError(requests.NOT_NOW, "nothing is put onto a mat that is running: stop it first")
    if app.inbox is not None:
        app.inbox.drop()
    app.inbox = onmat.Inbox(boards.uid(), app.layout)
    _on_mat(app.inbox.begin, size)
    return b""


def _put(app, args: bytes) -> bytes:
    if len(args) < 3 or app.inbox is None:
        raise requests.RefusedError(requests.WRONG_ARGUMENTS, "a place and bytes are expected, after a begin")
    _on_mat(app.inbox.put, wire.u16(args, 0), bytes(args[2:]))
    return b""


def _put_end(app, args: bytes) -> bytes:
    requests.exactly(args, 0)
    if app.inbox is None:
        raise requests.RefusedError(requests.WRONG_ARGUMENTS, "nothing is being sent: begin again")
    _on_mat(app.inbox.end)
    app.inbox = None
    return _what_is_on(app, bytes(4))


def _what_is_on(app, args: bytes) -> bytes:
    now = _u32(args)
    if not app.running and now:
        app.began_s = notes.told(now) - app.clock.tenths // 10
        if onmat.expired(now):
            onmat.erase()
    return onmat.digest().to_bytes(4, "little") + onmat.size().to_bytes(2, "little")


def _read_back(app, args: bytes) -> bytes:
    requests.exactly(args, 2)
    return onmat.piece(wire.u16(args, 0))


def _take_off(app, args: bytes) -> bytes:
    requests.exactly(args, 0)
    if app.running:
        raise requests.RefusedError(requests.NOT_NOW, "nothing is taken off a mat that is running: stop it first")
    onmat.erase()
    return b""


def _notes(app, args: bytes) -> bytes:
    requests.exactly(args, 0)
    book, oldest, following = notes.span()
    return book.to_bytes(2, "little") + oldest.to_bytes(4, "little") + following.to_bytes(4, "little")


def _read_notes(app, args: bytes) -> bytes:
    number, data = notes.read(_u32(args), _NOTES)
    return number.to_bytes(4, "little") + data


def _forget_notes(app, args: bytes) -> bytes:
    before = _u32(args)
    if app.running:
        raise requests.RefusedError(requests.NOT_NOW, "nothing is forgotten on a mat that is running: stop it first")
    notes.forget(before)
    return _notes(app, b"")


def _u32(args: bytes) -> int:
    requests.exactly(args, 4)
    return wire.u16(args, 0) | wire.u16(args, 2) << 16


def _on_mat(do, *args: object) -> None:
    # What went wrong with what goes onto the mat, as a refusal with its sentence.
    try:
        do(*args)
    except onmat.OnMatError as error:
        raise requests.RefusedError(requests.OUT_OF_RANGE, str(error))
    except OSError as error:
        raise requests.RefusedError(requests.NOT_STORED, "the board could not store it (error %d)" % error.args[0])


# 11 to 20
COMMANDS = (
    _put_begin, _put, _put_end, _what_is_on, _take_off, _read_back, _start_feet, _notes, _read_notes, _forget_notes,
)  # fmt: skip
