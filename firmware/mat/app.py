# The loop: scan at absolute times, answer in between, and look after rows, button and credit.
import time
from array import array

import machine
import micropython
from mat import board as boards
from mat import clock, guard, hosts, kinds, pace, requests, rows, settings, signals, strike, tally, wire

_EVENT_BUTTON = 1
_EVENT_ROWS = 2
_EVENT_READY = 3
_EVENT_SETTINGS = 4
_EVENT_FAULT = 5
_EVENT_HELD = 6
_EVENT_RATE = 7

_RETRY = 10  # tenths of a second: rows that could not be proven are tried again after this
_ALONE_FROM = 20  # tenths of a second
_IDLE_MS = 5  # a press of the button must be seen
_SLOW_IDLE_MS = 20
_STRIKES_FROM_HZ = 50  # slower than this nobody swings (calibration): the strike sensor rests
_LISTEN_US = 1000  # between two looks at the link while running
_LAST_US = 1600  # nearer to a scan there is no more look: a turn must not make it late


class App:
    """The running mat. `turn` is one turn of the loop; `run` turns until the prompt is asked for."""

    def __init__(self, board: boards.Board) -> None:
        self.board = board
        boards.quiet()
        self.clock = clock.Clock()
        self.settings = settings.Settings()
        self.link = hosts.Hosts(self.settings["radio"] == "on", self.settings["name"], boards.uid(), self.clock)
        self.pace = pace.Pace()
        self.signals = signals.Signals(board)
        self.strike = strike.Strike(board)
        self.watchdog = guard.Watchdog()
        self.restart, self._fault = guard.reason()
        self.running = False
        self.tally = self.link.credit.numbers  # the last run's numbers (mat/tally.py)
        self.ended = False
        self._notice = self.settings.notice
        self._complaint = ""  # the last sentence about rows that went out
        self._tried = self._turns = self.row_us = self.row_wait = 0  # row_: columns once a row moved (mat/settling.py)
        self.seldom = 3  # turns of a run, less one, between two looks at watchdog and button
        self._turned = self._stale = False  # at least once; settings changed while running
        self.inbox = kinds.untyped(None)  # what is being put onto the mat (mat/alone/onmat.py)
        self.brisk = kinds.untyped(None)  # takes the turns of a quick run (mat/brisk_rp2.py), or of a mat alone
        self.asked = self.began_s = 0  # last request, tenths; power-up, s since 1970, once a computer has told the time
        self.idle = kinds.untyped(None)  # what begins when nobody asks (mat/alone/idle.py)
        self.listens = False  # to the strike sensor, between scans
        self.shape = boards.shape(self.settings["layout"])  # rows, columns of both panels
        self.rows = rows.Rows(board.rows[: self.shape[0]], board.ref)
        self._prepare()

    # What is built once, and again after a setting changed; never while frames run.

    def _prepare(self) -> None:
        s = self.settings
        self.layout = s["layout"]
        # 14 bits keep what oversampling gains; a single reading has 12.
        self.bits = 12 if s["oversample"] == 1 else 14
        self.scan = kinds.scanner()(
            self.board, self.rows, self.shape[1], s["oversample"], s["settle_us"], self.bits, self.strike, self.clock
        )
        self.scan.settle(s["settle_us"], s["row_settle_us"] or self.row_wait)
        self.frame = wire.Frame(self.scan.size - 2, self.bits)
        self.values = array("H", bytes(2 * self.scan.size))
        self.link.size_for(self.frame.message, s["window"])
        self.scan.line = self.link.usb.line

    def settings_changed(self) -> None:
        """Take changed settings over: at once, or after the run that is under way."""
        if self.running:
            self._stale = True
            return
        self._stale = False
        shape = boards.shape(self.settings["layout"])
        other_rows = shape[0] != self.shape[0]
        self.shape = shape
        if other_rows:
            self.rows.release()
            self.rows = rows.Rows(self.board.rows[: shape[0]], self.board.ref)
            self.row_us = self.row_wait = 0
        self._prepare()
        if other_rows:  # only then: somebody may stand on the mat, and a loaded mat cannot be proven
            self.prove_rows()

    def prove_rows(self) -> None:
        """Prove the rows apart; say so when that changes."""
        self.tell_rows(self.rows.prove())

    def tell_rows(self, apart: bool) -> None:
        """Say how the rows are, just tried, where that has changed."""
        self._tried = self.clock.tenths
        self.signals.rest(1 if apart else 0)
        if not apart:
            sentence = self.rows.sentence()
            if sentence != self._complaint:
                self._complaint = sentence
                self.event(_EVENT_ROWS, sentence)
        elif self._complaint:
            self._complaint = ""
            self.event(_EVENT_READY, "")
            self.signals.beep(150)

    def state(self) -> int:
        """0 ready, 1 running, 2 rows not proven apart."""
        if self.running:
            return 1
        return 0 if self.rows.proven else 2

    def start(self, rate_hz: int) -> int:
        """Start scanning for the host that asks, the first scan one period from now. The period in us."""
        self.link.claim()
        by_radio = self.link.by_radio()
        if by_radio:
            rate_hz = min(rate_hz, pace.MOST_HZ)
        self.pace.start(rate_hz if by_radio else 0)
        self.tally = self.link.credit.numbers
        tally.clear(self.tally, 1000000 // rate_hz)
        self.listens = rate_hz >= _STRIKES_FROM_HZ
        self.strike.clear()
        self.brisk = kinds.untyped(kinds.brisk(self, self.link)) if self.listens else None
        self.tally[tally.DUE] = time.ticks_add(time.ticks_us(), self.tally[tally.PERIOD])
        self.running = True
        return self.tally[tally.PERIOD]

    def stop(self) -> None:
        """Stop scanning; settings changed meanwhile come into force."""
        self.running = False
        self.brisk = None
        self.link.release()
        if self._stale:
            self.settings_changed()

    def event(self, code: int, text: str) -> None:
        """Tell the host something unasked."""
        self.clock.now()
        self.link.tell(wire.message(wire.EVENT, bytes((code,)) + bytes(self.clock.t) + wire.sentence(text, 234)))

    # The loop

    def run(self) -> None:
        """Run until the prompt is asked for. Rows end as inputs and Ctrl-C works again, whatever happens."""
        self.link.open()
        try:
            self.prove_rows()
            if self.rows.proven:
                self.signals.beep(150)
            self.watchdog.start()
            while not self.ended:
                self._eight_turns()
        except EOFError:
            pass
        except Exception as error:
            # Nobody is at the prompt: start again, and tell it in the next hello. What cannot turn even once goes to
            # whoever started this, who may have an older version.
            guard.leave(error)
            if not self._turned:
                raise
            self.rows.release()
            self.watchdog.stop()  # this restart is no work of it
            machine.reset()
        finally:
            self.watchdog.stop()
            self.rows.release()
            self.signals.off()
            self.link.close()

    @micropython.native
    def _eight_turns(self) -> None:
        n = 8
        while n and not self.ended:
            self.turn()
            self._turned = True
            n -= 1

    @micropython.native
    def turn(self) -> None:
        """One turn: a scan when it is due, then what has come in, else a short wait."""
        self._turns = (self._turns + 1) & self.seldom
        if not self.running or not self._turns:
            self._look_after()
        if self.brisk:
            self.brisk()
            return
        link = self.link
        if not self.running:
            n = link.receive(_IDLE_MS)
            if n:
                self.take(link.at.message, n)
            return
        wait = time.ticks_diff(self.tally[tally.DUE], time.ticks_us())
        idle = 0
        if wait < _LAST_US:
            self._scan()
        elif not self.listens:
            idle = min(_SLOW_IDLE_MS, wait // 1000)
        n = link.receive(idle)
        if n:
            self.take(link.at.message, n)
        elif wait >= _LAST_US and self.listens and self.running:
            self.scan.listen(_LISTEN_US)

    @micropython.native
    def _look_after(self) -> None:
        """What need not be seen to in every turn: watchdog, radio, rows, button."""
        now = self.clock.now()
        self.watchdog.feed()
        if self.link.turn() and self.running:
            self.stop()
        if not (self.running or self.rows.proven) and self.clock.tenths - self._tried >= _RETRY:
            self.prove_rows()
        if self.listens:
            self.strike.calm(now)
        if self.brisk:
            n = self.link.by_air()
            if n:
                self.take(self.link.at.message, n)
        button = self.signals.turn(now)
        if not self.running:
            if self.idle:
                self.idle.turn(self)
            elif self.clock.tenths >= _ALONE_FROM:
                kinds.measure(self)
                self.idle = kinds.idle(self.asked)
        elif button and self.idle and self.idle.solo is not None:
            self.idle.solo.press(button == signals.HELD)
        if button:
            self.event(_EVENT_HELD if button == signals.HELD else _EVENT_BUTTON, "")

    @micropython.native
    def _scan(self) -> None:
        numbers = self.tally
        scan = self.scan
        frame = self.frame
        values = self.values
        listens = self.listens
        start = scan.frame(numbers, values, listens)
        due = numbers[tally.DUE]
        numbers[tally.DUE] = time.ticks_add(due, tally.started(numbers, time.ticks_diff(start, due)))
        flags = self.pace.halvings * pace.FLAG_SLOWED
        if scan.ceiling:
            flags |= wire.FLAG_CEILING
        peak = offset = 0
        if listens and scan.hear(start):
            flags |= wire.FLAG_STRIKE
            peak = self.strike.peak << (self.bits - 12)
            offset = self.strike.offset_us
        sent = False
        before = numbers[tally.FLAGS]
        if tally.head(numbers, frame.message, scan.t, values, frame.cells, flags, peak, offset):
            frame.fill(values)
            sent = self.link.send_frame(frame.message)
            if not sent:
                tally.unsent(numbers, before)
        if peak and sent:
            frame.strike(self.link, peak, offset)
        elif peak:
            self.strike.keep(start)
        if self.pace.rate_hz:
            self._keep_pace(not sent)

    def _keep_pace(self, skipped: bool) -> None:
        change = self.pace.note(skipped)
        if change:
            period = self.tally[tally.PERIOD]
            self.tally[tally.PERIOD] = period * 2 if change > 0 else period // 2
            self.listens = self.pace.rate_hz >= _STRIKES_FROM_HZ
            self.strike.clear()
            self.event(_EVENT_RATE, self.pace.sentence(change))

    @micropython.native
    def take(self, buf: bytearray, n: int) -> None:
        kind = buf[0] & 15
        if kind == wire.ACK:
            if n == 8 and buf[0] >> 4 == wire.VERSION:
                self.link.ack(wire.u16(buf, 1), buf[3])
        elif kind == wire.REQUEST and n >= 7:
            self.asked = self.clock.tenths
            if self.idle:
                self.idle.asked(self)
            command, status, reply = requests.answer(self, buf, n)
            self.link.at.send(reply, command == requests.HELLO)
            if status == 0:
                self._after(command)

    def _after(self, command: int) -> None:
        if command == requests.PROMPT:
            self.ended = True
        elif command == requests.HELLO:
            # At power-up nobody listens yet.
            for code, text in ((_EVENT_SETTINGS, self._notice), (_EVENT_FAULT, self._fault)):
                if text:
                    self.event(code, text)
            self._notice = self._fault = ""
