// Trying a drill oneself: strokes from a MIDI keyboard, from two computer keys or from two fields, laid against the click.

const fill = (text, values) => text.replace(/%\((\w+)\)s/g, (_, name) => values[name] ?? "");
const SIDES = ["left", "right"];
const KEYS = { left: "KeyF", right: "KeyJ" };
const STORE = "try-keys";
const NAMES = ["C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"];
const NOTE_ON = 0x90;
const AROUND = 0.4; // seconds before the first stroke and after the end in which strokes still count

const keyName = (code) => code.replace(/^(Key|Digit)/, "");

export class Trying {
  constructor(drill, parts) {
    Object.assign(this, { drill, parts, data: drill.data, words: drill.words, element: drill.find("try"), strokes: [] });
    this.find = (name) => this.element.querySelector(`[data-${name}]`);
    this.codes = { ...KEYS, ...remembered() };
    this.running = false;
    this.seconds = 0;
  }

  async begin() {
    this.timing = await import(this.parts.timing);
    this.drawing = await import(this.parts.drawing);
    this.showKeys();
    for (const side of SIDES) {
      const pad = this.element.querySelector(`[data-pad="${side}"]`);
      pad.addEventListener("pointerdown", (event) => this.stroke(side, event.timeStamp));
      this.element.querySelector(`[data-change-key="${side}"]`).addEventListener("click", () => this.changeKey(side));
    }
    // Before anything else on the page hears the key, while the student plays.
    addEventListener("keydown", (event) => this.pressed(event), { capture: true });
    this.find("midi").addEventListener("click", () => this.listen());
    this.find("begin").addEventListener("click", () => this.start());
    this.find("end").addEventListener("click", () => this.stop());
    this.find("keep")?.querySelector("button").addEventListener("click", () => this.keep());
    return this;
  }

  say(words) {
    this.find("try-said").textContent = words;
  }

  // Ways to strike

  showKeys() {
    for (const side of SIDES) this.element.querySelector(`[data-pad="${side}"] kbd`).textContent = keyName(this.codes[side]);
  }

  changeKey(side) {
    this.changing = side;
    this.say(fill(this.words.pressKey, { hand: this.words[side] }));
  }

  pressed(event) {
    if (!this.element.isConnected) return;
    if (this.changing) {
      const other = this.codes[this.changing === "left" ? "right" : "left"];
      if (["Tab", "Escape", "ShiftLeft", "ShiftRight"].includes(event.code)) return void (this.changing = null);
      event.preventDefault();
      event.stopImmediatePropagation();
      if (event.code === other) return void this.say(this.words.keyTaken);
      this.codes[this.changing] = event.code;
      this.changing = null;
      localStorage.setItem(STORE, JSON.stringify(this.codes));
      this.showKeys();
      this.say("");
      return;
    }
    const side = SIDES.find((one) => this.codes[one] === event.code);
    if (!this.running || !side || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (!event.repeat) this.stroke(side, event.timeStamp);
  }

  async listen() {
    if (!navigator.requestMIDIAccess) return void this.say(this.words.noMidi);
    try {
      this.access = await navigator.requestMIDIAccess();
    } catch {
      return void this.say(this.words.midiRefused);
    }
    this.offerSplit();
    this.access.onstatechange = () => this.hear();
    this.hear();
  }

  hear() {
    const inputs = [...this.access.inputs.values()];
    for (const input of inputs) input.onmidimessage = (message) => this.midi(message);
    const names = inputs.map((input) => input.name).join(", ");
    if (!this.running) this.say(names ? fill(this.words.midiHere, { names }) : this.words.midiNone);
  }

  midi({ data: [status, key, velocity], timeStamp }) {
    if ((status & 0xf0) !== NOTE_ON || velocity === 0) return;
    this.stroke(key < Number(this.find("split").value) ? "left" : "right", timeStamp);
  }

  // Between the hands of this figure; the student may say otherwise.
  offerSplit() {
    const keys = (side) => this.data[side].flatMap(([, struck]) => struck);
    const between = Math.round((Math.max(...keys("left")) + Math.min(...keys("right"))) / 2);
    const split = this.find("split");
    for (let key = 36; key <= 84; key += 1) {
      const option = new Option(`${NAMES[key % 12]}${Math.floor(key / 12) - 1}`, String(key));
      option.selected = key === Math.min(84, Math.max(36, between));
      split.append(option);
    }
    this.find("split-field").hidden = false;
  }

  // A chord of one hand is one stroke: its keys come within a few milliseconds.
  stroke(hand, stamp) {
    if (!this.running || !this.sound) return;
    const time = this.sound.heardAt(stamp);
    const last = this.strokes.findLast((one) => one.hand === hand);
    if (last && time - last.time < 0.03) return;
    this.strokes.push({ hand, time });
    const pad = this.element.querySelector(`[data-pad="${hand}"]`);
    pad.classList.add("struck");
    setTimeout(() => pad.classList.remove("struck"), 120);
  }

  // One try

  get hands() {
    const asked = this.find("hands").value;
    return asked === "both" ? SIDES : [asked];
  }

  async start() {
    this.turns = Number(this.find("turns").value);
    this.strokes = [];
    this.find("result").hidden = true;
    this.find("result").replaceChildren();
    if (this.find("keep")) this.find("keep").hidden = true;
    try {
      this.sound = await this.drill.ready();
      this.drill.stop();
      this.drill.mix(this.sound);
      this.run = this.sound.schedule(this.drill.clicks(), {
        tempo: this.drill.pace,
        from: 0,
        until: this.data.quarters,
        loop: this.turns,
        lead: this.drill.countIn(),
        onTurn: (turn) => this.say(fill(this.words.trying, { turn: turn + 1, turns: this.turns })),
        onEnd: (how) => (how === "ended" ? setTimeout(() => this.over(how), AROUND * 1000) : this.over(how)),
      });
    } catch (trouble) {
      this.say(trouble.message || this.words.trouble);
      return;
    }
    this.running = true;
    this.tempo = this.drill.tempo;
    this.began = performance.now();
    this.find("begin").hidden = true;
    this.find("end").hidden = false;
    this.find("end").focus();
    this.say(fill(this.words.ready, { turns: this.turns }));
    this.expected = this.expectedStrokes();
  }

  expectedStrokes() {
    const unit = this.data.quarters / this.data.parts;
    return Array.from({ length: this.turns }, (_, turn) => turn).flatMap((turn) =>
      this.hands.flatMap((hand) => this.data[hand].map(([part]) => ({ hand, part, turn, time: this.run.timeOf(part * unit, turn) }))),
    );
  }

  stop() {
    this.run?.stop();
  }

  over(how) {
    const from = Math.min(...this.expected.map((one) => one.time)) - AROUND;
    const played = this.strokes.filter((one) => this.hands.includes(one.hand) && one.time >= from);
    this.running = false;
    this.run = null;
    this.seconds += (performance.now() - this.began) / 1000;
    this.find("begin").hidden = false;
    this.find("end").hidden = true;
    this.find("begin").focus();
    if (how !== "ended") return void this.say(this.words.stopped);
    if (!played.length) return void this.say(this.words.nothing);
    this.say("");
    this.judged = this.timing.judge({ expected: this.expected, played, calibrated: this.find("calibrated").checked });
    this.drawing.show(this.find("result"), this.judged, this.words, this.timing.CLEAN);
    this.find("result").hidden = false;
    if (this.find("keep")) this.find("keep").hidden = false;
  }

  // Into the form of today's practice, which the student looks over and sends.
  keep() {
    const form = document.querySelector("form.entry-form");
    if (!form) return;
    const { clean, turns } = this.judged;
    const quarters = Math.round(this.drill.stage.unit === "part" ? this.drill.pace : this.tempo);
    const values = {
      assigned: this.drill.element.dataset.assigned,
      minutes: Math.max(1, Math.ceil(this.seconds / 60)),
      tempo: quarters,
      clean_runs: clean,
      tries: turns,
      remark: fill(this.words.tempoRemark, { clean, turns, ms: this.timing.CLEAN }),
    };
    for (const [name, value] of Object.entries(values)) {
      const field = form.elements[name];
      if (!field) continue;
      field.value = String(value);
      field.dispatchEvent(new Event("input", { bubbles: true }));
      field.dispatchEvent(new Event("change", { bubbles: true }));
    }
    this.say(this.words.kept);
    form.elements.minutes.focus();
    form.scrollIntoView({ block: "center" });
  }
}

function remembered() {
  try {
    const kept = JSON.parse(localStorage.getItem(STORE) ?? "{}");
    return Object.fromEntries(Object.entries(kept).filter(([side, code]) => SIDES.includes(side) && typeof code === "string"));
  } catch {
    return {};
  }
}
