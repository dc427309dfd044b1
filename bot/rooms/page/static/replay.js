// A finished incident or a drill, played: the same boards at earlier moments, by a clock of its own.

import { now, setClock } from "/draw.js";

export class Player {
  constructor(live, changed) {
    this.live = live; // the live clock
    this.changed = changed; // is told when the moment or what is played has changed
    this.what = null;
    this.playing = false;
  }

  begin(what) {
    this.what = what;
    this.start = Date.parse(what.begin);
    this.end = Date.parse(what.end);
    this.times = what.frames.map((frame) => Date.parse(frame.at));
    this.said = what.entries.map((entry) => Date.parse(entry.at));
    this.moment = this.start;
    this.speed = 10;
    this.playing = true;
    this.last = performance.now();
    setClock(() => this.now());
    this.timer = setInterval(() => this.changed(), 250);
    this.changed();
  }

  now() {
    const passed = performance.now() - this.last;
    this.last += passed;
    if (this.playing) this.moment = Math.min(this.end, this.moment + passed * this.speed);
    if (this.moment >= this.end) this.playing = false;
    return this.moment;
  }

  go(seconds) {
    this.moment = this.start + seconds * 1000;
    this.changed();
  }

  /** Seconds from the beginning. */
  get seconds() {
    return (now() - this.start) / 1000;
  }

  get board() {
    const moment = now();
    let found = null;
    this.times.forEach((time, place) => {
      if (time <= moment) found = this.what.frames[place].board;
    });
    return found;
  }

  get entries() {
    const moment = now();
    return this.what.entries.filter((_, place) => this.said[place] <= moment);
  }

  over() {
    clearInterval(this.timer);
    this.what = null;
    this.playing = false;
    setClock(this.live);
    this.changed();
  }
}
