// The board for tests: a line of JSON says what to do, a line of JSON answers. Time goes on only when it is told to.
import fs from 'node:fs';
import readline from 'node:readline';
import { Circuit, COLUMNS, drive, PIN, ROWS } from './circuit.mjs';
import { Pico } from './pico.mjs';

const [image, bootrom] = process.argv.slice(2);
const circuit = new Circuit();
const HEART_US = 1000; // a board that sleeps without an alarm still has a next moment
let board, miss = 60, received = [], zeros = 0, changed = {}, log = null, rowsHigh = 0, twoHigh = 0, high = new Set(), sound = [];
const BUZZER = 2; // the PWM slice of GPIO 20, its channel A

function power(left) {
  board = new Pico({ image, bootrom, miss, left });
  const { mcu } = board;
  changed = { row: 0, address: 0 };
  high = new Set();
  board.received = (bytes) => {
    received.push([board.us, Buffer.from(bytes).toString('hex')]);
    for (const byte of bytes) if (!byte) zeros++;
  };
  board.read = (input) => reading(input);
  for (const pin of mcu.gpio) pin.addListener(() => pinMoved(pin));
  const sio = mcu.sio, read = sio.readUint32.bind(sio);
  sio.readUint32 = (offset) => (offset === 4 ? inputs() : read(offset));
  mcu.gpio[PIN.button].setInputValue(!circuit.is.buttonDown);
  mcu.gpio[PIN.edge].setInputValue(true);
  const slice = mcu.pwm.channels[BUZZER], write = slice.writeRegister.bind(slice);
  slice.writeRegister = (offset, value) => {
    write(offset, value);
    const on = slice.csr & 1 ? (slice.cc & 0xffff) / (slice.top + 1) : 0;
    sound.push([board.us, Math.round(125e6 / (slice.div / 16) / (slice.top + 1)), on]);
  };
  sound = [];
  const heart = board.clock.createAlarm(() => heart.schedule(HEART_US * 1000));
  heart.schedule(HEART_US * 1000);
  circuit.piezo = null;
  circuit.volt = circuit.target = circuit.from = 0;
  circuit.columns = circuit.lines = null;
}

function pinMoved(pin) {
  const { mcu, us } = board;
  if (pin.index < ROWS || pin.index === PIN.ref) changed.row = us;
  else if (PIN.address.includes(pin.index)) changed.address = us;
  circuit.moved(mcu, us);
  if (pin.index >= ROWS) return;
  if (drive(pin) !== 'H') { high.delete(pin.index); return; }
  high.add(pin.index);
  rowsHigh++;
  if (high.size > 1) twoHigh++;
}

function inputs() { // GPIO_IN: rows as the circuit has them
  let word = 0;
  for (const pin of board.mcu.gpio) {
    const level = pin.index < ROWS ? circuit.level(board.mcu, pin.index)
      : pin.outputEnable ? pin.outputValue : pin.rawInputValue;
    if (level && pin.inputEnable) word |= 1 << pin.index;
  }
  return word >>> 0;
}

function reading(input) {
  const { mcu, us } = board;
  circuit.moved(mcu, us);
  const code = circuit.code(input === 0 ? circuit.volt : input === 1 ? circuit.strikeVolts(us) : 0);
  if (log) {
    const row = high.size ? Math.min(...high) : -1;
    log.push([us, input, circuit.address(mcu), row, code, us - changed.row, us - changed.address]);
  }
  return code;
}

function strike(given) {
  circuit.piezo = { lasts: 20000, decay: 3000, hz: 3000, volts: 2, sign: 1, ...given };
  if (given.edge === false) return;
  const pin = board.mcu.gpio[PIN.edge];
  for (const [at, level] of circuit.strikeEdges()) {
    board.clock.createAlarm(() => pin.setInputValue(level)).schedule((at - board.us) * 1000);
  }
}

function run({ us, until_zeros, until_connected }) {
  const enough = until_zeros ? zeros + until_zeros : Infinity;
  const met = board.run(us, () => zeros >= enough || (until_connected && board.connected));
  const ended = board.ended && { us: board.us, reason: board.ended.reason };
  if (board.ended) power(board.ended);
  return { met, us: board.us, received: received.splice(0), connected: board.connected, restarted: ended };
}

const DO = {
  power({ flash, keep, flash_cache_miss = 60, watchdog, alone = false }) {
    const before = board;
    miss = flash_cache_miss;
    received = [];
    const nothing = { reason: 0, scratch: new Uint32Array(8), ...watchdog };
    power(flash ? { ...nothing, flash: fs.readFileSync(flash) } : keep ? { ...nothing, flash: before.mcu.flash } : null);
    circuit.moved(board.mcu, 0);
    if (alone) board.unplugged();
  },
  plug: () => board.plugged(),
  circuit: ({ set }) => { circuit.set(set); if (board) circuit.moved(board.mcu, board.us); },
  button: ({ down }) => { circuit.is.buttonDown = down; if (board) board.mcu.gpio[PIN.button].setInputValue(!down); },
  send: ({ hex }) => { board.toBoard.push(...Buffer.from(hex, 'hex')); },
  reads: ({ on }) => board.hostTakes(on),
  strike: ({ given }) => strike(given),
  log: ({ on }) => { const was = log; log = on ? [] : null; return { log: was ?? [] }; },
  sound: () => ({ sound: sound.splice(0) }),
  run,
  state: () => ({
    us: board.us, busy: board.busy, misses: board.misses, conversions: board.conversions, rows_high: rowsHigh, two_high: twoHigh,
    pins: board.mcu.gpio.map(drive).join(''), connected: board.connected, dog: board.dog.timer.enable, scratch: [...board.dog.scratchData],
  }),
  save: ({ file }) => fs.writeFileSync(file, board.mcu.flash.subarray(0, 2 << 20)),
  quit: () => process.exit(0),
};

for await (const line of readline.createInterface({ input: process.stdin, terminal: false })) {
  let answer;
  try {
    const said = JSON.parse(line);
    answer = DO[said.do](said) ?? {};
  } catch (error) {
    answer = { error: String(error.stack ?? error) };
  }
  process.stdout.write(JSON.stringify(answer) + '\n');
}
