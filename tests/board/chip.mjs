// The emulated RP2040 with its flash chip and what is wired to its pins.
//
// Owns: power, resets, flash contents, levels at the pins, ADC values. What hangs
// on the pins is in wires.mjs, the tests' side in emulator.mjs.
//
// The emulator cannot erase or program its flash. The interpreter's functions
// that do so carry a breakpoint as their first instruction, put there before
// it starts; when it is met, the work is done here and time passes.

import { OneWire } from "./onewire.mjs";
import { SerialPort } from "./serial.mjs";
import { Watches } from "./watch.mjs";
import { clockPio, I2cDevices, Meters, MotorValve, UartLine } from "./wires.mjs";

const RESET_ENTRY = 0x10000000; // the second boot stage, at the start of flash
const WATCHDOG = 0x40058; // key of the watchdog among the emulator's peripherals
const BREAKPOINT_THEN_RETURN = [0x00, 0xbe, 0x70, 0x47]; // bkpt #0; bx lr (ARMv6-M)
const SECTOR = 4096;
const PAGE = 256;
const IDLE_STEP_NS = 1e6; // when nothing is due while the processor waits
const HISTORY_MOST = 20000; // changes kept of one pin
const LEVELS = ["low", "high", "input", "pull-up", "pull-down", "keeper"];

export class Chip {
  // library: the emulator's module. job: see emulator.mjs. tell: takes an event.
  constructor(library, job, bootrom, flash, tell) {
    this.library = library;
    this.job = job;
    this.bootrom = bootrom;
    this.flash = flash; // contents while the power is off
    this.tell = tell;
    this.driven = new Map(); // pin -> level from outside
    this.adc = [0, 0, 0, 0, 0];
    this.i2c = new I2cDevices();
    this.meters = new Meters((pin, level) => this.drive(pin, level));
    this.uarts = [new UartLine(), new UartLine()];
    this.oneWire = new Map(); // pin -> OneWire
    this.valve = null; // a MotorValve
    this.passedNs = 0; // time before the present start
    this.cut = null; // a power cut to come: operations left, fraction of the last
    this.mcu = null; // null: no power
    this.ended = null; // why the present run of the processor must end
    this.watches = new Watches(job.watched, job.heap, () => this.nowNs);
    this.steps = null; // what is done to the flash, in its order, while somebody wants them
    this.clearRecords();
  }

  clearRecords() {
    this.history = Array.from({ length: 30 }, () => []);
    this.counts = { erased: 0, programmed: 0, operations: 0, stalledNs: 0, starts: 0 };
  }

  get nowNs() {
    return this.passedNs + (this.mcu ? this.mcu.clock.nanos : 0);
  }

  get powered() {
    return this.mcu !== null;
  }

  // Switches the power on. kept: what the watchdog block keeps through a reset.
  start(kept = null) {
    const mcu = new this.library.RP2040();
    mcu.logger = new this.library.ConsoleLogger(this.library.LogLevel.Error, false);
    mcu.loadBootrom(this.bootrom); // clears the flash as well
    mcu.flash.set(this.flash);
    for (const at of Object.values(this.job.traps)) {
      mcu.flash.set(BREAKPOINT_THEN_RETURN, at.flash);
    }
    this.watches.attach(mcu);
    mcu.core.PC = RESET_ENTRY;
    mcu.onBreak = () => this.onBreak();
    const watchdog = mcu.peripherals[WATCHDOG];
    watchdog.onWatchdogTrigger = () => {
      this.ended = "watchdog";
      watchdog.timer.enable = false; // else it goes off again and again at this very time
    };
    if (kept) {
      watchdog.scratchData.set(kept.scratch);
      watchdog.reason = kept.reason;
    }
    this.mcu = mcu;
    this.ended = null;
    this.counts.starts += 1;
    clockPio(mcu);
    this.i2c.attach(mcu);
    this.uarts.forEach((line, number) => line.attach(mcu, number, () => this.nowNs / 1e6));
    this.wirePins();
    this.meters.attach(mcu);
    for (const line of this.oneWire.values()) {
      line.attach(mcu);
      if (!kept) line.powerOn();
    }
    mcu.adc.channelValues = this.adc;
    if (this.valve) this.valve.attach(mcu);
    this.port = new SerialPort(this.library, mcu, (bytes) =>
      this.tell({ event: "serial", data: Buffer.from(bytes).toString("hex") }),
    );
  }

  // Takes the power away: everything but the flash is lost.
  stop() {
    if (!this.mcu) return;
    this.passedNs = this.nowNs;
    this.flash = this.contents();
    for (let pin = 0; pin < 30; pin++) this.note(pin, "off");
    this.mcu = null;
    this.port = null;
    this.cut = null;
    this.tell({ event: "off" });
  }

  // Flash contents as the interpreter's maker built them, without breakpoints.
  contents() {
    if (!this.mcu) return this.flash;
    const now = this.mcu.flash.slice(0, this.job.flash_bytes);
    for (const at of Object.values(this.job.traps)) {
      now.set(this.flash.subarray(at.flash, at.flash + BREAKPOINT_THEN_RETURN.length), at.flash);
    }
    this.watches.restore(now);
    return now;
  }

  // Executes until the time given, a reset or a power cut.
  runUntil(endNs) {
    const { mcu } = this;
    const { core, clock } = mcu;
    const nsPerCycle = 1e9 / mcu.clkSys;
    const end = endNs - this.passedNs;
    while (clock.nanos < end && this.ended === null) {
      if (core.waiting) {
        const next = clock.nanosToNextAlarm || IDLE_STEP_NS;
        clock.tick(Math.max(nsPerCycle, Math.min(next, end - clock.nanos)));
      } else {
        clock.tick(core.executeInstruction() * nsPerCycle);
      }
    }
    if (this.ended === "watchdog") this.reset();
    else if (this.ended === "cut") this.stop();
  }

  reset() {
    const { scratchData, reason } = this.mcu.peripherals[WATCHDOG];
    this.passedNs = this.nowNs;
    this.flash = this.contents();
    for (let pin = 0; pin < 30; pin++) this.note(pin, "reset");
    this.tell({ event: "reset" });
    this.start({ scratch: scratchData, reason });
  }

  // ---- flash

  onBreak() {
    const { core } = this.mcu;
    const at = core.PC & ~1;
    if (this.watches.met(at) || this.watches.met(at - 2)) return;
    const { erase, program } = this.job.traps;
    const [first, second, third] = core.registers;
    // The program counter is at the breakpoint or just behind it.
    if (at === erase.address || at === erase.address + 2) {
      this.operate("erased", first, third, second, SECTOR, this.job.sector_ms);
    } else if (at === program.address || at === program.address + 2) {
      this.operate("programmed", first, second, third, PAGE, this.job.page_ms);
    } else {
      this.tell({ event: "fault", text: `breakpoint at ${at.toString(16)}` });
      this.ended = "cut";
    }
  }

  // Erases or programs, unit by unit; time passes, interrupts stay pending.
  operate(kind, offset, source, count, unit, unitMs) {
    this.counts.operations += 1;
    if (this.steps) {
      const bytes = kind === "programmed" ? this.bytesAt(source, count) : "";
      this.steps.push([kind, offset, count, bytes, this.counts.starts]);
    }
    let whole = count;
    if (this.cut && --this.cut.operations === 0) {
      whole = Math.floor(count * this.cut.fraction);
      this.ended = "cut";
    }
    for (let done = 0; done < whole; done += unit) {
      const some = Math.min(unit, whole - done);
      this.change(kind, offset + done, source + done, some, unit);
      this.counts[kind] += 1;
      this.counts.stalledNs += unitMs * 1e6;
      this.mcu.clock.tick(unitMs * 1e6);
    }
  }

  // Memory of the processor, in hexadecimal.
  bytesAt(source, count) {
    const found = Buffer.alloc(count);
    for (let i = 0; i < count; i++) found[i] = this.mcu.readUint8(source + i);
    return found.toString("hex");
  }

  change(kind, offset, source, count, unit) {
    const { flash } = this.mcu;
    if (kind === "programmed") {
      // Programming clears bits and sets none.
      for (let i = 0; i < count; i++) flash[offset + i] &= this.mcu.readUint8(source + i);
    } else if (count === unit) {
      flash.fill(0xff, offset, offset + unit);
    } else {
      // An erase that the power cut broke off: any bit may be set or not.
      let state = 1 + offset + count;
      for (let i = 0; i < unit; i++) {
        state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
        flash[offset + i] |= state >>> 24;
      }
    }
  }

  // ---- pins

  wirePins() {
    for (const pin of this.mcu.gpio) {
      pin.addListener((value) => {
        const line = this.oneWire.get(pin.index);
        if (line) line.master(pin.outputEnable && !pin.outputValue);
        else this.note(pin.index, LEVELS[value]);
        this.settle(pin);
      });
      this.note(pin.index, LEVELS[pin.value]);
      this.settle(pin);
    }
  }

  note(pin, level) {
    const changes = this.history[pin];
    changes.push([this.nowNs / 1e6, level]);
    if (this.valve) this.valve.drive(pin, level === "high");
    if (changes.length > HISTORY_MOST) changes.splice(0, HISTORY_MOST / 2);
  }

  // What the pad itself sees: the chip's output, else the wire, else its resistor.
  settle(pin) {
    let level = pin.rawInputValue;
    if (pin.outputEnable) level = pin.outputValue;
    else if (this.driven.has(pin.index)) level = this.driven.get(pin.index);
    else if (pin.pullupEnabled !== pin.pulldownEnabled) level = pin.pullupEnabled;
    if (level !== pin.rawInputValue) pin.setInputValue(level);
  }

  drive(index, level) {
    if (level === null) this.driven.delete(index);
    else this.driven.set(index, !!level);
    if (this.mcu) this.settle(this.mcu.gpio[index]);
  }

  fitValve(valve) {
    this.valve = new MotorValve(valve, this.adc, () => this.nowNs / 1e6);
    if (this.mcu) this.valve.attach(this.mcu);
  }

  thermometer(index, serial, raw, broken) {
    if (!this.oneWire.has(index)) {
      const line = new OneWire((low) => this.drive(index, !low));
      this.oneWire.set(index, line);
      if (this.mcu) line.attach(this.mcu);
    }
    this.oneWire.get(index).set(serial, raw, broken);
  }

  level(index) {
    return this.mcu ? LEVELS[this.mcu.gpio[index].value] : "off";
  }
}
