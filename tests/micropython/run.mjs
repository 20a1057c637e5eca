// Runs one script on MicroPython's WebAssembly build, as tests/micropython/harness.py asks.
//
// One process for one interpreter: two in a process share state and corrupt
// each other. The job is a JSON file; see harness.py for its fields. Output
// of the script goes to stdout as it comes; a traceback goes to stderr, and
// the exit code is then 1.

import fs from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";

const job = JSON.parse(fs.readFileSync(process.argv[2], "utf8"));

// The build reports errors by the numbers of WASI, its errno module by those
// that the board uses. Translated where WebAssembly calls out, both agree.
// WASI preview 1, type errno -> Linux's errno.h, as in MicroPython's py/mperrno.h.
const BOARD_ERRNO = {
  2: 13, // acces
  8: 9, // badf
  10: 16, // busy
  20: 17, // exist
  28: 22, // inval
  29: 5, // io
  31: 21, // isdir
  44: 2, // noent
  48: 12, // nomem
  51: 28, // nospc
  52: 38, // nosys
  54: 20, // notdir
  55: 39, // notempty
  63: 1, // perm
  69: 30, // rofs
  70: 29, // spipe
};

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

// Whole bytes in batches: a line at a time would lose a last line without its end.
let pending = [];
function flush() {
  const bytes = Buffer.from(pending);
  pending = [];
  for (let done = 0; done < bytes.length; ) {
    done += fs.writeSync(1, bytes, done);
  }
}
function collect(byte) {
  pending.push(byte[0]);
  if (byte[0] === 10 || pending.length >= 4096) flush();
}

const { loadMicroPython } = await import(
  pathToFileURL(path.join(job.package, "micropython.mjs")).href
);
const board = await loadMicroPython({ stdout: collect, stderr: collect, linebuffer: false });

function makeFolders(name) {
  const parts = name.split("/").slice(1);
  for (let n = 1; n < parts.length; n += 1) {
    const folder = "/" + parts.slice(0, n).join("/");
    if (!board.FS.analyzePath(folder).exists) board.FS.mkdir(folder);
  }
}

for (const [name, source] of job.files) {
  makeFolders(name);
  board.FS.writeFile(name, fs.readFileSync(source));
}

function filesUnder(name) {
  if (!board.FS.analyzePath(name).exists) return [];
  if (!board.FS.isDir(board.FS.stat(name).mode)) return [name];
  return board.FS.readdir(name)
    .filter((entry) => entry !== "." && entry !== "..")
    .flatMap((entry) => filesUnder(name.replace(/\/$/, "") + "/" + entry));
}

let failure = null;
try {
  board.runPython(fs.readFileSync(job.prelude, "utf8"));
  board.runPython(fs.readFileSync(job.script, "utf8"));
  if (job.steps) {
    // The collector runs only when control is back here, hence the many calls.
    for (let n = 0, more = true; more; n += 1) {
      board.runPython(`_more = bool(step(${n}))`);
      more = board.globals.get("_more");
    }
  }
} catch (error) {
  if (error.name !== "PythonError") throw error;
  failure = error.message;
}
flush();

const fetched = job.fetch.flatMap(filesUnder);
fetched.forEach((name, n) => {
  fs.writeFileSync(path.join(job.out, `${n}`), board.FS.readFile(name));
});
fs.writeFileSync(path.join(job.out, "names.json"), JSON.stringify(fetched));

if (failure !== null) {
  fs.writeSync(2, failure);
  process.exitCode = 1;
}
