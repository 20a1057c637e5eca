// What hangs on the pins of the emulated board: I2C registers, flow meters, a valve,
// the other end of the UARTs; and the clock of the PIO. Devices keep their state
// while the board has no power. 1-Wire is in onewire.mjs.

const I2C_TX_EMPTY = 1 << 4; // IC_RAW_INTR_STAT, RP2040 data sheet section 4.3.17
// Of a start, of a byte with its acknowledgement, of a stop: UM10204, section 3.1.
const START_BITS = 1;
const BYTE_BITS = 9;
const STOP_BITS = 1;
const US = 1000; // ns
const PIO_IDLE_NS = 100 * US; // how long a machine may take to notice that it was switched on
const PIO_LEAST_NS = 20 * US; // faster machines step several times at once

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
    mcu.i2c.forEach((bus, number) => new I2cWire(mcu, bus, number, this.devices));
  }
}

// One bus. The emulator's own is done at once: here each step takes its bits.
class I2cWire {
  constructor(mcu, bus, number, devices) {
    this.mcu = mcu;
    this.bus = bus;
    this.step = null; // what is done when the bits have passed
    this.alarm = mcu.clock.createAlarm(() => this.step());
    let device = null;
    bus.onStart = () => this.after(START_BITS, () => bus.completeStart());
    bus.onConnect = (address) => {
      device = devices.get(`${number}:${address}`) ?? null;
      if (device) Object.assign(device, { written: [], low: false });
      this.after(BYTE_BITS, () => this.connected(device !== null));
    };
    bus.onWriteByte = (byte) => {
      device.written.push(byte);
      const [pointer, high, low] = device.written;
      device.pointer = pointer;
      if (device.written.length === 3) device.registers[pointer] = (high << 8) | low;
      this.after(BYTE_BITS, () => this.written());
    };
    bus.onReadByte = () => {
      const word = device.registers[device.pointer] ?? 0xffff;
      const byte = device.low ? word & 0xff : word >> 8;
      device.low = !device.low;
      device.reads += 1;
      this.after(BYTE_BITS, () => bus.completeRead(byte));
    };
    bus.onStop = () => this.after(STOP_BITS, () => bus.completeStop());
  }

  after(bits, step) {
    const { sclHighPeriod, sclLowPeriod } = this.bus;
    this.step = step;
    this.alarm.schedule((bits * (sclHighPeriod + sclLowPeriod) * 1e9) / this.mcu.clkSys);
  }

  connected(answers) {
    const { bus } = this;
    bus.completeConnect(answers);
    // A refusal empties the queue of commands: the emulator forgets to say so,
    // and the driver would wait for its whole timeout.
    if (!answers) bus.setInterrupts(I2C_TX_EMPTY);
  }

  // The queue counts as empty once its last byte has left (IC_CON, TX_EMPTY_CTRL).
  written() {
    this.bus.completeWrite(true);
    if (this.bus.txFIFO.empty) this.bus.setInterrupts(I2C_TX_EMPTY);
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

// A valve on a motor of two wires, which runs while one of them is high, and its sensor.
export class MotorValve {
  // wires: {opens, shuts, channel}, two pins and a converter channel; travel_ms; ends: what
  // the converter reads [shut, open]. adc: what each channel reads.
  constructor({ wires, travel_ms: travelMs, ends }, adc, nowMs) {
    Object.assign(this, { wires, travelMs, ends, adc, nowMs });
    this.at = 0; // 0 shut, 1 open
    this.sense = 0; // of the motor: 1 opens
    this.movedMs = nowMs();
    this.move();
  }

  attach(mcu) {
    const read = mcu.adc.onADCRead;
    mcu.adc.onADCRead = (channel) => {
      this.move();
      read(channel);
    };
  }

  drive(pin, isHigh) {
    const { opens, shuts } = this.wires;
    if (pin !== opens && pin !== shuts) return;
    this.move();
    this.sense = isHigh ? (pin === opens ? 1 : -1) : 0;
  }

  move() {
    const nowMs = this.nowMs();
    this.at += (this.sense * (nowMs - this.movedMs)) / this.travelMs;
    this.at = Math.min(1, Math.max(0, this.at));
    this.movedMs = nowMs;
    const [shut, open] = this.ends;
    this.adc[this.wires.channel] = Math.round(shut + (open - shut) * this.at);
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

const TX_FULL = 1 << 5; // UARTFR, RP2040 data sheet section 4.2.8
const TX_EMPTY = 1 << 7;
const RX_EMPTY = 1 << 4;
const RX_FULL = 1 << 6;
const BUSY = 1 << 3;
const TX_INTERRUPT = 1 << 5; // UARTRIS
const FIFO_BYTES = 32;
const TX_TRIGGER = 4; // an eighth full: where the interrupt to send more comes

// The other end of a UART. The emulator's own transmitter is always empty and
// says so without end: this one takes the time of its bits.
export class UartLine {
  constructor() {
    this.sent = []; // [ms, byte] of what the board sent, in whole bytes
    this.coming = []; // bytes that travel to the board
  }

  attach(mcu, number, nowMs) {
    const uart = mcu.uart[number];
    this.uart = uart;
    this.nowMs = nowMs;
    this.queue = [];
    this.coming = [];
    this.txAlarm = mcu.clock.createAlarm(() => this.byteLeft());
    this.rxAlarm = mcu.clock.createAlarm(() => this.byteCame());
    uart.checkInterrupts = () =>
      mcu.setInterrupt(uart.irq, !!(uart.interruptStatus & uart.interruptMask));
    Object.defineProperty(uart, "flags", { get: () => this.flags() });
    uart.onByte = (byte) => {
      this.queue.push(byte);
      if (this.queue.length === 1) this.txAlarm.schedule(this.byteNs());
    };
  }

  byteNs() {
    return ((this.uart.wordLength + 2) * 1e9) / this.uart.baudRate; // with start and stop bit
  }

  flags() {
    const { rxFIFO } = this.uart;
    const sending = this.queue.length;
    return (
      (rxFIFO.full ? RX_FULL : 0) |
      (rxFIFO.empty ? RX_EMPTY : 0) |
      (sending ? BUSY : TX_EMPTY) |
      (sending >= FIFO_BYTES ? TX_FULL : 0)
    );
  }

  byteLeft() {
    this.sent.push([this.nowMs(), this.queue.shift()]);
    if (this.queue.length) this.txAlarm.schedule(this.byteNs());
    if (this.queue.length === TX_TRIGGER || this.queue.length === 0) {
      this.uart.interruptStatus |= TX_INTERRUPT;
      this.uart.checkInterrupts();
    }
  }

  send(bytes) {
    const idle = this.coming.length === 0;
    for (const byte of bytes) this.coming.push(byte);
    if (idle && this.uart) this.rxAlarm.schedule(this.byteNs());
  }

  byteCame() {
    const byte = this.coming.shift();
    if (this.uart.enabled && !this.uart.rxFIFO.full) this.uart.feedByte(byte);
    if (this.coming.length) this.rxAlarm.schedule(this.byteNs());
  }
}
