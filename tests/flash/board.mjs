// The board's interpreter behind a pseudo-terminal: start, prompt, soft reset, reset, power cut.
//
// One process for one start: whoever started it starts the next, from the state
// that this one leaves, as an interpreter that was left in mid-air is of no use.
// Runs boot.py and main.py as a board does and gives its prompt to whoever
// holds the other end of the line. What the WebAssembly build does not do by
// itself is done here: Ctrl-D, raw paste (refused, as a board without it does),
// Ctrl-C in a sleep, the board's error numbers. Files live in memory and stay
// through every reset.
//
// job: JSON file with package, bench (modules that no flash touches), line
// (descriptor of the pseudo-terminal's near end), state (JSON file with files,
// words, raw, waiting, starts; read at the start, written at the end).
// Commands come as lines of JSON on stdin, answers leave on stdout.

import fs from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";

const job = JSON.parse(fs.readFileSync(process.argv[2], "utf8"));

const CTRL_A = 1, CTRL_B = 2, CTRL_C = 3, CTRL_D = 4, CTRL_E = 5;
const NEXT_START = 9; // exit code
const SOFT_RESET = 0x100; // what the prompt returns for Ctrl-D on an empty line
const PYSTACK_WORDS = 4096, HEAP_BYTES = 1 << 22;
const POLL_MS = 1; // between two looks at line and commands

// The build's WASI error numbers -> those of the board, as in tests/micropython/run.mjs.
const BOARD_ERRNO = { 2: 13, 8: 9, 10: 16, 20: 17, 28: 22, 29: 5, 31: 21, 44: 2, 48: 12, 51: 28,
  52: 38, 54: 20, 55: 39, 63: 1, 69: 30, 70: 29 };
function withBoardErrno(name, call) {
  if (name.startsWith("__syscall_")) {
    return (...args) => {
      const result = call(...args);
      return result < 0 ? -(BOARD_ERRNO[-result] ?? -result) : result;
    };
  }
  if (name.startsWith("fd_")) {
    return (...args) => {
      const result = call(...args);
      return BOARD_ERRNO[result] ?? result;
    };
  }
  return call;
}
const instantiate = WebAssembly.instantiate;
WebAssembly.instantiate = (binary, imports) => {
  const translated = {};
  for (const [module, calls] of Object.entries(imports)) {
    translated[module] = Object.fromEntries(
      Object.entries(calls).map(([name, call]) => [name, withBoardErrno(name, call)]),
    );
  }
  return instantiate(binary, translated);
};

// ---- the line

const chunk = Buffer.alloc(65536); // one for all: a new one at each look costs more than the look
let received = [];
function readLine() {
  try {
    const count = fs.readSync(job.line, chunk);
    for (let n = 0; n < count; n += 1) received.push(chunk[n]);
  } catch (error) {
    if (error.code !== "EAGAIN" && error.code !== "EIO") throw error;
  }
}
let outgoing = [];
let muted = false;
function flush() {
  let bytes = Buffer.from(outgoing);
  outgoing = [];
  while (bytes.length) {
    try {
      bytes = bytes.subarray(fs.writeSync(job.line, bytes));
    } catch (error) {
      if (error.code === "EIO") return;
      if (error.code !== "EAGAIN") throw error;
    }
  }
}
function emit(byte) {
  if (muted) return;
  outgoing.push(byte);
  if (outgoing.length >= 512) flush();
}

// ---- commands

const state = JSON.parse(fs.readFileSync(job.state, "utf8"));
const words = state.words; // the memory that outlives a reset
const waiting = state.waiting; // who wants to hear of the prompt
let commands = "";
let atPrompt = false;
function answer(id, found) {
  fs.writeSync(1, JSON.stringify({ id, ...found }) + "\n");
}
function readCommands() {
  try {
    const count = fs.readSync(0, chunk);
    if (count === 0) process.exit(0);
    commands += chunk.toString("utf8", 0, count);
  } catch (error) {
    if (error.code !== "EAGAIN") throw error;
  }
  let end;
  while ((end = commands.indexOf("\n")) >= 0) {
    const command = JSON.parse(commands.slice(0, end));
    commands = commands.slice(end + 1);
    execute(command);
  }
}
function execute(command) {
  if (command.do === "state") return answer(command.id, { starts: state.starts, atPrompt });
  if (command.do === "prompt") return atPrompt ? answer(command.id, {}) : waiting.push(command.id);
  if (command.do === "files") return answer(command.id, contents());
  answer(command.id, {});
  // do: "power", with files to have afterwards if there are any
  const kept = command.files ? { files: command.files, folders: [] } : contents();
  leave({ ...kept, words: [0, 0, 0, 0], raw: false });
}
function leave(next) {
  fs.writeFileSync(job.state, JSON.stringify({ ...next, waiting, starts: state.starts }));
  process.exit(NEXT_START);
}
function service() {
  readCommands();
  readLine();
}

const now = Date.now;
let interrupts = false;
let looked = 0;
Date.now = () => {
  const time = now();
  if (inside && time - looked >= POLL_MS) {
    looked = time;
    service();
    if (interrupts && received.includes(CTRL_C)) {
      received = received.slice(received.indexOf(CTRL_C) + 1);
      board._module._mp_sched_keyboard_interrupt();
    }
  }
  return time;
};
// The build's own sleep keeps a core busy until it is over, and with it whoever waits for it.
const nobody = new Int32Array(new SharedArrayBuffer(4));
function rest(ms) {
  const end = now() + ms;
  for (let left = ms; left > 0; left = end - Date.now()) {
    Atomics.wait(nobody, 0, 0, Math.min(left, POLL_MS));
  }
}
let inside = false; // whether the interpreter runs

// ---- the interpreter

const { loadMicroPython } = await import(
  pathToFileURL(path.join(job.package, "micropython.mjs")).href
);
const board = await loadMicroPython({
  pystack: PYSTACK_WORDS,
  heapsize: HEAP_BYTES,
  stdout: (byte) => emit(byte[0]),
  stderr: (byte) => emit(byte[0]),
  linebuffer: false,
});
function put(name, data) {
  const parts = name.split("/").slice(1);
  for (let n = 1; n < parts.length; n += 1) {
    const folder = "/" + parts.slice(0, n).join("/");
    if (!board.FS.analyzePath(folder).exists) board.FS.mkdir(folder);
  }
  board.FS.writeFile(name, data);
}
// What is in the board's flash, not in a folder of the build's own or of the bench.
const HIDDEN = ["dev", "proc", "tmp", "home", "bench"];
function walk(folder, found) {
  for (const entry of board.FS.readdir(folder)) {
    if (entry === "." || entry === ".." || (folder === "/" && HIDDEN.includes(entry))) continue;
    const name = folder.replace(/\/$/, "") + "/" + entry;
    if (board.FS.isDir(board.FS.stat(name).mode)) {
      found.folders.push(name);
      walk(name, found);
    } else {
      found.files[name] = Buffer.from(board.FS.readFile(name)).toString("base64");
    }
  }
  return found;
}
function contents() {
  return walk("/", { files: {}, folders: [] });
}
for (const folder of state.folders) board.FS.mkdirTree(folder);
for (const [name, data] of Object.entries({ ...job.bench, ...state.files })) {
  put(name, Buffer.from(data, "base64"));
}

const rig = {
  read: () => {
    readLine();
    return received.length ? received.shift() : -1;
  },
  ready: () => {
    if (!received.length) readLine();
    return received.length > 0;
  },
  write: (byte) => {
    emit(byte);
    return 1;
  },
  flush: () => flush(),
  reset: () => {
    flush();
    leave({ ...contents(), words, raw: false });
  },
  interrupts: (yes) => {
    interrupts = yes;
  },
  rest,
  chance: () => Math.floor(256 * Math.random()),
  word: (place) => words[place],
  keep: (place, value) => {
    words[place] = value;
  },
};
function run(name, silent) {
  if (!board.FS.analyzePath(name).exists) return;
  const source = board.FS.readFile(name, { encoding: "utf8" });
  inside = true;
  try {
    board.runPython(source);
  } catch (error) {
    if (error.name !== "PythonError") throw error;
    if (silent) throw new Error(name + ": " + error.message);
    for (const byte of Buffer.from(error.message.replaceAll("\n", "\r\n"))) emit(byte);
  } finally {
    inside = false;
    flush();
  }
}

// One start: boot.py, main.py unless the prompt is raw, then the prompt.
let raw = state.raw;
let paste = 0; // how much of the request for raw paste has come

async function life() {
  board.registerJsModule("_rig", rig);
  interrupts = true;
  run("/bench/prelude.py", true);
  run("/boot.py", false);
  if (!raw) run("/main.py", false);
  muted = raw; // else its banner comes twice
  board.replInit();
  muted = false;
  if (raw) board.replProcessChar(CTRL_A);
  flush();
  atPrompt = true;
  for (const id of waiting.splice(0)) answer(id, {});
  for (;;) {
    service();
    if (!received.length) {
      flush();
      await new Promise((resolve) => setTimeout(resolve, POLL_MS));
      continue;
    }
    const byte = received.shift();
    if (refusesPaste(byte)) continue;
    if (byte === CTRL_A) raw = true;
    if (byte === CTRL_B) raw = false;
    inside = raw && byte === CTRL_D; // only then does a program run
    let result;
    try {
      result = board.replProcessChar(byte);
    } finally {
      inside = false;
    }
    flush();
    if (result & SOFT_RESET) {
      for (const character of Buffer.from("MPY: soft reboot\r\n")) emit(character);
      flush();
      leave({ ...contents(), words, raw });
    }
  }
}
function refusesPaste(byte) {
  if (!raw) return false;
  if (byte === CTRL_E) {
    paste = 1;
    return true;
  }
  if (!paste) return false;
  paste = paste === 1 ? 2 : 0;
  if (!paste) for (const reply of [82, 0]) emit(reply); // "R", not supported
  flush();
  return true;
}

state.starts += 1;
await life();
