// The player: one passage after another, as it stands, with the listener's choices. The engine, its library and the
// recorded piano are fetched at the first press.

const sound = document.getElementById("sound").dataset;
const players = new Map();
const ready = { engine: null };
let latest = null;

const escaped = (id) => CSS.escape(id);
const fill = (text, values) => text.replace(/%\((\w+)\)s/g, (_, name) => values[name] ?? "");
const engineHere = () =>
  import(sound.engine).catch((wrong) => {
    throw new Error(sound.wordLibrary, { cause: wrong });
  });
const reduced = matchMedia("(prefers-reduced-motion: reduce)");
const VELOCITY = { plain: 0.6, accent: 0.8, beside: 0.52 };

class Player {
  constructor(element) {
    this.element = element;
    this.words = element.dataset;
    this.rungs = this.words.rungs.split(" ").map(Number);
    this.placements = new Map();
    this.lit = new Set();
    this.sounding = new Set();
    this.data = null;
    this.coming = null;
    this.old = false;
    this.run = null;
    this.$ = (name) => element.querySelector(`[data-${name}]`);
    element.querySelector("[data-needs-script]").hidden = false;
    this.$("play").addEventListener("click", () => this.toggle());
    this.$("slower").addEventListener("click", () => this.step(-1));
    this.$("faster").addEventListener("click", () => this.step(1));
    this.$("tempo").addEventListener("change", () => this.retime());
    for (const name of ["hands", "click", "accents"]) this.$(name).addEventListener("change", () => this.apply());
    this.$("loop").addEventListener("change", () => this.again());
    this.$("ornaments").addEventListener("change", (event) => this.place(event.target));
    this.$("midi").addEventListener("click", () => this.nameFile());
    element.querySelector("details").addEventListener("toggle", () => this.fetchNotes().catch(() => {}));
    // What else stays in sight at the foot of the window stands on the player, however high it is just now.
    const { style } = document.documentElement;
    new ResizeObserver(() => style.setProperty("--player-bar", `${element.offsetHeight}px`)).observe(element);
  }

  get root() {
    return this.element.closest(".given") ?? document.getElementById("desk-music") ?? document;
  }

  // On a desk the music stands once more where its ornaments are written out; at home they stand over it.
  get music() {
    const ornaments = this.root.id === "desk-music" ? document.getElementById("ornaments") : null;
    return ornaments ? [this.root, ornaments] : [this.root];
  }

  say(text) {
    this.$("said").textContent = text;
  }

  // The tempo

  get tempo() {
    const tempo = Number(this.$("tempo").value.replace(",", "."));
    const { min, max } = this.$("tempo");
    return tempo >= Number(min) && tempo <= Number(max) ? tempo : null;
  }

  step(way) {
    const now = this.tempo ?? this.rungs[0];
    const next = way > 0 ? this.rungs.find((rung) => rung > now) : this.rungs.findLast((rung) => rung < now);
    if (next) this.$("tempo").value = next;
    this.retime();
  }

  retime() {
    const tempo = this.tempo;
    this.$("tempo").setAttribute("aria-invalid", String(tempo === null));
    this.say(tempo === null ? this.words.wordTempo : "");
    if (tempo !== null) this.run?.retime(tempo);
  }

  // The notes

  query() {
    const said = [...this.placements].map(([note, where]) => [where, note]);
    return said.length ? `?${new URLSearchParams(said)}` : "";
  }

  get isFresh() {
    return this.data !== null && !this.old && this.adopted === this.query();
  }

  // The notes as the listener wants them now; once at a time, and anew where something was changed meanwhile.
  async fetchNotes() {
    while (!this.isFresh) {
      this.coming ??= this.askNotes().finally(() => (this.coming = null));
      await this.coming;
    }
  }

  async askNotes() {
    const query = this.query();
    let [status, data] = [0, {}];
    this.old = false;
    try {
      const answer = await fetch(this.words.sounding + query, { cache: "no-cache", headers: { Accept: "application/json" } });
      [status, data] = [answer.status, await answer.json()];
      if (!answer.ok) throw new Error(data.refused);
    } catch (wrong) {
      this.old = true;
      throw new Error(status === 422 ? data.refused : this.words.wordNotes, { cause: wrong });
    }
    this.adopted = query;
    this.adopt(data);
  }

  adopt(data) {
    this.data = data;
    const beats = new Map(data.beats);
    this.falls = new Map(data.ornaments.map((one) => [one.key, one.placement]));
    this.notes = data.notes.map(([at, length, key, hand, note, ornament, shared, order]) => ({
      at,
      length,
      key,
      voice: hand === "r" ? "right" : "left",
      note,
      ornament,
      order,
      shared: shared === 1,
      weight: beats.get(at) ?? -1,
    }));
    this.clicks = data.beats.map(([at, weight]) => ({ at, click: true, strong: weight === 2, weight }));
    this.grids = data.parts.flatMap(([start, end, parts]) => grid(start, end, parts));
    this.$("click").querySelector("[value=part]").hidden = !this.grids.length;
    this.offer(data.ornaments);
  }

  offer(ornaments) {
    const rows = ornaments.map((one) => {
      const row = document.createElement("label");
      const choice = Object.assign(document.createElement("select"), { className: "entry" });
      choice.dataset.ornament = one.key;
      for (const where of ["before", "on"])
        choice.append(new Option(where === "on" ? this.words.wordOn : this.words.wordBefore, where, false, where === one.placement));
      row.append(`${fill(this.words.wordWhere, one)} `, choice);
      return row;
    });
    const held = document.activeElement?.dataset?.ornament;
    this.$("ornaments").replaceChildren(...rows);
    if (held) this.$("ornaments").querySelector(`[data-ornament="${escaped(held)}"]`)?.focus();
  }

  // Another placement of an ornament: the notes anew, and from the beginning where it was playing.
  async place(choice) {
    this.placements.set(choice.dataset.ornament, choice.value);
    const playing = this.run !== null;
    try {
      await this.fetchNotes();
      if (playing) await this.play({ count: 0 });
    } catch (wrong) {
      this.fail(wrong);
    }
  }

  nameFile() {
    const link = this.$("midi");
    const said = new URLSearchParams([...this.placements].map(([note, where]) => [where, note]));
    if (this.tempo) said.set("tempo", this.tempo);
    link.href = `${link.href.split("?")[0]}?${said}`;
  }

  // Playing

  toggle() {
    if (this.run || this.busy) this.stop();
    else this.play({ count: Number(this.$("count").value) }).catch((wrong) => this.fail(wrong));
  }

  async play({ count }) {
    const pressed = performance.now();
    if (this.tempo === null) return this.retime();
    for (const other of players.values()) if (other !== this) other.stop();
    latest = this;
    if (this.isFresh && ready.engine?.isReadyFor(this.data.keys)) return this.begin(count, pressed);
    const turn = (this.busy = {});
    this.show();
    try {
      const [engine] = await Promise.all([engineHere(), this.fetchNotes()]);
      if (this.busy !== turn) return;
      const keys = this.data.keys;
      ready.engine = await engine.open(sound, { keys, onProgress: (done, total) => this.progress(done, total) });
      if (this.busy !== turn) return;
      this.begin(count, pressed);
    } finally {
      if (this.busy === turn) this.busy = null;
      this.$("progress").hidden = true;
      this.show();
    }
  }

  begin(count, pressed) {
    this.say("");
    this.apply();
    const { start, turn, tempos } = this.data;
    this.busy = null;
    this.run = ready.engine.schedule([...this.notes, ...this.clicks, ...this.grids], {
      from: start,
      until: turn,
      tempos,
      tempo: this.tempo,
      loop: this.$("loop").checked,
      lead: this.lead(count),
      onEnd: () => this.ended(),
    });
    const first = ready.engine.stampOf(this.run.schedule.anchor.time);
    performance.measure("passage: press to first sound", { start: pressed, end: first });
    this.show();
    this.follow();
  }

  // The beats before the first note, as many whole measures as are wanted.
  lead(count) {
    const first = number(this.data.bar) - count * number(this.data.nominal);
    return count ? this.data.count.filter(([at]) => number(at) >= first - 1e-9).map(([at, weight]) => ({ at, click: true, strong: weight === 2, silent: weight === 0 })) : [];
  }

  again() {
    this.apply();
    if (this.run) this.run.loop = this.$("loop").checked;
  }

  // What the choices make of the events, also while they sound.
  apply() {
    if (!this.notes) return;
    const [right, left] = this.$("hands").value.split(" ").map(Number);
    ready.engine?.level("right", right);
    ready.engine?.level("left", left);
    const accents = { none: 9, measure: 2, beat: 1 }[this.$("accents").value];
    for (const one of this.notes) {
      one.unheard = (one.voice === "right" ? right : left) === 0;
      one.silent = one.shared && right > 0 && left > 0;
      one.velocity = accents === 9 ? VELOCITY.plain : one.weight >= accents ? VELOCITY.accent : VELOCITY.beside;
    }
    const wanted = this.$("click").value;
    const least = { none: 9, measure: 2, beat: 1, small: 0, part: 1 }[wanted];
    // After the last note the beat goes on only where the passage begins again.
    const over = this.$("loop").checked ? Infinity : number(this.data.end);
    for (const one of this.clicks) one.silent = one.weight < least || number(one.at) >= over || (wanted === "part" && this.grids.some((part) => part.covers(number(one.at))));
    for (const one of this.grids) one.silent = wanted !== "part";
  }

  stop() {
    this.busy = null;
    this.run?.stop();
    this.show();
  }

  ended() {
    this.run = null;
    this.light(new Set());
    this.show();
  }

  fail(wrong) {
    this.busy = null;
    this.show();
    this.say(wrong.message);
    console.warn(wrong, wrong.cause ?? "");
  }

  progress(done, total) {
    const bar = this.$("progress");
    bar.hidden = done >= total;
    Object.assign(bar, { max: total, value: done });
    this.say(done >= total ? "" : fill(this.words.wordFetching, { done, total }));
  }

  show() {
    const on = Boolean(this.run || this.busy);
    this.element.classList.toggle("playing", on);
    this.element.querySelector(".player-sign").textContent = on ? "■" : "▶";
    this.element.querySelector("[data-play-word]").textContent = on ? this.words.wordStop : this.words.wordPlay;
    this.$("play").setAttribute("aria-busy", String(Boolean(this.busy)));
  }

  // The moving mark

  follow() {
    if (!this.run) return;
    const at = this.run.position();
    const now = new Set();
    const back = number(this.data.turn) - number(this.data.start);
    if (at !== null)
      for (const one of this.notes) {
        if (one.unheard) continue;
        const begin = (one.place ??= number(one.at));
        const end = begin + (one.lasts ??= number(one.length));
        if ((begin <= at && at < end) || (begin <= at - back && at - back < end)) now.add(one);
      }
    this.light(now);
    requestAnimationFrame(() => this.follow());
  }

  light(now) {
    const is = (one) => this.sounding.has(one);
    if (now.size === this.sounding.size && [...now].every(is) && [...this.lit].every((head) => head.isConnected)) return;
    this.sounding = now;
    const drawn = new Set([...now].flatMap((one) => this.drawn(one)));
    for (const head of this.lit) if (!drawn.has(head)) head.classList.remove("sounding");
    const fresh = [...drawn].filter((head) => !this.lit.has(head));
    for (const head of fresh) head.classList.add("sounding");
    this.lit = drawn;
    // Whoever looks at an ornament written out is not taken away from it.
    const systems = [...new Set(fresh.map((head) => head.closest(".system")).filter(Boolean))];
    if (!systems.some((system) => this.sees(system))) this.keepInSight(systems.find((system) => isNear(system)) ?? systems[0]);
  }

  // The heads that stand for a note, wherever its music is engraved. An ornament written out is lit as it falls now.
  drawn(one) {
    const own = one.ornament ? `[data-ornament="${escaped(one.ornament)}"][data-order="${one.order}"]` : `[data-source="${escaped(one.note)}"]:not([data-order])`;
    const heads = this.music.flatMap((place) => [...place.querySelectorAll(`g.note[data-note="${escaped(one.note)}"], .ossia g.note${own}`)]);
    return heads.filter((head) => {
      const { ornament, ossia } = head.closest(".ossia")?.dataset ?? {};
      return !ossia || (this.falls.get(ornament) ?? ossia) === ossia;
    });
  }

  sees(system) {
    const { top, bottom } = system.getBoundingClientRect();
    return top >= 0 && bottom <= window.innerHeight - this.element.offsetHeight;
  }

  keepInSight(system) {
    if (!system || system === this.shown) return;
    this.shown = system;
    const tall = system.getBoundingClientRect().height > window.innerHeight - this.element.offsetHeight;
    system.scrollIntoView({ block: tall ? "start" : "center", behavior: reduced.matches ? "auto" : "smooth" });
  }
}

// Some of it is in the window.
const isNear = (element) => {
  const { top, bottom } = element.getBoundingClientRect();
  return bottom > 0 && top < window.innerHeight;
};

const number = (text) => {
  const [over, under = 1] = String(text).split("/").map(Number);
  return over / under;
};

// The parts of a drill's grid as clicks; the first of the cycle is the strong one.
function grid(start, end, parts) {
  const [from, until] = [number(start), number(end)];
  const covers = (at) => at >= from - 1e-9 && at < until - 1e-9;
  return Array.from({ length: parts }, (_, place) => ({
    at: from + ((until - from) * place) / parts,
    click: true,
    strong: place === 0,
    covers,
  }));
}

// The page

function begin() {
  for (const element of document.querySelectorAll("[data-player]"))
    if (!players.has(element)) players.set(element, new Player(element));
  for (const element of players.keys())
    if (!element.isConnected) {
      players.get(element).stop();
      players.delete(element);
    }
}

// The player that was used last, or the one whose passage is in the middle of the window.
function nearest() {
  if (latest?.element.isConnected && (latest.run || latest.busy)) return latest;
  const middle = window.innerHeight / 2;
  const away = (player) => {
    const box = player.root === document ? player.element.getBoundingClientRect() : player.root.getBoundingClientRect();
    return box.top <= middle && box.bottom >= middle ? 0 : Math.min(Math.abs(box.top - middle), Math.abs(box.bottom - middle));
  };
  return [...players.values()].sort((a, b) => away(a) - away(b))[0];
}

const TAKES_SPACE = "input, textarea, select, button, summary, a[href], [contenteditable], [tabindex]:not(main), dialog[open]";

document.addEventListener("keydown", (event) => {
  if (event.key !== " " || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  if (event.target.closest(TAKES_SPACE) || document.querySelector("dialog[open]")) return;
  const player = nearest();
  if (!player) return;
  event.preventDefault();
  player.toggle();
});
document.body.addEventListener("htmx:afterSettle", () => {
  begin();
  for (const player of players.values()) player.old = true;
});
begin();
