// The engraved score: it is engraved for the width of its column, and a passage is marked by its first and last note.

const leaves = document.getElementById("leaves");
const bar = document.getElementById("passage-bar");
const here = document.getElementById("note-here");
const words = document.getElementById("range-words");
const hidden = { first: bar.elements.first_note, last: bar.elements.last_note };
const REACH = 34; // CSS pixels from a click to the note that is meant

const isTyping = (target) =>
  ["TEXTAREA", "SELECT"].includes(target.tagName) || (target.tagName === "INPUT" && target.type !== "radio");

// The notes: what each is called, and in which order they are struck

const notes = new Map(); // id -> { id, words, measure, beat, side, key: [onset, grace], pitch }
let lanes = { right: [], left: [] };
let cursor = "";

const compare = (a, b) => a.key[0] - b.key[0] || a.key[1] - b.key[1];
const order = (a, b) => compare(a, b) || a.pitch - b.pitch;
const groups = (id) => leaves.querySelectorAll(`g.note[data-note="${CSS.escape(id)}"]`);
const fill = (text, values) => text.replace(/%\((\w+)\)s/g, (_, name) => values[name] ?? "");
const tell = (note) => fill(bar.dataset.note, { ...note, hand: bar.dataset[note.side], note: note.words });

const take = () => {
  for (const script of leaves.querySelectorAll("script[type='application/json']")) {
    for (const [id, spoken, measure, beat, side, onset, grace, pitch, index] of JSON.parse(script.textContent)) {
      notes.set(id, { id, words: spoken, measure, beat, side, key: [onset, grace], pitch, index });
    }
    script.remove();
  }
  lanes = { right: [], left: [] };
  for (const group of leaves.querySelectorAll("g.note[data-note]")) {
    const note = notes.get(group.dataset.note);
    if (!note) continue;
    lanes[note.side].push(note);
    if (group.getAttribute("role") === "button") continue;
    group.setAttribute("role", "button");
    group.setAttribute("tabindex", "-1");
    group.setAttribute("aria-label", tell(note));
  }
  for (const svg of leaves.querySelectorAll("svg.engraving[role='img']")) svg.setAttribute("role", "group");
  lanes.right.sort(order);
  lanes.left.sort(order);
  if (!cursor || !groups(cursor).length) {
    const first = [...lanes.right, ...lanes.left].sort(order)[0];
    if (first) rove(first.id);
  } else {
    rove(cursor);
  }
  paint();
};

// The cursor: one note of the page can be reached by Tab, the arrows walk on from there

const rove = (id) => {
  for (const group of groups(cursor)) group.setAttribute("tabindex", "-1");
  cursor = id;
  groups(id)[0]?.setAttribute("tabindex", "0");
};

const go = (note) => {
  if (!note) return;
  rove(note.id);
  const group = groups(note.id)[0];
  group.focus({ preventScroll: true });
  group.scrollIntoView({ block: "nearest", inline: "nearest" });
};

const stack = (note) => [...lanes.right, ...lanes.left].filter((one) => !compare(one, note)).sort((a, b) => (a.side === b.side ? a.pitch - b.pitch : a.side === "left" ? -1 : 1));

const beside = (note, step) => {
  const lane = lanes[note.side];
  const others = lane.filter((one) => Math.sign(compare(one, note)) === step);
  if (!others.length) return null;
  const key = step > 0 ? others[0] : others[others.length - 1];
  const chord = others.filter((one) => !compare(one, key));
  return chord.reduce((best, one) => (Math.abs(one.pitch - note.pitch) < Math.abs(best.pitch - note.pitch) ? one : best));
};

const above = (note, step) => {
  const chord = stack(note);
  const next = chord[chord.indexOf(note) + step];
  if (next) return next;
  // The other hand strikes nothing now: what it struck last, or will strike next.
  const wanted = step > 0 ? "right" : "left";
  if (note.side === wanted) return null;
  const lane = lanes[wanted];
  const earlier = lane.filter((one) => compare(one, note) <= 0);
  return earlier.length ? earlier[earlier.length - 1] : lane[0];
};

const edge = (note, last) => {
  const inside = lanes[note.side].filter((one) => one.measure === note.measure && Math.abs(one.key[0] - note.key[0]) < 16);
  return inside[last ? inside.length - 1 : 0];
};

// To the next place with the same music, at the same note of it if that is on the page
const again = () => {
  const note = notes.get(cursor);
  const system = groups(cursor)[0]?.closest(".leaf-system");
  const first = Number(system?.dataset.first);
  const target = Number(system?.dataset.jumps.split(",")[note.index - first] || -1);
  if (target < 0) {
    here.textContent = bar.dataset.once;
    return;
  }
  const before = lanes[note.side].filter((one) => one.index === note.index).indexOf(note);
  const there = [...lanes[note.side], ...lanes.left, ...lanes.right].filter((one) => one.index === target);
  if (there.length) go(there[before] ?? there[0]);
  else location.assign(`?first=${target}#leaves`);
};

// The range: from one note to another, in either order

const hands = () => bar.querySelector("input[name=hands]:checked")?.value ?? "both";
const choose = (value) => {
  for (const radio of bar.querySelectorAll("input[name=hands]")) radio.checked = radio.value === value;
  describe();
};
const ends = () => {
  const pair = [notes.get(hidden.first.value), notes.get(hidden.last.value)];
  return pair[0] && pair[1] && compare(pair[1], pair[0]) < 0 ? pair.reverse() : pair;
};

const press = (id) => {
  if (!hidden.first.value || hidden.last.value) {
    hidden.first.value = id;
    hidden.last.value = "";
  } else {
    hidden.last.value = id;
    const [first, last] = ends();
    choose(first.side === last.side ? first.side : "both");
  }
  describe();
};

const clear = () => {
  if (!hidden.first.value) return;
  hidden.first.value = hidden.last.value = "";
  words.textContent = bar.dataset.cleared;
  describe();
};

const describe = () => {
  const [first, last] = ends();
  bar.classList.toggle("ready", Boolean(first && last));
  bar.classList.toggle("begun", Boolean(first));
  bar.classList.toggle("typed", bar.querySelector(".by-numbers").open);
  if (first && last) {
    const text = first.measure === last.measure ? bar.dataset.rangeOne : bar.dataset.range;
    words.textContent = fill(text, { first: first.measure, last: last.measure, from: first.beat, to: last.beat, hands: bar.dataset[hands()] });
  } else if (first) {
    words.textContent = fill(bar.dataset.begun, first);
  }
  paint();
};

const paint = () => {
  const [first, last] = ends();
  const side = hands();
  for (const group of leaves.querySelectorAll("g.note[data-note]")) {
    const note = notes.get(group.dataset.note);
    const isFirst = Boolean(note && first && note.id === first.id);
    const isLast = Boolean(note && last && note.id === last.id);
    const inside = Boolean(note && first && last && compare(note, first) >= 0 && compare(note, last) <= 0 && (side === "both" || side === note.side));
    group.classList.toggle("inside", inside);
    group.classList.toggle("end", isFirst || isLast);
    if (note) {
      group.setAttribute("aria-pressed", String(isFirst || isLast));
    }
  }
  for (const system of leaves.querySelectorAll(".system")) bracket(system, first, last);
};

// A bracket under the range, so that it is not shown by colour alone
const bracket = (system, first, last) => {
  const svg = system.querySelector("svg");
  svg?.querySelectorAll(".range-mark").forEach((mark) => mark.remove());
  if (!svg || !first) return;
  const marked = [...svg.querySelectorAll(last ? "g.note.inside, g.note.end" : "g.note.end")];
  if (!marked.length) return;
  const view = svg.viewBox.baseVal;
  const boxes = marked.map((group) => headBox(group, svg));
  const left = Math.min(...boxes.map((box) => box.x)) - 40;
  const right = Math.max(...boxes.map((box) => box.x + box.width)) + 40;
  const top = view.y + 20;
  const bottom = view.y + view.height - 20;
  const drop = 220;
  const begins = marked.some((group) => group.dataset.note === first.id);
  const finishes = last ? marked.some((group) => group.dataset.note === last.id) : false;
  const d = [];
  if (begins) d.push(`M${left + 130} ${top}H${left}V${top + drop}M${left} ${bottom - drop}V${bottom}H${left + 130}`);
  if (finishes) d.push(`M${right - 130} ${top}H${right}V${top + drop}M${right} ${bottom - drop}V${bottom}H${right - 130}`);
  if (last) d.push(`M${left} ${bottom}H${right}`);
  const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
  path.setAttribute("class", "range-mark");
  path.setAttribute("d", d.join(""));
  svg.append(path);
};

// Where a note's head is, in the picture's own units
const headBox = (group, svg) => {
  const box = (group.querySelector("use") ?? group).getBoundingClientRect();
  const frame = svg.getBoundingClientRect();
  const view = svg.viewBox.baseVal;
  const scale = view.width / frame.width;
  return { x: view.x + (box.x - frame.x) * scale, y: view.y + (box.y - frame.y) * scale, width: box.width * scale, height: box.height * scale };
};

// A ring around the note that has the focus
const ring = (group) => {
  leaves.querySelectorAll(".cursor-mark").forEach((mark) => mark.remove());
  const svg = group?.closest("svg");
  if (!svg) return;
  const box = headBox(group, svg);
  const mark = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  mark.setAttribute("class", "cursor-mark");
  for (const [name, value] of Object.entries({ x: box.x - 100, y: box.y - 100, width: box.width + 200, height: box.height + 200, rx: 90 })) {
    mark.setAttribute(name, value);
  }
  svg.append(mark);
};

// Mouse and touch: the note nearest to the click is meant

const nearest = (event) => {
  const svg = event.target.closest("svg.engraving");
  if (!svg) return null;
  let best = null;
  let least = REACH;
  for (const group of svg.querySelectorAll("g.note[data-note]")) {
    const box = (group.querySelector("use") ?? group).getBoundingClientRect();
    const far = Math.hypot(event.clientX - (box.x + box.width / 2), event.clientY - (box.y + box.height / 2));
    if (far < least) [best, least] = [group, far];
  }
  return best && notes.get(best.dataset.note);
};

leaves.addEventListener("click", (event) => {
  if (event.target.closest("a")) return;
  const note = nearest(event);
  if (!note) return;
  go(note);
  press(note.id);
});

leaves.addEventListener("focusin", (event) => {
  const note = notes.get(event.target.dataset?.note);
  if (!note) return;
  rove(note.id);
  here.textContent = tell(note);
  ring(event.target);
});

leaves.addEventListener("focusout", () => ring(null));

leaves.addEventListener("keydown", (event) => {
  const note = notes.get(event.target.dataset?.note);
  if (!note || event.altKey || event.ctrlKey || event.metaKey) return;
  const walk = {
    ArrowRight: () => go(beside(note, 1)),
    ArrowLeft: () => go(beside(note, -1)),
    ArrowUp: () => go(above(note, 1)),
    ArrowDown: () => go(above(note, -1)),
    Home: () => go(edge(note, false)),
    End: () => go(edge(note, true)),
    Enter: () => press(note.id),
    " ": () => press(note.id),
  }[event.key];
  if (!walk) return;
  event.preventDefault();
  walk();
});

// Single letters act only while the focus is in the music or in the bar, where they cannot take anyone by surprise
for (const place of [leaves, bar]) {
  place.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || isTyping(event.target)) return;
    const act = {
      Escape: clear,
      r: () => choose("right"),
      l: () => choose("left"),
      b: () => choose("both"),
      m: () => bar.classList.contains("ready") && bar.requestSubmit(),
      g: () => document.getElementById("measure").focus(),
      a: again,
    }[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });
}

bar.addEventListener("change", describe);
bar.querySelector(".by-numbers").addEventListener("toggle", describe);

// The width of the column: engraved anew when it changes, so that music is never shrunk

const probe = document.querySelector(".probe");
const columnNow = () => Math.floor(Math.min(1400, Math.max(280, probe.clientWidth)) / 20) * 20;
let waiting = 0;

const engraveAnew = async () => {
  const width = columnNow();
  if (width === Number(leaves.dataset.width)) return;
  leaves.dataset.width = width;
  document.cookie = `column=${width}; path=/; max-age=31536000; samesite=lax`;
  const systems = [...leaves.querySelectorAll(".leaf-system")];
  const top = systems.find((system) => system.getBoundingClientRect().bottom > 0);
  const scrolled = systems.length && systems[0].getBoundingClientRect().top < 0;
  const first = (scrolled ? top : systems[0])?.dataset.first ?? 0;
  const answer = await fetch(`${leaves.dataset.url}?first=${first}&width=${width}`).catch(() => null);
  const text = answer?.ok ? await answer.text() : "";
  if (!text || width !== Number(leaves.dataset.width)) return;
  const focused = leaves.contains(document.activeElement);
  leaves.innerHTML = text;
  htmx.process(leaves);
  take();
  if (scrolled) leaves.scrollIntoView({ block: "start" });
  if (focused) groups(cursor)[0]?.focus({ preventScroll: true });
};

new ResizeObserver(() => {
  clearTimeout(waiting);
  waiting = setTimeout(engraveAnew, 120);
}).observe(probe);

document.body.addEventListener("htmx:afterSettle", (event) => {
  if (leaves.contains(event.target) || event.target === leaves) take();
});

document.documentElement.classList.add("scripted");
take();
describe();
