// The sound engine: what is to be heard is a list of events in quarters; the audio clock alone says when they sound.
// The library and the recorded keys are fetched when `open` is first called, and kept.

const HORIZON = 0.2; // seconds of sound that are handed to the audio clock ahead of time
const HIDDEN_HORIZON = 1.6; // the same in a tab that is not seen, where timers come once a second
const TICK = 25; // milliseconds between two looks at what is due
const LEAD = 0.03; // seconds from a press to the first sound: time to hand it over, too short to wait for
const RELEASE = 0.12; // seconds in which a key dies away
const PATIENCE = 1500; // milliseconds that the browser gets to let sound out
const NEAR = 1; // semitones from a recorded key: every third key of the piano was recorded
const STROKE = 0.2; // share of its loudest at which a recorded key is taken to be struck; set by ear and by looking
const FIRST = 0.5; // seconds in which a key is loudest
const BEFORE = 0.003; // seconds of a recording that are kept before the stroke

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

// What makes sound in one audio context: the live one, or one that renders into memory.
export class Instrument {
  constructor(tone, context, keys) {
    Object.assign(this, { tone, context, keys, voices: new Map(), levels: new Map() });
    this.bus = this.newBus();
    this.clicks = [this.clickSound(1000), this.clickSound(1600)];
  }

  newBus() {
    return new this.tone.Gain({ context: this.context, gain: 0.8 }).connect(this.context.destination);
  }

  clickSound(hertz) {
    const rate = this.context.sampleRate;
    const buffer = this.context.createBuffer(1, Math.round(rate * 0.05), rate);
    const wave = buffer.getChannelData(0);
    for (let i = 0; i < wave.length; i += 1) wave[i] = Math.cos((2 * Math.PI * hertz * i) / rate) * Math.exp((-i / rate) * 120);
    return new this.tone.ToneAudioBuffer(buffer);
  }

  voice(name) {
    if (!this.voices.has(name)) {
      const gain = new this.tone.Gain({ context: this.context, gain: this.levels.get(name) ?? 1 });
      this.voices.set(name, gain.connect(this.bus));
    }
    return this.voices.get(name);
  }

  level(name, share) {
    this.levels.set(name, share);
    this.voices.get(name)?.gain.rampTo(share, 0.02);
  }

  nearest(key) {
    let best = null;
    for (const one of this.keys.keys()) if (best === null || Math.abs(one - key) < Math.abs(best - key)) best = one;
    return best;
  }

  strike(key, { time, length, velocity = 0.6, voice = "right" }) {
    const near = this.nearest(key);
    if (near === null) return;
    const playbackRate = 2 ** ((key - near) / 12);
    const options = { url: this.keys.get(near), playbackRate, fadeIn: BEFORE / 2, fadeOut: RELEASE };
    const before = BEFORE / playbackRate;
    this.sound(options, voice, Math.max(0, time - before), length + before, velocity * velocity * 1.6);
  }

  click(time, { strong = false, voice = "click" } = {}) {
    this.sound({ url: this.clicks[strong ? 1 : 0], fadeOut: 0 }, voice, time, undefined, strong ? 0.9 : 0.55);
  }

  sound(options, voice, time, length, gain) {
    const source = new this.tone.ToneBufferSource({ ...options, context: this.context });
    source.connect(this.voice(voice)).start(time, 0, length, gain);
  }

  play({ time, seconds, event }) {
    if (event.silent) return;
    if (event.click) this.click(time, event);
    else this.strike(event.key, { ...event, time, length: Math.max(0.02, seconds) });
  }

  // Silence at once, what was handed over ahead of time included.
  hush() {
    const old = this.bus;
    old.gain.rampTo(0, 0.02);
    setTimeout(() => old.dispose(), 200);
    this.voices.clear();
    this.bus = this.newBus();
  }
}

class Run {
  constructor(sound, schedule, { onSound, onTurn, onEnd }) {
    Object.assign(this, { sound, schedule, onSound, onTurn, onEnd, waiting: [], told: -1, over: false });
    this.given = sound.now();
    this.done = new Promise((resolve) => (this.resolve = resolve));
    this.timer = setInterval(() => this.look(), TICK);
    // Before a tab's timers slow down, it is given enough to go on with.
    this.leaving = () => this.look();
    document.addEventListener("visibilitychange", this.leaving);
    this.look();
    this.frame = requestAnimationFrame(() => this.show());
  }

  look() {
    if (this.over) return;
    const now = this.sound.now();
    this.given = Math.max(this.given, now + (document.hidden ? HIDDEN_HORIZON : HORIZON));
    for (const due of this.schedule.take(this.given)) {
      // A machine that was held up plays late rather than not at all.
      this.sound.instrument.play({ ...due, time: Math.max(due.time, now) });
      this.waiting.push(due);
    }
    if (now > this.schedule.end + 0.05) this.finish("ended");
  }

  show() {
    if (this.over) return;
    const heard = this.sound.heardNow();
    const { turn } = this.schedule.at(heard);
    if (heard >= this.schedule.timeOfUnit(this.schedule.base) && turn !== this.told && turn < this.schedule.turns) {
      this.told = turn;
      this.onTurn?.(turn);
    }
    while (this.waiting.length && this.waiting[0].time <= heard) {
      const due = this.waiting.shift();
      if (!this.over) this.onSound?.(due.event, due.time, due.turn);
    }
    this.frame = requestAnimationFrame(() => this.show());
  }

  position() {
    const heard = this.sound.heardNow();
    return this.over || heard < this.schedule.anchor.time ? null : this.schedule.at(heard).position;
  }

  get turn() {
    return this.schedule.at(this.sound.heardNow()).turn;
  }

  timeOf(position, turn = 0) {
    return this.schedule.timeOf(position, turn);
  }

  retime(tempo) {
    this.schedule.retime(tempo, this.given);
  }

  set loop(loop) {
    this.schedule.turns = loop === true ? Infinity : Math.max(0, this.schedule.turn) + (Number(loop) || 1);
  }

  stop() {
    if (this.over) return;
    this.sound.instrument.hush();
    this.finish("stopped");
  }

  finish(how) {
    if (this.over) return;
    this.over = true;
    clearInterval(this.timer);
    document.removeEventListener("visibilitychange", this.leaving);
    cancelAnimationFrame(this.frame);
    this.onEnd?.(how);
    this.resolve(how);
  }
}

class Sound {
  constructor(tone, context, words) {
    Object.assign(this, { tone, context, words, keys: new Map(), run: null });
    this.instrument = new Instrument(tone, context, this.keys);
  }

  now() {
    return this.context.currentTime;
  }

  // Nothing has to be fetched or permitted before these keys sound.
  isReadyFor(keys) {
    return this.context.state === "running" && keys.every((key) => Math.abs(this.instrument.nearest(key) - key) <= NEAR);
  }

  // The library keeps the browser's own context to itself; without it the latency is taken for what it says at least.
  get native() {
    return this.context.rawContext._nativeContext ?? this.context.rawContext;
  }

  heardAt(stamp) {
    const told = this.native.getOutputTimestamp?.();
    if (told?.performanceTime > 0 && told.contextTime > 0) return told.contextTime + (stamp - told.performanceTime) / 1000;
    const latency = this.native.outputLatency || this.native.baseLatency || 0;
    return this.now() - latency + (stamp - performance.now()) / 1000;
  }

  heardNow() {
    return this.heardAt(performance.now());
  }

  stampOf(time) {
    const now = performance.now();
    return now + (time - this.heardAt(now)) * 1000;
  }

  level(voice, share) {
    this.instrument.level(voice, share);
  }

  strike(key, how = {}) {
    this.instrument.strike(key, { length: 0.5, ...how, time: how.time ?? this.now() });
  }

  click(time = this.now(), how = {}) {
    this.instrument.click(time, how);
  }

  schedule(events, { onSound, onTurn, onEnd, start, ...how }) {
    this.stop();
    let schedule;
    try {
      schedule = new Schedule({ events, start: start ?? this.now() + LEAD, ...how });
    } catch (trouble) {
      throw trouble instanceof SoundTrouble ? new SoundTrouble(trouble.code, this.words[trouble.code]) : trouble;
    }
    this.run = new Run(this, schedule, { onSound, onTurn, onEnd });
    return this.run;
  }

  stop() {
    this.run?.stop();
    this.run = null;
  }
}

// Opening

let opened = null;
let library = null;
let table = null;

const wordsOf = ({ wordLibrary, wordSamples, wordAudio, wordTempo }) => ({
  library: wordLibrary ?? "",
  samples: wordSamples ?? "",
  audio: wordAudio ?? "",
  tempo: wordTempo ?? "",
});

function loadLibrary(address) {
  library ??= new Promise((resolve, reject) => {
    // While it loads the library starts a timer of its own in a worker made from text, which the content policy forbids.
    // Where there are no workers it does without, and nothing here needs that timer.
    const { Worker } = window;
    window.Worker = undefined;
    const script = Object.assign(document.createElement("script"), { src: address });
    script.onload = () => (window.Tone ? resolve(window.Tone) : reject(new Error("no library in the file")));
    script.onerror = () => reject(new Error("the library did not come"));
    document.head.append(script);
    const restored = () => (window.Worker = Worker);
    script.addEventListener("load", restored);
    script.addEventListener("error", restored);
  }).catch((wrong) => {
    library = null;
    throw wrong;
  });
  return library;
}

async function fetched(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${answer.status} for ${address}`);
  return answer;
}

async function recordedKeys(address) {
  table ??= await (await fetched(address)).json();
  return new Map(Object.entries(table).map(([key, url]) => [Number(key), url]));
}

// Of the recorded keys those nearest to what will be struck: no other is fetched.
export function nearestOf(recorded, keys) {
  const all = [...recorded];
  const near = (key) => all.reduce((best, one) => (Math.abs(one - key) < Math.abs(best - key) ? one : best));
  return [...new Set(keys.map(near))];
}

// A recording begins with some 10 to 30 milliseconds of silence and of the hammer's way. It is cut so that the stroke
// comes `BEFORE` after its beginning, whatever the key.
export function trimmed(context, buffer) {
  const channels = Array.from({ length: buffer.numberOfChannels }, (_, place) => buffer.getChannelData(place));
  const loudness = (place) => Math.abs(channels.reduce((sum, wave) => sum + wave[place], 0));
  const until = Math.min(buffer.length, Math.round(FIRST * buffer.sampleRate));
  let loudest = 0;
  for (let place = 0; place < until; place += 1) loudest = Math.max(loudest, loudness(place));
  let stroke = 0;
  while (stroke < until && loudness(stroke) < STROKE * loudest) stroke += 1;
  const begin = stroke - Math.round(BEFORE * buffer.sampleRate);
  if (begin <= 0) return buffer;
  const cut = context.createBuffer(buffer.numberOfChannels, buffer.length - begin, buffer.sampleRate);
  channels.forEach((wave, place) => cut.copyToChannel(wave.subarray(begin), place));
  return cut;
}

export async function loadKeys(tone, context, into, addresses, onEach = () => {}) {
  await Promise.all(
    [...addresses].map(async ([key, address]) => {
      if (!into.has(key)) {
        const bytes = await (await fetched(address)).arrayBuffer();
        into.set(key, new tone.ToneAudioBuffer(trimmed(context, await context.decodeAudioData(bytes))));
      }
      onEach();
    }),
  );
}

const waited = (milliseconds) => new Promise((resolve) => setTimeout(resolve, milliseconds));

export async function open(addresses, { keys = [], onProgress = () => {} } = {}) {
  const words = wordsOf(addresses);
  let step = "audio";
  try {
    if (keys.length && opened?.isReadyFor(keys)) return opened;
    if (!window.AudioContext) throw new Error("this browser has no audio");
    if (opened) opened.context.resume().catch(() => {});
    step = "library";
    onProgress(0, 1);
    const tone = await loadLibrary(addresses.library);
    step = "audio";
    opened ??= begun(tone, words);
    const resumed = opened.context.resume();
    step = "samples";
    const recorded = keys.length ? await recordedKeys(addresses.samples) : new Map();
    const wanted = keys.length ? nearestOf(recorded.keys(), keys).map((key) => [key, recorded.get(key)]) : [];
    const total = wanted.length + 1;
    let done = 1;
    onProgress(done, total);
    await loadKeys(tone, opened.context, opened.keys, wanted, () => onProgress((done += 1), total));
    step = "audio";
    await Promise.race([resumed, waited(PATIENCE)]);
    if (opened.context.state !== "running") throw new Error("sound is not permitted");
    return opened;
  } catch (wrong) {
    throw wrong instanceof SoundTrouble ? wrong : Object.assign(new SoundTrouble(step, words[step]), { cause: wrong });
  }
}

function begun(tone, words) {
  // The library's own context, driven by nothing but the audio clock.
  const context = tone.getContext();
  Object.assign(context, { lookAhead: 0, clockSource: "offline" });
  return new Sound(tone, context, words);
}
