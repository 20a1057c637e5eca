// The host's end of the board's USB serial port.
//
// The emulator's own host answers every request for data at once, with nothing
// if it has nothing: the board would be kept busy with empty packets. This one
// answers when it has bytes, as a real bus does, and at the pace of a line.

const PACKET = 64; // full-speed bulk endpoint, USB 2.0 section 5.8.3
// Bytes that come faster are dropped by the emulator's endpoint.
const NS_PER_BYTE = 1e9 / 11500;

export class SerialPort {
  // out: takes what the board sends [Uint8Array].
  constructor(library, mcu, out) {
    this.usb = mcu.usbCtrl;
    this.clock = mcu.clock;
    this.queue = []; // bytes for the board
    this.wanted = 0; // bytes that the board has room for now
    this.freeNs = 0; // when the line is free for the next packet
    this.ready = false; // enumerated, and the port is open
    this.alarm = this.clock.createAlarm(() => this.pump());
    this.host = new library.USBCDC(this.usb);
    this.host.onDeviceConnected = () => {
      this.ready = true;
      this.pump();
    };
    this.host.onSerialData = out;
    this.usb.onEndpointRead = (endpoint, size) => {
      if (endpoint !== this.host.outEndpoint) return;
      this.wanted = size;
      this.pump();
    };
  }

  // Tells the board whether a program has the port open (DTR and RTS).
  open(yes) {
    this.host.cdcSetControlLineState(yes ? 3 : 0);
  }

  send(bytes) {
    for (const byte of bytes) this.queue.push(byte);
    this.pump();
  }

  pump() {
    if (!this.ready || !this.wanted || !this.queue.length) return;
    const wait = this.freeNs - this.clock.nanos;
    if (wait > 0) {
      this.alarm.schedule(wait);
      return;
    }
    const packet = this.queue.splice(0, Math.min(PACKET, this.wanted));
    this.wanted = 0;
    this.freeNs = this.clock.nanos + packet.length * NS_PER_BYTE;
    this.usb.endpointReadDone(this.host.outEndpoint, Uint8Array.from(packet));
  }
}
