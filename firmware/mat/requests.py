# Requests in, replies out: what each command does, and the sentence when it cannot.
from mat import board as boards
from mat import settings as settings_file
from mat import tally, wire
from micropython import const

RATE_MIN = const(1)
RATE_MAX = const(200)
_FEET_MAX = const(100)
FIRMWARE = (0, 2, 0)

_UNKNOWN_COMMAND = const(1)
_WRONG_ARGUMENTS = const(2)
_OUT_OF_RANGE = const(3)
_UNKNOWN_SETTING = const(4)
NOT_NOW = const(5)
ROWS_NOT_PROVEN = const(6)
_NOT_STORED = const(7)
_FAILED = const(8)
_CLAIMED = const(9)
NOTHING_ON = const(10)

HELLO = const(1)
PROMPT = const(10)


class RefusedError(Exception):
    """A request that gets a status other than ok."""

    def __init__(self, status: int, text: str) -> None:
        super().__init__(text)
        self.status = status
        self.text = text


def answer(app, buf: bytearray, n: int) -> tuple:
    """Carry out the request in buf[:n]: (command, status, reply message). Nothing that happens inside gets out."""
    number, command = buf[1], buf[2]
    try:
        if buf[0] >> 4 != wire.VERSION:
            raise RefusedError(_UNKNOWN_COMMAND, "this mat speaks wire version %d only" % wire.VERSION)
        if command not in _COMMANDS:
            raise RefusedError(_UNKNOWN_COMMAND, "there is no command %d" % command)
        where = app.link.claimed() if command in _OWNERS_ONLY else ""
        if where:
            raise RefusedError(_CLAIMED, "the mat is in use by another program over %s: end that one first" % where)
        payload = _COMMANDS[command](app, bytes(buf[3 : n - 4]))
        status = 0
    except RefusedError as refusal:
        status, payload = refusal.status, wire.sentence(refusal.text, 236)
    except Exception as error:
        # Not printed: the console is the link.
        status, payload = _FAILED, wire.sentence("the mat failed at this: %r" % error, 236)
    return command, status, wire.message(wire.REPLY, bytes((number, command, status)) + payload)


def _length(args: bytes, n: int) -> None:
    if len(args) != n:
        raise RefusedError(_WRONG_ARGUMENTS, "%d bytes of arguments expected, not %d" % (n, len(args)))


def _hello(app, args: bytes) -> bytes:
    _length(args, 0)
    rows, columns = app.shape
    shape = bytes((rows, columns, app.bits, app.link.window()))
    fixed = bytes((wire.VERSION,)) + bytes(FIRMWARE) + boards.uid() + shape
    rates = bytes((RATE_MIN, 0, RATE_MAX, 0))
    strings = wire.string(app.board.name) + wire.string(app.layout) + wire.string(app.settings["name"])
    return fixed + rates + bytes((app.state(), app.restart)) + strings


def _start(app, args: bytes) -> bytes:
    _length(args, 2)
    rate = wire.u16(args, 0)
    if not RATE_MIN <= rate <= RATE_MAX:
        raise RefusedError(_OUT_OF_RANGE, "the rate must lie between %d and %d Hz" % (RATE_MIN, RATE_MAX))
    if app.running:
        if app.link.owner is app.link.at:
            raise RefusedError(NOT_NOW, "the mat is running already: stop it first")
        app.stop()  # whoever started it has gone
    if not app.rows.proven:
        raise RefusedError(ROWS_NOT_PROVEN, app.rows.sentence())
    return app.start(rate).to_bytes(4, "little")


def _start_feet(app, args: bytes) -> bytes:
    _length(args, 2)
    if app.running:
        raise RefusedError(NOT_NOW, "the mat is running already: stop it first")
    if wire.u16(args, 0) > _FEET_MAX:
        raise RefusedError(_OUT_OF_RANGE, "feet come at %d Hz at most" % _FEET_MAX)
    from mat import feet, onmat

    try:
        meter = onmat.read(boards.uid(), app.layout).pressure
    except onmat.OnMatError as error:
        raise RefusedError(NOTHING_ON, str(error))
    app.frame = feet.Frame(meter)
    app.link.size_for(app.frame.message, app.settings["window"])
    try:
        return _start(app, args)
    finally:
        app.settings_changed()  # frames again: now where the start was refused, else after the run


def _stop(app, args: bytes) -> bytes:
    _length(args, 0)
    app.stop()
    return app.tally[tally.SENT].to_bytes(4, "little") + app.tally[tally.SKIPPED].to_bytes(4, "little")


def _ping(app, args: bytes) -> bytes:
    _length(args, 4)
    app.clock.now()
    return args + bytes(app.clock.t)


def _identify(app, args: bytes) -> bytes:
    _length(args, 1)
    app.signals.blink(args[0] * 1000)
    return b""


def _selftest(app, args: bytes) -> bytes:
    _length(args, 0)
    if app.running:
        raise RefusedError(NOT_NOW, "the self-test needs a mat that is not running: stop it first")
    found = app.self_test()[:46]  # as many as fit into a message
    payload = bytes((len(found),))
    for code, a, b, value in found:
        payload += bytes((code, a, b, value & 255, value >> 8))
    return payload


def _strings(args: bytes, n: int) -> list:
    texts = []
    at = 0
    try:
        for _ in range(n):
            text, at = wire.take_string(args, at)
            texts.append(text)
    except ValueError:  # UnicodeError is one of them
        at = -1
    if at != len(args):
        raise RefusedError(_WRONG_ARGUMENTS, "%d strings expected" % n)
    return texts


def _get(app, args: bytes) -> bytes:
    (key,) = _strings(args, 1)
    try:
        return wire.string(app.settings.get(key))
    except settings_file.UnknownKeyError:
        raise RefusedError(_UNKNOWN_SETTING, "there is no setting %s" % key)


def _set(app, args: bytes) -> bytes:
    key, text = _strings(args, 2)
    try:
        stored = app.settings.put(key, text)
    except settings_file.UnknownKeyError:
        raise RefusedError(_UNKNOWN_SETTING, "there is no setting %s" % key)
    except settings_file.ValueRefusedError as error:
        raise RefusedError(_OUT_OF_RANGE, "%s: %s" % (key, error))
    except settings_file.NotStoredError as error:
        raise RefusedError(_NOT_STORED, str(error))
    app.settings_changed()
    return wire.string(stored)


def _button_taken(app, args: bytes) -> bytes:
    _length(args, 0)
    app.signals.beep(60)
    app.signals.blink(120)
    return b""


def _put_begin(app, args: bytes) -> bytes:
    _length(args, 4)
    if app.running:
        raise RefusedError(NOT_NOW, "nothing is put onto a mat that is running: stop it first")
    from mat import onmat  # here: a mat that starts says hello sooner

    if app.inbox is not None:
        app.inbox.drop()
    app.inbox = onmat.Inbox(boards.uid(), app.layout)
    _on_mat(app.inbox.begin, wire.u16(args, 0) | wire.u16(args, 2) << 16)
    return b""


def _put(app, args: bytes) -> bytes:
    if len(args) < 3 or app.inbox is None:
        raise RefusedError(_WRONG_ARGUMENTS, "a place and bytes are expected, after a begin")
    _on_mat(app.inbox.put, wire.u16(args, 0), bytes(args[2:]))
    return b""


def _put_end(app, args: bytes) -> bytes:
    _length(args, 0)
    if app.inbox is None:
        raise RefusedError(_WRONG_ARGUMENTS, "nothing is being sent: begin again")
    _on_mat(app.inbox.end)
    app.inbox = None
    return _what_is_on(app, bytes(4))


def _what_is_on(app, args: bytes) -> bytes:
    _length(args, 4)
    from mat import onmat

    if not app.running and onmat.expired(wire.u16(args, 0) | wire.u16(args, 2) << 16):
        onmat.erase()
    return onmat.digest().to_bytes(4, "little") + onmat.size().to_bytes(2, "little")


def _read_back(app, args: bytes) -> bytes:
    _length(args, 2)
    from mat import onmat

    return onmat.piece(wire.u16(args, 0))


def _take_off(app, args: bytes) -> bytes:
    _length(args, 0)
    if app.running:
        raise RefusedError(NOT_NOW, "nothing is taken off a mat that is running: stop it first")
    from mat import onmat

    onmat.erase()
    return b""


def _on_mat(do, *args: object) -> None:
    # What went wrong with what goes onto the mat, as a refusal with its sentence.
    from mat import onmat

    try:
        do(*args)
    except onmat.OnMatError as error:
        raise RefusedError(_OUT_OF_RANGE, str(error))
    except OSError as error:
        raise RefusedError(_NOT_STORED, "the board could not store it (error %d)" % error.args[0])


def _prompt(app, args: bytes) -> bytes:
    _length(args, 0)
    return b""  # the loop ends once the reply is out


_OWNERS_ONLY = (2, 3, 6, 8, 10, 11, 12, 13, 15, 17)  # not while another host owns the running mat
_COMMANDS = {
    1: _hello,
    2: _start,
    3: _stop,
    4: _ping,
    5: _identify,
    6: _selftest,
    7: _get,
    8: _set,
    9: _button_taken,
    10: _prompt,
    11: _put_begin,
    12: _put,
    13: _put_end,
    14: _what_is_on,
    15: _take_off,
    16: _read_back,
    17: _start_feet,
}
