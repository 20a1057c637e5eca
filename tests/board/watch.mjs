// Looks at the interpreter from outside while it runs: when its functions are
// entered and left, and what its heap holds then.
//
// A watched function carries a breakpoint as its first instruction. When it is
// met, the time is noted, the instruction that belongs there is executed, and
// another breakpoint waits at the place that the function returns to. The
// program that runs notices nothing and loses no time.

const BREAKPOINT = 0xbe00; // bkpt #0 (ARMv6-M)
const FLASH = 0x10000000;
const MARKS_MOST = 200000; // some minutes of the busiest watching
const STACK = 13; // registers
const LINK = 14;

// The heap (py/gc.c): tables at its start, two bits a block in the first of them.
const BLOCK_BYTES = 16;
const BLOCKS_PER_BYTE = 4;
const GAP_BYTES = 1;
const BITS_PER_TABLE_BYTE = 8 + 8 * BLOCKS_PER_BYTE * BLOCK_BYTES + BLOCKS_PER_BYTE;

export class Watches {
  // functions: name -> {address}; heap: {start, end} of the interpreter's.
  constructor(functions, heap, nowNs) {
    this.functions = new Map(Object.entries(functions).map(([name, at]) => [at.address, name]));
    this.heapAt = heap;
    this.nowNs = nowNs;
    this.marks = []; // [ms, name, "in" | "out", free bytes, largest free run] in order
  }

  attach(mcu) {
    this.mcu = mcu;
    this.planted = new Map(); // address -> instruction that belongs there
    this.open = []; // calls that have not returned: {name, back, stack}
    for (const address of this.functions.keys()) this.plant(address);
  }

  plant(address) {
    if (this.planted.has(address)) return;
    this.planted.set(address, this.mcu.readUint16(address));
    this.put(address, BREAKPOINT);
  }

  put(address, word) {
    const { mcu } = this;
    if (address < FLASH || address >= FLASH + mcu.flash.length) mcu.writeUint16(address, word);
    else mcu.flash.set([word & 0xff, word >> 8], address - FLASH);
  }

  // What a flash without breakpoints holds in their places.
  restore(flash) {
    for (const [address, word] of this.planted) {
      const at = address - FLASH;
      if (at >= 0 && at < flash.length) flash.set([word & 0xff, word >> 8], at);
    }
  }

  // Returns whether the breakpoint at an address is one of these; executes what belongs there.
  met(address) {
    if (!this.planted.has(address)) return false;
    const { core } = this.mcu;
    this.leave(address, core.registers[STACK]);
    const name = this.functions.get(address);
    if (name) {
      this.note(name, "in");
      const back = core.registers[LINK] & ~1;
      this.open.push({ name, back, stack: core.registers[STACK] });
      this.plant(back);
    }
    this.put(address, this.planted.get(address));
    core.PC = address;
    core.executeInstruction();
    if (this.functions.has(address) || this.open.some((call) => call.back === address)) {
      this.put(address, BREAKPOINT);
    } else {
      this.planted.delete(address);
    }
    return true;
  }

  leave(address, stack) {
    const last = this.open.at(-1);
    if (!last || last.back !== address || last.stack !== stack) return;
    this.open.pop();
    this.note(last.name, "out");
  }

  note(name, way) {
    const heap = name.startsWith("gc_") ? this.heap() : [];
    this.marks.push([this.nowNs() / 1e6, name, way, ...heap]);
    if (this.marks.length > MARKS_MOST) this.marks.splice(0, MARKS_MOST / 2);
  }

  // Returns [free bytes, bytes of the largest free run].
  heap() {
    const { start, end } = this.heapAt;
    const table = Math.floor(((end - start - GAP_BYTES) * 8) / BITS_PER_TABLE_BYTE);
    let free = 0;
    let run = 0;
    let largest = 0;
    for (let at = start; at < start + table; at++) {
      const byte = this.mcu.readUint8(at);
      for (let shift = 0; shift < 8; shift += 2) {
        run = (byte >> shift) & 3 ? 0 : run + 1;
        free += run ? 1 : 0;
        largest = Math.max(largest, run);
      }
    }
    return [free * BLOCK_BYTES, largest * BLOCK_BYTES];
  }
}
