// What hangs on the pins of the emulated board: I2C registers, 1-Wire
// thermometers, flow meters, and the PIO's clock. Each keeps its state while the board has no power.

const I2C_TX_EMPTY = 1 << 4; // IC_RAW_INTR_STAT, RP2040 data sheet section 4.3.17
const US = 1000; // ns
const PIO_IDLE_NS = 100 * US; // how long a machine may take to notice that it was switched on
const PIO_LEAST_NS = 5 * US; // faster machines step several times at once

// Devices made of 16-bit registers, high byte first; a write sets the pointer.
export class I2cDevices {
  constructor() {
    this.devices = new Map(); // "bus:address" -> device
  }

  set(bus, address, registers) {
    const key = `${bus}:${address}`;
    if (registers === null) {
      this.devices.delete(key);
      return;
    }
    const device = this.devices.get(key) ?? { registers: {}, written: [], low: false, reads: 0 };
    Object.assign(device.registers, registers);
    this.devices.set(key, device);
  }

  get(bus, address) {
    const device = this.devices.get(`${bus}:${address}`);
    return { registers: device?.registers ?? {}, reads: device?.reads ?? 0 };
  }

  attach(mcu) {
    mcu.i2c.forEach((bus, number) => {
      let device = null;
      bus.onConnect = (address) => {
        device = this.devices.get(`${number}:${address}`) ?? null;
        if (device) Object.assign(device, { written: [], low: false });
        bus.completeConnect(device !== null);
        // A refusal empties the queue of commands: the emulator forgets to say so,
        // and the driver would wait for its whole timeout.
        if (!device) bus.setInterrupts(I2C_TX_EMPTY);
      };
      bus.onWriteByte = (byte) => {
        device.written.push(byte);
        const [pointer, high, low] = device.written;
        device.pointer = pointer;
        if (device.written.length === 3) device.registers[pointer] = (high << 8) | low;
        bus.completeWrite(true);
      };
      bus.onReadByte = () => {
        const word = device.registers[device.pointer] ?? 0xffff;
        const byte = device.low ? word & 0xff : word >> 8;
        device.low = !device.low;
        device.reads += 1;
        bus.completeRead(byte);
      };
    });
  }
}

// Open-collector meters: square waves, low half of the time.
export class Meters {
  // drive: sets the level of a pin from outside.
  constructor(drive) {
    this.drive = drive;
    this.meters = new Map(); // pin -> {hz, level, rises}
  }

  set(pin, hz) {
    const meter = this.meters.get(pin) ?? { hz: 0, level: true, rises: 0, alarm: null };
    meter.hz = hz;
    this.meters.set(pin, meter);
    if (this.clock) this.begin(pin, meter);
  }

  rises(pin) {
    return this.meters.get(pin)?.rises ?? 0;
  }

  attach(mcu) {
    this.clock = mcu.clock;
    for (const [pin, meter] of this.meters) {
      meter.alarm = null;
      this.begin(pin, meter);
    }
  }

  begin(pin, meter) {
    meter.alarm ??= this.clock.createAlarm(() => this.turn(pin, meter));
    if (meter.hz > 0) meter.alarm.schedule(5e8 / meter.hz);
    else meter.alarm.cancel();
  }

  turn(pin, meter) {
    meter.level = !meter.level;
    if (meter.level) meter.rises += 1;
    this.drive(pin, meter.level);
    if (meter.hz > 0) meter.alarm.schedule(5e8 / meter.hz);
  }
}

// The emulator steps its PIO by the host's timers, whatever the board's time is:
// here each state machine follows the board's clock and its own divider.
export function clockPio(mcu) {
  for (const pio of mcu.pio) {
    pio.run = () => {};
    for (const machine of pio.machines) {
      const alarm = mcu.clock.createAlarm(() => advance(mcu, pio, machine, alarm));
      alarm.schedule(PIO_IDLE_NS);
    }
  }
}

function advance(mcu, pio, machine, alarm) {
  if (!machine.enabled) {
    alarm.schedule(PIO_IDLE_NS);
    return;
  }
  const stepNs = ((machine.clockDivInt || 65536) + machine.clockDivFrac / 256) * (1e9 / mcu.clkSys);
  const steps = Math.max(1, Math.round(PIO_LEAST_NS / stepNs));
  for (let i = 0; i < steps; i++) machine.step();
  pio.checkChangedPins();
  alarm.schedule(steps * stepNs);
}

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
