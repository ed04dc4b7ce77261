# Requests in, replies out: what each command does, and the sentence when it cannot.
import mat
from mat import board as boards
from mat import kinds, tally, wire
from mat import settings as settings_file
from micropython import const

RATE_MIN = const(1)
RATE_MAX = const(200)
_FIRST_ALONE = const(11)  # commands from here on are in mat/alone/asks.py, which a mat with a computer never reads
_LAST_ALONE = const(20)
FIRMWARE = (0, 2, 0)

_UNKNOWN_COMMAND = const(1)
WRONG_ARGUMENTS = const(2)
OUT_OF_RANGE = const(3)
_UNKNOWN_SETTING = const(4)
NOT_NOW = const(5)
ROWS_NOT_PROVEN = const(6)
NOT_STORED = const(7)
_FAILED = const(8)
_CLAIMED = const(9)
NOTHING_ON = const(10)

_FREE_MEMORY = const(17)  # a finding

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
        if command in _COMMANDS:
            do = _COMMANDS[command]
        elif _FIRST_ALONE <= command <= _LAST_ALONE:
            from mat.alone import asks

            do = asks.COMMANDS[command - _FIRST_ALONE]
        else:
            raise RefusedError(_UNKNOWN_COMMAND, "there is no command %d" % command)
        where = app.link.claimed() if command in _OWNERS_ONLY else ""
        if where:
            raise RefusedError(_CLAIMED, "the mat is in use by another program over %s: end that one first" % where)
        payload = do(app, bytes(buf[3 : n - 4]))
        status = 0
    except RefusedError as refusal:
        status, payload = refusal.status, wire.sentence(refusal.text, 236)
    except Exception as error:
        # Not printed: the console is the link.
        status, payload = _FAILED, wire.sentence("the mat failed at this: %r" % error, 236)
    return command, status, wire.message(wire.REPLY, bytes((number, command, status)) + payload)


def exactly(args: bytes, n: int) -> None:
    if len(args) != n:
        raise RefusedError(WRONG_ARGUMENTS, "%d bytes of arguments expected, not %d" % (n, len(args)))


def _hello(app, args: bytes) -> bytes:
    exactly(args, 0)
    kinds.measure(app)
    rows, columns = app.shape
    shape = bytes((rows, columns, app.bits, app.link.window()))
    fixed = bytes((wire.VERSION,)) + bytes(FIRMWARE) + boards.uid() + shape
    rates = bytes((RATE_MIN, 0, RATE_MAX, 0))
    strings = wire.string(app.board.name) + wire.string(app.layout) + wire.string(app.settings["name"])
    return fixed + rates + bytes((app.state(), app.restart)) + strings


def start(app, args: bytes) -> bytes:
    exactly(args, 2)
    rate = wire.u16(args, 0)
    if not RATE_MIN <= rate <= RATE_MAX:
        raise RefusedError(OUT_OF_RANGE, "the rate must lie between %d and %d Hz" % (RATE_MIN, RATE_MAX))
    if app.running:
        if app.link.owner is app.link.at:
            raise RefusedError(NOT_NOW, "the mat is running already: stop it first")
        app.stop()  # whoever started it has gone
    if not app.rows.proven:
        raise RefusedError(ROWS_NOT_PROVEN, app.rows.sentence())
    return app.start(rate).to_bytes(4, "little")


def _stop(app, args: bytes) -> bytes:
    exactly(args, 0)
    app.stop()
    return app.tally[tally.SENT].to_bytes(4, "little") + app.tally[tally.SKIPPED].to_bytes(4, "little")


def _ping(app, args: bytes) -> bytes:
    exactly(args, 4)
    app.clock.now()
    return args + bytes(app.clock.t)


def _identify(app, args: bytes) -> bytes:
    exactly(args, 1)
    app.signals.blink(args[0] * 1000)
    return b""


def _selftest(app, args: bytes) -> bytes:
    exactly(args, 0)
    if app.running:
        raise RefusedError(NOT_NOW, "the self-test needs a mat that is not running: stop it first")
    from mat import selftest  # here: a mat that starts says hello sooner

    found = selftest.run(app)
    app.tell_rows(app.rows.proven)
    del selftest
    free = kinds.forget(mat, "selftest", "wiringtest", "settling")  # frames need the room
    found = found[:45]  # as many as fit into a message
    found.append((_FREE_MEMORY, 0, 0, min(65535, free // 16)))
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
        raise RefusedError(WRONG_ARGUMENTS, "%d strings expected" % n)
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
        raise RefusedError(OUT_OF_RANGE, "%s: %s" % (key, error))
    except settings_file.NotStoredError as error:
        raise RefusedError(NOT_STORED, str(error))
    app.settings_changed()
    return wire.string(stored)


def _button_taken(app, args: bytes) -> bytes:
    exactly(args, 0)
    app.signals.beep(60)
    app.signals.blink(120)
    return b""


def _prompt(app, args: bytes) -> bytes:
    exactly(args, 0)
    return b""  # the loop ends once the reply is out


_OWNERS_ONLY = (2, 3, 6, 8, 10, 11, 12, 13, 15, 17, 20)  # not while another host owns the running mat
_COMMANDS = {
    1: _hello,
    2: start,
    3: _stop,
    4: _ping,
    5: _identify,
    6: _selftest,
    7: _get,
    8: _set,
    9: _button_taken,
    10: _prompt,
}
