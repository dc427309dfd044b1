// The one connection: what is said is kept until the server has it and sent again after a break, each by its own id.

import { setClock } from "/draw.js";

const KEPT = "crosslay.pending";
const QUIET_MS = 5500; // the server is heard every two seconds
const PAUSES_MS = [200, 500, 1000, 2000, 3000];
const SAMPLES = 12;

export class Link {
  constructor(heard, changed) {
    this.heard = heard; // is told everything that the server says
    this.changed = changed; // is told when the connection or what is pending changes
    this.pending = read();
    this.socket = null;
    this.tries = 0;
    this.lostAt = null; // when the server was last heard, while it isn't heard
    this.heardAt = performance.now();
    this.samples = [];
    this.over = false;
    setClock(() => this.now());
    setInterval(() => this.watch(), 500);
  }

  /** The server's time: by its own words, not by this device's clock. */
  now() {
    return this.samples.length ? performance.now() + Math.max(...this.samples) : Date.now();
  }

  open() {
    if (this.over) return;
    const socket = new WebSocket(`wss://${location.host}/socket`);
    socket.binaryType = "arraybuffer";
    this.socket = socket;
    socket.onmessage = ({ data }) => this.take(JSON.parse(data));
    socket.onclose = ({ code }) => {
      if (socket !== this.socket) return;
      this.socket = null;
      this.lost();
      if (code === 4403 || code === 4429) this.turnedAway(code);
      else this.again();
    };
  }

  again() {
    const pause = PAUSES_MS[Math.min(this.tries++, PAUSES_MS.length - 1)];
    setTimeout(() => this.socket === null && this.open(), pause);
  }

  async turnedAway(code) {
    if (code === 4429) return this.again();
    try {
      const answer = await (await fetch("/me")).json();
      if (answer.in) return this.again();
    } catch {
      return this.again();
    }
    this.over = true;
    this.heard({ type: "out" });
  }

  take(message) {
    this.heardAt = performance.now();
    if (message.now) {
      this.samples.push(Date.parse(message.now) - this.heardAt);
      if (this.samples.length > SAMPLES) this.samples.shift();
    }
    if (message.type === "welcome") {
      this.tries = 0;
      this.lostAt = null;
      this.pending.filter((one) => !one.why).forEach((one) => this.send(one));
    }
    if (message.type === "taken") this.drop(message.id);
    if (message.type === "refused" && message.id) this.mark(message.id, message.why);
    if (message.type === "wait") {
      const waiting = this.pending.find((one) => one.message.id === message.id);
      if (waiting) setTimeout(() => this.pending.includes(waiting) && this.send(waiting), message.seconds * 1000);
    }
    this.heard(message);
    this.changed();
  }

  /** The socket may be dead without saying so: a phone that slept, a box that lost its power. */
  watch() {
    if (this.socket !== null && performance.now() - this.heardAt > QUIET_MS) {
      const dead = this.socket;
      this.socket = null;
      dead.onclose = null;
      dead.onmessage = null;
      dead.close();
      this.lost();
      this.open();
      this.heardAt = performance.now() - QUIET_MS + 3000; // so long for the new one
    }
    if (this.lostAt !== null) this.changed();
  }

  lost() {
    if (this.lostAt === null) this.lostAt = this.heardAt;
    this.changed();
  }

  /** Seconds since the server was last heard; null while it is there. */
  get lostFor() {
    return this.lostAt === null ? null : Math.max(0, Math.round((performance.now() - this.lostAt) / 1000));
  }

  /** Something said: kept until it is safe. `shown`: how it stands in the conversation until then. */
  say(type, fields, shown) {
    const id = crypto.randomUUID();
    const message = { type, id, at: new Date(this.now()).toISOString(), ...fields };
    const kept = { message, shown };
    this.pending.push(kept);
    write(this.pending);
    this.send(kept);
    this.changed();
    return id;
  }

  send(kept) {
    this.tell(kept.message);
  }

  /** Something that isn't kept. */
  tell(message) {
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(message));
  }

  sound(samples) {
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(samples);
  }

  drop(id) {
    this.pending = this.pending.filter((one) => one.message.id !== id);
    write(this.pending);
  }

  mark(id, why) {
    const one = this.pending.find((kept) => kept.message.id === id);
    if (one) one.why = why;
    write(this.pending);
  }
}

function read() {
  try {
    return JSON.parse(localStorage.getItem(KEPT) ?? "[]");
  } catch {
    return [];
  }
}

function write(pending) {
  try {
    localStorage.setItem(KEPT, JSON.stringify(pending));
  } catch {
    // full: what is said stays in this page's memory
  }
}

/** What was kept on this phone is another's when somebody else joins on it. */
export function forget() {
  localStorage.removeItem(KEPT);
}
