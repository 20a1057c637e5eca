// A 1-Wire line with thermometers of the DS18B20 type, by the edges of its slots.

const US = 1000; // ns

// Times of the DS18B20's data sheet, "1-Wire signaling" (from memory).
const RESET_LEAST_NS = 300 * US; // the master gives 480 us or more
const ONE_MOST_NS = 15 * US; // a low slot this short writes a 1
const PRESENCE_AFTER_NS = 30 * US;
const PRESENCE_NS = 120 * US;
const ZERO_NS = 30 * US; // how long a 0 is held in a read slot
const CONVERSION_NS = 750e6;
const SEARCH = 0xf0;
const READ_ROM = 0x33;
const MATCH_ROM = 0x55;
const SKIP_ROM = 0xcc;
const CONVERT = 0x44;
const READ_SCRATCHPAD = 0xbe;
const POWER_ON_RAW = 0x0550; // 85 degC

// CRC-8 of the family: x^8 + x^5 + x^4 + 1, reflected.
function crc8(bytes) {
  let crc = 0;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >> 1) ^ 0x8c : crc >> 1;
  }
  return crc;
}

const bitsOf = (bytes) => bytes.flatMap((byte) => [0, 1, 2, 3, 4, 5, 6, 7].map((i) => (byte >> i) & 1));

// One thermometer: after a reset it takes a ROM command, then a function.
class Thermometer {
  constructor(serial) {
    const body = [0x28, ...serial];
    this.rom = [...body, crc8(body)];
    this.raw = 0; // temperature now [1/16 K]
    this.broken = false; // true: its checksum is wrong
    this.powerOn();
  }

  powerOn() {
    this.latched = POWER_ON_RAW;
    this.busyUntil = 0;
    this.quiet();
  }

  // Deaf until the next reset.
  quiet() {
    this.out = []; // bits to be read by the master
    this.taken = []; // bits written by the master
    this.hears = null; // what to do with a bit written
  }

  reset() {
    this.quiet();
    this.hears = () => this.command((code) => this.romCommand(code));
  }

  command(act) {
    if (this.taken.length < 8) return;
    const code = this.taken.reduce((sum, bit, place) => sum | (bit << place), 0);
    this.taken = [];
    act(code);
  }

  romCommand(code) {
    this.hears = null;
    if (code === SKIP_ROM) this.selected();
    else if (code === READ_ROM) this.out = bitsOf(this.rom);
    else if (code === MATCH_ROM) this.hears = () => this.match();
    else if (code === SEARCH) this.offer(0);
  }

  match() {
    if (this.taken.length < 64) return;
    const same = bitsOf(this.rom).every((bit, place) => bit === this.taken[place]);
    if (same) this.selected();
    else this.quiet();
  }

  // A search: each bit, its complement, then the way that the master goes.
  offer(place) {
    if (place === 64) {
      this.selected();
      return;
    }
    const bit = bitsOf(this.rom)[place];
    this.taken = [];
    this.out = [bit, 1 - bit];
    this.hears = () => (this.taken[0] === bit ? this.offer(place + 1) : this.quiet());
  }

  selected() {
    this.taken = [];
    this.hears = () => this.command((code) => this.act(code));
  }

  act(code) {
    this.hears = null;
    if (code === CONVERT) {
      this.latched = this.raw & 0xffff;
      this.busyUntil = this.nowNs + CONVERSION_NS;
    } else if (code === READ_SCRATCHPAD) {
      const pad = [this.latched & 0xff, this.latched >> 8, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10];
      this.out = bitsOf([...pad, crc8(pad) ^ (this.broken ? 1 : 0)]);
    }
  }

  // A slot begins; returns whether the line is held low.
  fall(nowNs) {
    this.nowNs = nowNs;
    this.reading = this.out.length > 0;
    if (this.reading) return this.out.shift() === 0;
    return nowNs < this.busyUntil && this.hears === null;
  }

  // A slot ends that wrote a bit, unless it was for reading.
  rise(bit, nowNs) {
    this.nowNs = nowNs;
    if (this.reading || this.hears === null) return;
    this.taken.push(bit);
    this.hears();
  }
}

// All thermometers on one pin.
export class OneWire {
  // pull: holds the line low, or lets it go.
  constructor(pull) {
    this.pull = pull;
    this.thermometers = new Map(); // serial in hex -> Thermometer
    this.isLow = false; // what the master does
  }

  set(serial, raw, broken) {
    if (raw === null) {
      this.thermometers.delete(serial);
      return;
    }
    if (!this.thermometers.has(serial)) {
      this.thermometers.set(serial, new Thermometer([...Buffer.from(serial, "hex")]));
    }
    Object.assign(this.thermometers.get(serial), { raw, broken });
  }

  attach(mcu) {
    this.clock = mcu.clock;
    this.isLow = false;
    this.letGo = mcu.clock.createAlarm(() => this.pull(false));
    this.presence = mcu.clock.createAlarm(() => this.hold(PRESENCE_NS));
    this.pull(false);
  }

  powerOn() {
    for (const one of this.thermometers.values()) one.powerOn();
  }

  hold(ns) {
    this.pull(true);
    this.letGo.schedule(ns);
  }

  // isLow: whether the master pulls the line low now.
  master(isLow) {
    if (isLow === this.isLow) return;
    this.isLow = isLow;
    const now = this.clock.nanos;
    const all = [...this.thermometers.values()];
    if (isLow) {
      this.fell = now;
      // Each must see the slot: no short cut at the first that answers.
      if (all.map((one) => one.fall(now)).some((held) => held)) this.hold(ZERO_NS);
    } else if (now - this.fell >= RESET_LEAST_NS) {
      all.forEach((one) => one.reset());
      if (all.length) this.presence.schedule(PRESENCE_AFTER_NS);
    } else {
      const bit = now - this.fell < ONE_MOST_NS ? 1 : 0;
      all.forEach((one) => one.rise(bit, now));
    }
  }
}
