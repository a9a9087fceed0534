// When what is to be heard sounds: events in quarters, laid out on one clock in seconds. Pure: no audio, no page.

export class SoundTrouble extends Error {
  constructor(code, message) {
    super(message);
    this.code = code;
  }
}

// "7/3", [7, 3] or a plain number, as a number.
export function fraction(value) {
  if (typeof value === "number") return value;
  const [over, under = 1] = Array.isArray(value) ? value : String(value).split("/").map(Number);
  return over / under;
}

// When each event of a passage sounds. Every time is worked out from the beginning: nothing is added up, so nothing
// drifts. `tempos` are the marks inside the passage as [quarters, factor of the tempo].
export class Schedule {
  constructor({ events, lead = [], from = 0, until, loop = false, tempo, start = 0, tempos = [] }) {
    if (!(tempo > 0) || !Number.isFinite(tempo)) throw new SoundTrouble("tempo", "");
    this.tempos = tempos.map(([at, factor]) => [fraction(at), factor]).sort((a, b) => a[0] - b[0]);
    this.from = fraction(from);
    const timed = (list) => list.map((event) => ({ event, at: fraction(event.at), length: fraction(event.length ?? 0) }));
    const all = timed(events);
    this.until = until === undefined ? Math.max(this.from, ...all.map((one) => one.at + one.length)) : fraction(until);
    this.base = this.spread(this.from);
    this.cycle = this.spread(this.until) - this.base;
    if (!(this.cycle > 0)) loop = false;
    this.turns = loop === true ? Infinity : Number(loop) || 1;
    const placed = (list) => list.map((one) => ({ ...one, unit: this.spread(one.at) }));
    const early = placed(all.filter((one) => one.at < this.from));
    const inside = placed(all.filter((one) => one.at >= this.from && (one.at < this.until || this.cycle === 0)));
    // What comes just before the first beat sounds at the end of the turn before.
    const again = early.map((one) => ({ ...one, unit: one.unit + this.cycle, early: true }));
    const byUnit = (a, b) => a.unit - b.unit;
    this.opening = [...placed(timed(lead)), ...early].sort(byUnit);
    this.round = [...inside, ...again].sort(byUnit);
    this.tempo = tempo;
    this.anchor = { time: start, unit: Math.min(this.base, ...this.opening.map((one) => one.unit)) };
    this.next = 0;
    this.turn = this.opening.length ? -1 : 0;
  }

  // Quarters at the first mark's tempo that have passed at a place, and the place where so many have passed.
  spread(at) {
    let [unit, here, factor] = [0, 0, this.tempos[0]?.[1] ?? 1];
    for (const [place, next] of this.tempos) {
      if (place >= at) break;
      if (place > here) [unit, here] = [unit + (place - here) / factor, place];
      factor = next;
    }
    return unit + (at - here) / factor;
  }

  placeOf(unit) {
    let [passed, here, factor] = [0, 0, this.tempos[0]?.[1] ?? 1];
    for (const [place, next] of this.tempos) {
      const there = passed + Math.max(0, place - here) / factor;
      if (there >= unit) break;
      if (place > here) [passed, here] = [there, place];
      factor = next;
    }
    return here + (unit - passed) * factor;
  }

  timeOfUnit(unit) {
    return this.anchor.time + ((unit - this.anchor.unit) * 60) / this.tempo;
  }

  unitAt(time) {
    return this.anchor.unit + ((time - this.anchor.time) * this.tempo) / 60;
  }

  timeOf(position, turn = 0) {
    return this.timeOfUnit(this.spread(fraction(position)) + turn * this.cycle);
  }

  get end() {
    return this.timeOfUnit(this.base + this.turns * this.cycle);
  }

  // {position, turn} at an audio time; before the first beat the turn is 0 and the position lies before `from`.
  at(time) {
    const unit = this.unitAt(time);
    const turn = this.cycle > 0 ? Math.max(0, Math.floor((unit - this.base) / this.cycle)) : 0;
    return { position: this.placeOf(unit - turn * this.cycle), turn };
  }

  // Another tempo from `time` on.
  retime(tempo, time) {
    if (!(tempo > 0) || !Number.isFinite(tempo)) throw new SoundTrouble("tempo", "");
    this.anchor = { time, unit: this.unitAt(time) };
    this.tempo = tempo;
  }

  // Everything due before `time` that was not given yet: [{time, seconds, event, turn}] in order. An event with `every`
  // comes in the first turn and in every so many turns after it.
  take(time) {
    const due = [];
    for (;;) {
      if (this.turn >= this.turns) return due;
      const list = this.turn < 0 ? this.opening : this.round;
      if (this.next >= list.length) {
        if (this.turn >= 0 && !this.round.length) return due;
        this.turn += 1;
        this.next = 0;
        continue;
      }
      const one = list[this.next];
      const turn = Math.max(0, this.turn);
      const when = this.timeOfUnit(one.unit + (this.turn < 0 ? 0 : turn * this.cycle));
      if (when >= time) return due;
      this.next += 1;
      if (one.early && turn + 1 >= this.turns) continue;
      if (one.event.every > 1 && turn % one.event.every) continue;
      const until = this.timeOfUnit(this.spread(one.at + one.length) - this.spread(one.at) + this.unitAt(when));
      due.push({ time: when, seconds: until - when, event: one.event, turn: one.early ? turn + 1 : turn });
    }
  }
}
