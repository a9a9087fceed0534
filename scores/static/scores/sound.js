// The sound engine: what is to be heard is a list of events in quarters; the audio clock alone says when they sound.
// The library and the recorded keys are fetched when `open` is first called, and kept.

const HORIZON = 0.2; // seconds of sound that are handed to the audio clock ahead of time
const HIDDEN_HORIZON = 1.6; // the same in a tab that is not seen, where timers come once a second
const TICK = 25; // milliseconds between two looks at what is due
const LEAD = 0.03; // seconds from a press to the first sound: time to hand it over, too short to wait for
const RELEASE = 0.12; // seconds in which a key dies away
const PATIENCE = 1500; // milliseconds that the browser gets to let sound out
const NEAR = 1; // semitones from a recorded key: every third key of the piano was recorded

// Modules import nothing by path: the page says where the others are.
const place = document.getElementById("sound").dataset;
const [{ Schedule, SoundTrouble }, { BEFORE, loadKeys, loadLibrary, nearestOf, recordedKeys }] = await Promise.all([
  import(place.schedule),
  import(place.recordings),
]);
export { Schedule };

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

const wordsOf = ({ wordLibrary, wordSamples, wordAudio, wordTempo }) => ({
  library: wordLibrary ?? "",
  samples: wordSamples ?? "",
  audio: wordAudio ?? "",
  tempo: wordTempo ?? "",
});

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
