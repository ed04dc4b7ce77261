// A Raspberry Pi Pico in rp2040js: what that emulator lacks, the flash's cache, power and the watchdog's restart.
import fs from 'node:fs';
import { ConsoleLogger, LogLevel, Simulator, USBCDC } from 'rp2040js';

const FLASH = 0x10000000;
const UF2_MAGIC = 0x0a324655, UF2_HAS_FAMILY = 0x2000, RP2040_FAMILY = 0xe48bff56;
const PACKET = 64; // bytes of a full-speed bulk packet
export const CACHE = { lines: 2048, ways: 2 }; // 16 KiB in lines of 8 bytes

const LOUD = console.warn, said = new Set();
console.warn = (...words) => { // rp2040js repeats a warning at each access
  const line = words.join(' ');
  if (!said.has(line)) { said.add(line); if (process.env.CHIP_LOUD) LOUD(line); }
};

/** Puts a UF2 or a plain image of the flash into an array. */
export function intoFlash(flash, file) {
  const data = fs.readFileSync(file);
  if (data.readUInt32LE(0) !== UF2_MAGIC) { flash.set(data); return; }
  for (let at = 0; at + 512 <= data.length; at += 512) {
    const foreign = data.readUInt32LE(at + 8) & UF2_HAS_FAMILY && data.readUInt32LE(at + 28) !== RP2040_FAMILY;
    const size = data.readUInt32LE(at + 16);
    if (!foreign) flash.set(data.subarray(at + 32, at + 32 + size), data.readUInt32LE(at + 12) - FLASH);
  }
}

export class Pico {
  /** miss: cycles that a miss of the flash's cache costs; 0 has no cache at all. left: flash and watchdog of before. */
  constructor({ image, bootrom, miss = 60, left = null }) {
    const simulator = new Simulator(); // for its chip and clock; its own loop knows no other clock than 125 MHz
    this.clock = simulator.clock;
    this.mcu = simulator.rp2040;
    this.mcu.logger = new ConsoleLogger(LogLevel.Error);
    this.mcu.loadBootrom(new Uint32Array(new Uint8Array(fs.readFileSync(bootrom)).buffer));
    intoFlash(this.mcu.flash, image);
    this.ended = null; // why it stopped: { reason, scratch, us } of the watchdog
    this.stalled = 0;
    this.misses = 0;
    this.busy = 0; // cycles that were not slept
    this.flashRoutines();
    this.converter();
    this.usb();
    this.watchdog(left);
    if (left) this.mcu.flash.set(left.flash);
    if (miss) this.cache(miss);
    this.mcu.core.PC = FLASH; // the second stage; the ROM's own reading of the flash chip is not emulated
  }

  get us() { return this.clock.nanos / 1000; }

  /** The ROM's routines for the flash drive a controller that rp2040js only hints at: done here on the array. */
  flashRoutines() {
    const { mcu } = this, rom = mcu.bootrom, registers = mcu.core.registers;
    const half = (at) => (rom[at >> 2] >>> ((at & 2) * 8)) & 0xffff;
    const routine = (name) => {
      for (let at = half(0x14); half(at); at += 4) {
        if (half(at) === (name.charCodeAt(0) | (name.charCodeAt(1) << 8))) return half(at + 2) & ~1;
      }
      throw new Error(`the boot ROM has no routine ${name}`);
    };
    this.routines = new Map();
    for (const name of ['IF', 'EX', 'FC']) this.routines.set(routine(name), () => {});
    this.routines.set(routine('RE'), () => mcu.flash.fill(0xff, registers[0], registers[0] + registers[1]));
    this.routines.set(routine('RP'), () => {
      for (let i = 0; i < registers[2]; i++) mcu.flash[registers[0] + i] &= mcu.readUint8(registers[1] + i);
    });
  }

  /** rp2040js keeps START_ONCE set and takes FIFO's threshold 0 for a request; and asks nobody for a reading. */
  converter() {
    const { adc } = this.mcu;
    this.read = () => 0; // (input) -> 12 bits
    this.conversions = 0;
    let value = 0;
    const over = this.clock.createAlarm(() => adc.completeADCRead(value, false));
    adc.startADCRead = function () {
      this.busy = true;
      this.cs &= ~(1 << 2);
      this.onADCRead((this.cs >> 12) & 7);
    };
    adc.onADCRead = (input) => { // the sample is taken at its start, as by the chip's sample-and-hold
      value = this.read(input);
      this.conversions++;
      over.schedule(2000); // 96 cycles of 48 MHz
    };
  }

  usb() {
    const { usbCtrl } = this.mcu;
    this.connected = false;
    this.cdc = new USBCDC(usbCtrl);
    this.toBoard = [];
    this.hostReads = true;
    this.received = () => {};
    this.cdc.onDeviceConnected = () => { this.slowIn(); this.connected = true; };
    this.cdc.onSerialData = (bytes) => this.received(bytes);
    // To the board: a host with nothing to say sends no packet; rp2040js would send empty ones without end.
    this.waiting = null;
    usbCtrl.onEndpointRead = (endpoint) => {
      if (endpoint === this.cdc.outEndpoint) { this.waiting = endpoint; this.feed(); }
    };
    // From the board: the buffer is free once the host has taken the packet.
    const free = usbCtrl.indicateBufferReady.bind(usbCtrl), take = usbCtrl.onEndpointWrite;
    const isIn = (endpoint) => endpoint > 0 && endpoint === this.cdc.inEndpoint;
    this.untaken = [];
    usbCtrl.writeDelayMicroseconds = 10;
    usbCtrl.indicateBufferReady = (endpoint, out) => { if (out || !isIn(endpoint)) free(endpoint, out); };
    usbCtrl.onEndpointWrite = (endpoint, bytes) => {
      const over = () => { take(endpoint, bytes); if (isIn(endpoint)) free(endpoint, false); };
      if (isIn(endpoint) && !this.hostReads) this.untaken.push(over); else over();
    };
  }

  /** Power without a computer: nobody answers at the cable until it is plugged in. */
  unplugged() {
    const { usbCtrl } = this.mcu, found = usbCtrl.onUSBEnabled;
    usbCtrl.onUSBEnabled = () => {};
    this.plugged = () => found();
  }

  /** A packet takes 50 us: 64 bytes at 12 Mbit/s and the token before it. */
  slowIn() {
    const alarm = this.mcu.usbCtrl.endpointWriteAlarms[this.cdc.inEndpoint];
    const schedule = alarm.schedule.bind(alarm);
    alarm.schedule = (bytes) => schedule(bytes, 50000);
  }

  hostTakes(on) {
    this.hostReads = on;
    if (on) for (const over of this.untaken.splice(0)) over();
  }

  feed() {
    if (this.waiting === null || !this.toBoard.length) return;
    const endpoint = this.waiting;
    this.waiting = null;
    this.mcu.usbCtrl.endpointReadDone(endpoint, Uint8Array.from(this.toBoard.splice(0, PACKET)));
  }

  watchdog(left) {
    const dog = this.mcu.peripherals[0x40058];
    if (left) { dog.reason = left.reason; dog.scratchData.set(left.scratch); }
    dog.onWatchdogTrigger = () => {
      dog.timer.enable = dog.alarm.enable = false;
      this.ended = { reason: dog.reason, scratch: Uint32Array.from(dog.scratchData), flash: this.mcu.flash, us: this.us };
    };
    this.dog = dog;
  }

  /** 16 KiB in two ways of 8-byte lines, the older one is replaced; a miss stalls the processor. */
  cache(miss) {
    const { mcu } = this, tags = new Int32Array(CACHE.lines).fill(-1), sets = CACHE.lines / CACHE.ways;
    for (const name of ['readUint32', 'readUint16', 'readUint8']) {
      const read = mcu[name].bind(mcu);
      mcu[name] = (address) => {
        if (address >>> 24 === 0x10) {
          const line = (address & 0xffffff) >>> 3, set = (line & (sets - 1)) * 2;
          if (tags[set] !== line) {
            if (tags[set + 1] !== line) { this.misses++; this.stalled += miss; }
            tags[set + 1] = tags[set];
            tags[set] = line;
          }
        }
        return read(address);
      };
    }
  }

  /** Runs until `until` is true, looked at every 64 instructions, or so long. True: it was. */
  run(us, until = () => false) {
    const { mcu, clock } = this, { core } = mcu, end = clock.nanos + us * 1000;
    let turn = 0;
    while (!this.ended) {
      if ((turn++ & 63) === 0) {
        if (until()) return true;
        if (clock.nanos >= end) return false;
        this.feed();
      }
      if (core.waiting) {
        const next = clock.nextAlarm ? clock.nanosToNextAlarm : end - clock.nanos;
        clock.tick(Math.max(0, Math.min(next, end - clock.nanos)));
        turn = 0;
        continue;
      }
      if (core.PC < 0x4000) {
        const routine = this.routines.get(core.PC & ~1);
        if (routine) { routine(); core.PC = core.LR & ~1; clock.tick(1000); continue; }
      }
      const cycles = core.executeInstruction() + this.stalled;
      this.stalled = 0;
      this.busy += cycles;
      clock.tick((cycles * 1e9) / mcu.clkSys);
    }
    return until();
  }
}
