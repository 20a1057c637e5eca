// Runs one emulated board for tests/board/rig.py, one JSON object a line.
//
// In: {"id": n, "do": name, ...}, answered by {"id": n, ...} or {"id": n,
// "error": text}. Out besides: {"event": "serial" | "reset" | "off" | "fault"}.
// The job, a JSON file named on the command line: rp2040js (module's path),
// bootrom, flash (paths), flash_bytes, traps ({erase, program}: {address, flash}),
// watched (name -> {address}), heap ({start, end}), sector_ms, page_ms.
//
// Board time never runs ahead of the clock on the wall, except inside "run", and
// falls behind it on a busy machine. Programs on the other end of the serial port
// therefore measure their patience by "clock": board time while the board runs,
// wall time while it does not.

import fs from "node:fs";
import readline from "node:readline";
import { pathToFileURL } from "node:url";

import { Chip } from "./chip.mjs";

const SLICE_NS = 1e6; // board time between two looks at the tests' side
const AHEAD_MOST_NS = 2e6;

const job = JSON.parse(fs.readFileSync(process.argv[2], "utf8"));
const library = await import(pathToFileURL(job.rp2040js).href);
const bootrom = new Uint32Array(new Uint8Array(fs.readFileSync(job.bootrom)).buffer);
const flash = new Uint8Array(fs.readFileSync(job.flash));

const tell = (message) => process.stdout.write(JSON.stringify(message) + "\n");
const chip = new Chip(library, job, bootrom, flash, tell);

let held = true; // true: time stands still except inside "run"
let goal = null; // the "run" under way: {id, endNs, done}
let turning = false;
let base = { wallMs: 0, boardNs: 0 }; // where pacing counts from
let still = { wallMs: performance.now(), passedMs: 0 }; // wall time while board time stood

const commands = {
  on: () => {
    if (!chip.powered) chip.start();
  },
  off: () => chip.stop(),
  // The power goes within the given flash operation from now, 1 = the next.
  cut: ({ operations, fraction }) => {
    chip.cut = operations === null ? null : { operations, fraction };
  },
  hold: () => {
    held = true;
  },
  release: () => {
    held = false;
  },
  serial: ({ data }) => {
    if (chip.port) chip.port.send(Buffer.from(data, "hex"));
  },
  open: ({ yes }) => {
    if (chip.port) chip.port.open(yes);
  },
  drive: ({ pin, level }) => chip.drive(pin, level),
  adc: ({ channel, value }) => {
    chip.adc[channel] = value;
  },
  valve: (valve) => chip.fitValve(valve),
  device: ({ bus, address, registers }) => chip.i2c.set(bus, address, registers),
  registers: ({ bus, address }) => chip.i2c.get(bus, address),
  uartSend: ({ number, data }) => chip.uarts[number].send(Buffer.from(data, "hex")),
  uartSent: ({ number }) => ({ sent: chip.uarts[number].sent.splice(0) }),
  pulses: ({ pin, hz }) => chip.meters.set(pin, hz),
  rises: ({ pin }) => ({ rises: chip.meters.rises(pin) }),
  thermometer: ({ pin, serial, raw, broken }) => chip.thermometer(pin, serial, raw, broken),
  pin: ({ pin }) => ({ level: chip.level(pin) }),
  clock: () => ({ ms: chip.nowNs / 1e6 + still.passedMs }),
  history: ({ pin }) => ({ changes: chip.history[pin] }),
  clear: () => chip.clearRecords(),
  marks: () => ({ marks: chip.watches.marks.splice(0) }),
  heap: () => ({ heap: chip.watches.heap() }),
  state: () => ({
    ms: chip.nowNs / 1e6,
    powered: chip.powered,
    ready: !!chip.port?.ready,
    unsent: chip.port ? chip.port.queue.length : 0,
    ...chip.counts,
  }),
  steps: () => {
    const steps = chip.steps ?? [];
    chip.steps = [];
    return { steps };
  },
  flash: ({ path }) => fs.writeFileSync(path, chip.contents()),
};

// "run": as fast as the emulation goes, until a time or a level is reached.
function beginRun(message) {
  const endNs = chip.nowNs + message.ms * 1e6;
  const reached = () => message.pin !== null && chip.level(message.pin) === message.level;
  goal = { id: message.id, endNs, reached };
}

function endRun() {
  if (!goal) return;
  const reached = goal.reached();
  if (!reached && chip.powered && chip.nowNs < goal.endNs) return;
  tell({ id: goal.id, ms: chip.nowNs / 1e6, reached, powered: chip.powered });
  goal = null;
  restartPacing();
}

function restartPacing() {
  base = { wallMs: performance.now(), boardNs: chip.nowNs };
}

const stands = () => !chip.powered || (held && !goal);

// Called before and after whatever may let board time pass or stop it.
function countStill(stood) {
  const now = performance.now();
  if (stood) still.passedMs += now - still.wallMs;
  still.wallMs = now;
}

function turn() {
  turning = false;
  countStill(false);
  endRun();
  if (stands()) return;
  const sliceEnd = chip.nowNs + SLICE_NS;
  chip.runUntil(goal ? Math.min(sliceEnd, goal.endNs) : sliceEnd);
  endRun();
  wake();
}

function wake() {
  if (turning || stands()) return;
  turning = true;
  const aheadNs = chip.nowNs - base.boardNs - (performance.now() - base.wallMs) * 1e6;
  if (goal || aheadNs < AHEAD_MOST_NS) {
    // What is behind the wall clock is not caught up: the emulation is slower.
    if (aheadNs < 0) restartPacing();
    setImmediate(turn);
  } else {
    setTimeout(turn, aheadNs / 1e6);
  }
}

function obey(line) {
  const message = JSON.parse(line);
  countStill(stands());
  try {
    if (message.do === "run") {
      beginRun(message);
      endRun();
    } else {
      tell({ id: message.id, ...commands[message.do](message) });
    }
    wake();
  } catch (error) {
    tell({ id: message.id, error: String(error.stack ?? error) });
  }
}

readline.createInterface({ input: process.stdin }).on("line", obey).on("close", () => process.exit());
