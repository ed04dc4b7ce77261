// The mat's circuit around the Pico, from hardware/mats/reference.toml and WIRE.md: rows behind 220 ohms, cells, columns
// with their pull-downs, the multiplexer with its known inputs, REF, the piezo. A dense solution for each state of pins.
export const ROWS = 16, COLUMNS = 8;
export const PIN = { ref: 22, address: [16, 17, 18, 19], converter: 26, edge: 28, button: 21 };
const ZERO = 8, SUPPLY = 9, TAP = 10; // inputs of the multiplexer
const LEAK = 1e-9; // siemens that everything has to ground
const EDGE_VOLTS = 0.6;

/** Solves matrix x = right by elimination; both are used up. */
function eliminate(matrix, right) {
  const n = right.length;
  for (let k = 0; k < n; k++) {
    let best = k;
    for (let i = k + 1; i < n; i++) if (Math.abs(matrix[i][k]) > Math.abs(matrix[best][k])) best = i;
    [matrix[k], matrix[best]] = [matrix[best], matrix[k]];
    [right[k], right[best]] = [right[best], right[k]];
    for (let i = k + 1; i < n; i++) {
      const share = matrix[i][k] / matrix[k][k];
      if (!share) continue;
      for (let j = k; j < n; j++) matrix[i][j] -= share * matrix[k][j];
      right[i] -= share * right[k];
    }
  }
  for (let k = n - 1; k >= 0; k--) {
    for (let j = k + 1; j < n; j++) right[k] -= matrix[k][j] * right[j];
    right[k] /= matrix[k][k];
  }
  return right;
}

/** A pin as the circuit sees it: driven high or low, weakly pulled up or down, or free. */
export function drive(pin) {
  if (pin.outputEnable) return pin.outputValue ? 'H' : 'L';
  if (pin.pullupEnabled === pin.pulldownEnabled) return 'z';
  return pin.pullupEnabled ? 'u' : 'd';
}

export class Circuit {
  constructor() {
    this.is = {
      supply: 3.3, reference: 3.27, high: 48, low: 31, series: 220, refOhm: 1000, refHigh: 47, refLow: 29, weak: 52000,
      switch: 120, divider: [10000, 10000], pulldown: new Array(COLUMNS).fill(1000),
      cells: Array.from({ length: ROWS }, () => new Array(COLUMNS).fill(0)), // siemens
      joined: [], // [node, node or 'ground' or 'supply', ohms]; rows are 0 to 15, columns 16 to 23
      multiplexer: true, floats: 0, // volts of the converter's pin without one
      exchanged: null, // two of the address lines
      settle: 0, // time constant of the converter's node, us
      noise: 0, // steps, rms
      film: 0, line: 100e-12, // farads of a cell and of a column's line; with film the columns take their time
      buttonDown: false,
    };
    this.solved = new Map();
    this.piezo = null;
    this.seed = 1;
    this.volt = this.target = this.from = 0;
    this.columns = null; // their volts, where the film is a capacitor
  }

  set(changes) { Object.assign(this.is, changes); this.solved.clear(); }

  address(mcu) {
    let at = 0;
    PIN.address.forEach((pin, k) => { if (drive(mcu.gpio[pin]) === 'H') at |= 1 << k; });
    if (this.is.exchanged) {
      const [i, k] = this.is.exchanged;
      if (((at >> i) ^ (at >> k)) & 1) at ^= (1 << i) | (1 << k);
    }
    return at;
  }

  /** Volts of all nodes: rows, columns, the multiplexer's output. */
  nodes(mcu) {
    let key = drive(mcu.gpio[PIN.ref]) + drive(mcu.gpio[PIN.converter]) + this.address(mcu);
    for (let r = 0; r < ROWS; r++) key += drive(mcu.gpio[r]);
    if (!this.solved.has(key)) this.solved.set(key, this.solve(mcu));
    return this.solved.get(key);
  }

  solve(mcu) {
    const { is } = this, out = ROWS + COLUMNS, n = out + 1;
    const matrix = Array.from({ length: n }, () => new Float64Array(n)), right = new Float64Array(n);
    const tie = (k, volts, ohms) => { matrix[k][k] += 1 / ohms; right[k] += volts / ohms; };
    const link = (i, k, ohms) => {
      matrix[i][i] += 1 / ohms; matrix[k][k] += 1 / ohms; matrix[i][k] -= 1 / ohms; matrix[k][i] -= 1 / ohms;
    };
    const pin = (k, how, series, high, low) => {
      if (how === 'H') tie(k, is.supply, series + high);
      else if (how === 'L') tie(k, 0, series + low);
      else if (how === 'u') tie(k, is.supply, series + is.weak);
      else if (how === 'd') tie(k, 0, series + is.weak);
    };
    for (let k = 0; k < n; k++) tie(k, 0, 1 / LEAK);
    for (let r = 0; r < ROWS; r++) {
      pin(r, drive(mcu.gpio[r]), is.series, is.high, is.low);
      for (let c = 0; c < COLUMNS; c++) if (is.cells[r][c]) link(r, ROWS + c, 1 / is.cells[r][c]);
    }
    pin(0, drive(mcu.gpio[PIN.ref]), is.refOhm, is.refHigh, is.refLow);
    for (let c = 0; c < COLUMNS; c++) tie(ROWS + c, 0, is.pulldown[c]);
    for (const [a, b, ohms] of is.joined) {
      if (b === 'ground') tie(a, 0, ohms); else if (b === 'supply') tie(a, is.supply, ohms); else link(a, b, ohms);
    }
    pin(out, drive(mcu.gpio[PIN.converter]), 0, 0, 0);
    const at = this.address(mcu);
    if (!is.multiplexer) tie(out, is.floats, 1e7);
    else if (at < COLUMNS) link(out, ROWS + at, is.switch);
    else if (at === TAP) link(out, 0, is.switch);
    else if (at === SUPPLY) {
      const [up, down] = is.divider, below = (up * down) / (up + down);
      tie(out, (is.supply * down) / (up + down), below + is.switch);
    } else tie(out, 0, is.switch); // ZERO, and inputs that are not used
    return eliminate(matrix, right);
  }

  /** The converter's node comes to where the circuit puts it with a time constant. */
  moved(mcu, us) {
    if (this.is.film) { this.filmMoved(mcu, us); return; }
    const tau = this.is.settle;
    this.volt = tau ? this.target + (this.volt - this.target) * Math.exp((this.from - us) / tau) : this.target;
    this.from = us;
    this.target = this.nodes(mcu)[ROWS + COLUMNS];
    if (!tau) this.volt = this.target;
  }

  /** A step of the rows goes onto the columns through the film, and from there through their resistors. */
  filmMoved(mcu, us) {
    const { film, line, cells, pulldown } = this.is, was = this.lines ?? new Float64Array(ROWS + COLUMNS + 1);
    const farads = ROWS * film + line;
    this.columns ??= new Float64Array(COLUMNS);
    const now = this.nodes(mcu);
    for (let c = 0; c < COLUMNS; c++) {
      let siemens = 1 / pulldown[c];
      for (let r = 0; r < ROWS; r++) siemens += cells[r][c];
      const left = Math.exp(((this.from - us) * 1e-6 * siemens) / farads);
      this.columns[c] = was[ROWS + c] + (this.columns[c] - was[ROWS + c]) * left;
      for (let r = 0; r < ROWS; r++) this.columns[c] += ((now[r] - was[r]) * film) / farads;
    }
    this.lines = Float64Array.from(now);
    this.from = us;
    const at = this.address(mcu);
    this.volt = this.target = at < COLUMNS ? this.columns[at] : now[ROWS + COLUMNS];
  }

  level(mcu, pin) { // what a row's own input reads
    const how = drive(mcu.gpio[pin]), { is } = this;
    if (how === 'H' || how === 'L') return how === 'H';
    const line = this.nodes(mcu)[pin], share = is.weak / (is.weak + is.series);
    const volts = how === 'z' ? line : how === 'd' ? line * share : is.supply + (line - is.supply) * share;
    return volts > is.supply / 2;
  }

  /** The piezo behind its clamp: a ring that decays, or a push of half a sine. */
  strikeVolts(us) {
    const q = this.piezo, t = q ? us - q.at : -1;
    if (t < 0 || t > q.lasts) return 0;
    const whole = q.hz ? q.volts * Math.exp(-t / q.decay) * Math.sin((2 * Math.PI * q.hz * t) / 1e6) * q.sign
      : q.volts * Math.sin((Math.PI * t) / q.lasts);
    return Math.min(3.4, Math.max(0, whole));
  }

  /** When the transistor at the edge pin starts and stops to conduct: [us, level]. */
  strikeEdges() {
    const out = [];
    let high = true;
    for (let t = 0; t <= this.piezo.lasts + 1; t++) {
      const now = this.strikeVolts(this.piezo.at + t) <= EDGE_VOLTS;
      if (now !== high) { high = now; out.push([this.piezo.at + t, high]); }
    }
    return out;
  }

  random() { // sum of uniform draws: near enough to a normal one
    let sum = -6;
    for (let i = 0; i < 12; i++) {
      this.seed = (Math.imul(this.seed, 1103515245) + 12345) >>> 0;
      sum += this.seed / 2 ** 32;
    }
    return sum;
  }

  code(volts) {
    const steps = (volts / this.is.reference) * 4096 + (this.is.noise ? this.is.noise * this.random() : 0);
    return Math.max(0, Math.min(4095, Math.floor(steps)));
  }
}
