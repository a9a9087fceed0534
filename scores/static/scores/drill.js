// Rhythm drills: each stage of a plan played, its mark moving on the chart. The sound engine comes when play is first
// pressed, what is needed to try a drill oneself when that is opened.

const parts = document.getElementById("drill-script").dataset;
const fill = (text, values) => text.replace(/%\((\w+)\)s/g, (_, name) => values[name] ?? "");
const still = matchMedia("(prefers-reduced-motion: reduce)");
const SIDES = ["right", "left"];
const CLICKS = ["beat", "cycle", "measure", "part"];
const SHOWN = 160; // milliseconds that a stroke stays marked

// The engine, once for the page.
async function openSound(keys, onProgress) {
  const place = document.getElementById("sound").dataset;
  const { open } = await import(place.engine).catch((wrong) => {
    throw new Error(place.wordLibrary, { cause: wrong });
  });
  return open(place, { keys, onProgress });
}

export class Drill {
  constructor(element) {
    this.element = element;
    element.drill = this; // where other scripts of the page find it
    this.data = JSON.parse(document.getElementById(element.dataset.drill).textContent);
    this.words = this.data.words;
    this.scope = element.closest("[data-drill-scope]") ?? element.parentElement;
    this.run = null;
    this.rung = 0;
    this.find = (name) => element.querySelector(`[data-${name}]`);
    this.find("stage")?.addEventListener("change", () => this.choose());
    this.find("play").addEventListener("click", () => (this.run ? this.stop() : this.play()));
    for (const button of element.querySelectorAll("[data-tempo]")) {
      button.addEventListener("click", () => this.step(Number(button.dataset.tempo)));
    }
    this.find("click").addEventListener("change", () => this.mix());
    for (const side of SIDES) this.voice(side).addEventListener("change", () => this.mix());
    this.find("try")?.addEventListener("toggle", () => this.openTry(), { once: true });
    for (const button of this.scope.querySelectorAll("[data-play-stage]")) {
      button.hidden = false;
      button.addEventListener("click", () => this.playStage(Number(button.dataset.playStage)));
    }
    this.choose();
    element.hidden = false;
    this.fitChart();
  }

  // Drawn anew for a column that is narrower than the drawing, never shrunk.
  async fitChart() {
    const place = this.scope.querySelector("[data-chart]");
    const chart = place?.querySelector("svg");
    const room = place?.clientWidth;
    if (!chart || !room || Number(chart.getAttribute("width")) <= room + 2) return;
    const answer = await fetch(`${place.dataset.chart}&width=${room}`);
    if (!answer.ok) return;
    const drawn = new DOMParser().parseFromString(await answer.text(), "image/svg+xml").documentElement;
    if (drawn.localName === "svg") chart.replaceWith(document.importNode(drawn, true));
  }

  voice(side) {
    return this.element.querySelector(`[data-voice="${side}"]`);
  }

  get stage() {
    return this.data.stages[Number(this.find("stage")?.value ?? 0)] ?? FREE;
  }

  get keys() {
    return SIDES.flatMap((side) => this.data[side].flatMap(([, keys]) => keys));
  }

  // Quarters a minute.
  get pace() {
    return this.stage.unit === "part" ? (this.tempo * this.data.quarters) / this.data.parts : this.tempo;
  }

  say(words) {
    this.find("said").textContent = words;
  }

  // A stage begins with its own tempo, click and hands; all of them can be changed while it sounds.
  choose() {
    if (this.run) this.stop();
    const { stage } = this;
    this.rung = 0;
    this.tempo = stage.tempo;
    this.find("click").value = stage.click;
    if (!this.find("click").value) this.find("click").value = "cycle"; // the figure fills the measure
    for (const side of SIDES) this.voice(side).checked = stage.heard ? stage.heard === side : ["both", side].includes(stage.hands);
    this.showTempo();
    this.say("");
  }

  playStage(number) {
    this.find("stage").value = String(number);
    this.choose();
    this.play();
    this.element.scrollIntoView({ block: "nearest" });
  }

  showTempo() {
    const words = this.stage.unit === "part" ? this.words.parts : this.words.quarters;
    this.find("tempo-shown").textContent = fill(words, { tempo: this.tempo });
  }

  step(direction) {
    const { rungs } = this.data;
    const next = direction > 0 ? rungs.find((mark) => mark > this.tempo) : rungs.findLast((mark) => mark < this.tempo);
    if (next === undefined) return;
    this.tempo = next;
    this.showTempo();
    this.run?.retime(this.pace);
  }

  // What sounds: the stage's strokes, and clicks of each kind, each with a loudness of its own.
  strokes() {
    const { data, stage } = this;
    const unit = data.quarters / data.parts;
    return SIDES.flatMap((side) =>
      data[side]
        .filter(([part]) => stage.kind !== "skeleton" || data.skeleton[side].includes(part))
        .flatMap(([part, keys, length]) =>
          keys.map((key) => ({
            at: part * unit,
            length: Math.min(length, data.quarters),
            key,
            part,
            side,
            voice: `drill-${side}`,
            velocity: stage.kind === "accents" ? (stage.accents.includes(part) ? 0.95 : 0.4) : 0.65,
          })),
        ),
    );
  }

  clicks(from = 0, until = this.data.quarters) {
    const { figures, quarters } = this.data;
    const steps = { beat: this.data.beat, cycle: quarters, measure: quarters, part: quarters / this.data.parts };
    return CLICKS.flatMap((kind) => {
      const count = Math.max(1, Math.round((until - from) / steps[kind]));
      return Array.from({ length: count }, (_, number) => from + number * steps[kind])
        .filter((at) => at < until - 1e-9)
        .map((at) => ({ at, click: true, strong: Math.abs(at % quarters) < 1e-9, voice: `drill-click-${kind}`, every: kind === "measure" ? figures : 1 }));
    });
  }

  // Whole turns of the figure, as many as make two beats at least.
  countIn() {
    const turns = Math.max(1, Math.ceil((2 * this.data.beat) / this.data.quarters));
    const from = -turns * this.data.quarters;
    const clicks = [];
    for (let at = from; at < -1e-9; at += this.data.beat) clicks.push({ at, click: true, strong: at === from, voice: "drill-count" });
    return clicks;
  }

  mix(sound = this.sound) {
    if (!sound) return;
    for (const side of SIDES) sound.level(`drill-${side}`, this.voice(side).checked ? 1 : 0);
    for (const kind of CLICKS) sound.level(`drill-click-${kind}`, this.find("click").value === kind ? 1 : 0);
    sound.level("drill-count", 1);
  }

  async ready() {
    this.sound = await openSound(this.keys, (done, total) => this.say(fill(this.words.loading, { done, total })));
    this.say("");
    return this.sound;
  }

  async play() {
    const { stage } = this;
    let sound;
    try {
      sound = await this.ready();
      this.mix();
      if (stage.marks.length) this.climb();
      const turns = this.find("over").checked ? true : stage.repetitions;
      this.run = sound.schedule([...this.strokes(), ...this.clicks()], {
        tempo: this.pace,
        from: 0,
        until: this.data.quarters,
        loop: turns,
        lead: this.find("count-in").checked ? this.countIn() : [],
        onSound: (event) => this.mark(event),
        onTurn: (turn) => this.sayTurn(turn + 1, turns),
        onEnd: (how) => this.ended(how),
      });
    } catch (trouble) {
      this.say(trouble.message || this.words.trouble);
      return;
    }
    this.find("play").textContent = this.words.stop;
    this.watch();
  }

  sayTurn(turn, turns) {
    const values = { title: this.stage.title, turn, turns, tempo: this.tempo };
    const words = turns === true ? this.words.again : this.stage.marks.length ? this.words.rung : this.words.playing;
    this.say(fill(words, values));
  }

  // The rung at this tempo, or the one nearest to it.
  climb() {
    const off = this.stage.marks.map((mark) => Math.abs(mark - this.tempo));
    this.rung = off.indexOf(Math.min(...off));
    for (const mark of this.scope.querySelectorAll("[data-mark]")) mark.toggleAttribute("data-here", Number(mark.dataset.mark) === this.tempo);
  }

  stop() {
    this.run?.stop();
  }

  // A ladder goes on with its next mark, counted in at the new tempo; everything else is over.
  ended(how) {
    this.run = null;
    this.clearMark();
    const next = this.stage.marks[this.rung + 1];
    if (how === "ended" && next) {
      this.tempo = next;
      this.showTempo();
      this.play();
      return;
    }
    this.find("play").textContent = this.words.play;
    this.say(how === "ended" ? this.words.ended : this.words.stopped);
  }

  // The mark on the chart

  get lines() {
    return [...this.scope.querySelectorAll("g.chart-line")].map((line) => {
      const numbers = line.dataset.knots.split(" ").map(Number);
      const knots = [];
      for (let place = 0; place < numbers.length; place += 2) knots.push([numbers[place], numbers[place + 1]]);
      return { line, knots };
    });
  }

  mark(event) {
    if (event.click || !this.voice(event.side).checked) return;
    for (const stroke of this.scope.querySelectorAll(`.crossrhythm .${event.side}[data-part="${event.part}"]`)) {
      stroke.classList.add("sounding");
      setTimeout(() => stroke.classList.remove("sounding"), SHOWN);
    }
  }

  watch() {
    if (!this.run) return;
    // The desk was put in place anew: there is nothing left to stop it with.
    if (!this.element.isConnected) return void this.stop();
    const position = this.run.position();
    if (position !== null && position >= 0 && !still.matches) this.moveMark((position / this.data.quarters) * this.data.parts);
    requestAnimationFrame(() => this.watch());
  }

  moveMark(part) {
    for (const { line, knots } of this.lines) {
      const inside = part >= knots[0][0] && part < knots.at(-1)[0];
      let now = line.querySelector(".now");
      if (!inside) {
        now?.remove();
        continue;
      }
      if (!now) {
        now = document.createElementNS("http://www.w3.org/2000/svg", "line");
        now.setAttribute("class", "now");
        now.setAttribute("y1", "8");
        now.setAttribute("y2", "96");
        line.append(now);
      }
      const after = knots.findIndex(([at]) => at > part);
      const [[from, x], [to, far]] = [knots[after - 1], knots[after]];
      const at = String(x + ((far - x) * (part - from)) / (to - from));
      now.setAttribute("x1", at);
      now.setAttribute("x2", at);
    }
  }

  clearMark() {
    for (const now of this.scope.querySelectorAll(".crossrhythm .now")) now.remove();
  }

  async openTry() {
    const { Trying } = await import(parts.trying);
    this.trying = await new Trying(this, parts).begin();
  }
}

const FREE = { kind: "together", title: "", hands: "both", tempo: 60, unit: "quarter", repetitions: 4, click: "beat", accents: [], heard: null, marks: [] };

export function enhanceDrills(within) {
  for (const element of within.querySelectorAll("[data-drill]:not([data-ready])")) {
    element.dataset.ready = "";
    new Drill(element);
  }
}

enhanceDrills(document);
document.addEventListener("htmx:load", (event) => enhanceDrills(event.target));
