// The preparation list and the music move together: a finding shows its notes, the music shows which findings are near.

const list = document.getElementById("findings");
const leaves = document.getElementById("leaves");
const pane = document.querySelector(".list-pane");
const probe = document.querySelector(".probe");
const progress = document.getElementById("progress");
const trouble = document.getElementById("list-trouble");
const items = [...(list?.querySelectorAll(".finding") ?? [])];
const REACH = 34; // CSS pixels from a click to the note that is meant
const QUIET = 700; // milliseconds in which scrolling is the page's own

let current = null;
let silentUntil = 0;

const link = (item) => item.querySelector(".to-music");
const groups = (id) => leaves.querySelectorAll(`g.note[data-note="${CSS.escape(id)}"]`);
const notesOf = (item) => (item ? item.dataset.notes.split(" ").filter(Boolean) : []);
const systems = () => [...leaves.querySelectorAll(".leaf-system")];
const isLow = () => getComputedStyle(pane).bottom === "0px"; // the list lies under the music
const smooth = () => (matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth");

// The list

const select = (item, { focus = false, music = true } = {}) => {
  if (!item) return;
  if (current) {
    current.classList.remove("current");
    link(current).removeAttribute("aria-current");
    link(current).tabIndex = -1;
  }
  current = item;
  current.classList.add("current");
  link(current).setAttribute("aria-current", "true");
  link(current).tabIndex = 0;
  if (focus) link(current).focus({ preventScroll: true });
  keepInView(current);
  mark();
  if (music) showMusic(current);
};

const keepInView = (item) => {
  const frame = pane.getBoundingClientRect();
  const box = item.getBoundingClientRect();
  const top = Math.max(0, frame.top) + pane.querySelector(".list-head").offsetHeight + 8;
  const bottom = Math.min(innerHeight, frame.bottom) - 8; // The pane may reach below the window.
  if (box.top < top) pane.scrollTop -= top - box.top;
  else if (box.bottom > bottom) pane.scrollTop += Math.min(box.bottom - bottom, box.top - top);
};

const step = (by) => select(items[items.indexOf(current) + by], { focus: true });

// The music

const systemWith = (measure) =>
  systems().find((system) => Number(system.dataset.first) <= measure && measure <= Number(system.dataset.last));

// The systems from a measure on, in place of those that are there. Of two that are asked for the later one counts.
let asking = 0;
let awaited = null;
const load = async (first) => {
  const mine = ++asking;
  awaited = first;
  const answer = await fetch(`${leaves.dataset.url}?first=${first}&width=${leaves.dataset.width}`).catch(() => null);
  const text = answer?.ok ? await answer.text() : "";
  if (mine !== asking) return;
  awaited = null;
  if (!text) return;
  leaves.innerHTML = text;
  htmx.process(leaves);
  mark();
};

const showMusic = async (item) => {
  const measure = Number(item.dataset.first);
  if (!systemWith(measure)) await load(measure);
  const system = item === current && systemWith(measure);
  if (!system) return;
  silentUntil = Date.now() + QUIET;
  const box = system.getBoundingClientRect();
  const bottom = isLow() ? pane.getBoundingClientRect().top : innerHeight;
  const room = bottom - box.height;
  if (box.top < 0 || box.bottom > bottom) scrollBy({ top: box.top - Math.max(8, room / 3), behavior: smooth() });
};

const headBox = (group, svg) => {
  const box = (group.querySelector("use") ?? group).getBoundingClientRect();
  const frame = svg.getBoundingClientRect();
  const view = svg.viewBox.baseVal;
  const scale = view.width / frame.width;
  return { x: view.x + (box.x - frame.x) * scale, y: view.y + (box.y - frame.y) * scale, width: box.width * scale, height: box.height * scale };
};

// The notes of the finding in blue, and a dotted frame around them in each system: not by colour alone
const mark = () => {
  leaves.querySelectorAll(".found-mark").forEach((frame) => frame.remove());
  leaves.querySelectorAll("g.note.found").forEach((group) => group.classList.remove("found"));
  const inside = new Map();
  for (const id of notesOf(current)) {
    for (const group of groups(id)) {
      group.classList.add("found");
      const svg = group.closest("svg");
      inside.set(svg, [...(inside.get(svg) ?? []), headBox(group, svg)]);
    }
  }
  for (const [svg, boxes] of inside) {
    const left = Math.min(...boxes.map((box) => box.x)) - 110;
    const top = Math.min(...boxes.map((box) => box.y)) - 110;
    const right = Math.max(...boxes.map((box) => box.x + box.width)) + 110;
    const bottom = Math.max(...boxes.map((box) => box.y + box.height)) + 110;
    const frame = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    frame.setAttribute("class", "found-mark");
    for (const [name, value] of Object.entries({ x: left, y: top, width: right - left, height: bottom - top, rx: 90 })) {
      frame.setAttribute(name, value);
    }
    svg.append(frame);
  }
};

leaves.addEventListener("click", (event) => {
  const svg = event.target.closest("svg.engraving");
  if (!svg) return;
  let best = null;
  let least = REACH;
  for (const group of svg.querySelectorAll("g.note[data-note]")) {
    const box = (group.querySelector("use") ?? group).getBoundingClientRect();
    const far = Math.hypot(event.clientX - (box.x + box.width / 2), event.clientY - (box.y + box.height / 2));
    if (far < least) [best, least] = [group.dataset.note, far];
  }
  const measure = Number(event.target.closest("g.measure")?.dataset.measure ?? NaN);
  const having = best ? items.filter((item) => notesOf(item).includes(best)) : [];
  // Pressed once more, a note leads to the next finding that it stands in.
  const next = having[(having.indexOf(current) + 1) % Math.max(1, having.length)];
  select(next ?? items.find((item) => Number(item.dataset.first) === measure), { music: false, focus: true });
});

// Scrolling the music shows which findings stand in what is read now
const near = () => {
  const line = (isLow() ? pane.getBoundingClientRect().top : innerHeight) * 0.4;
  const system = systems().find((one) => one.getBoundingClientRect().bottom > line);
  if (!system) return;
  const [first, last] = [Number(system.dataset.first), Number(system.dataset.last)];
  for (const item of items) {
    item.classList.toggle("near", Number(item.dataset.first) <= last && Number(item.dataset.last) >= first);
  }
  if (Date.now() < silentUntil) return;
  const begins = items.find((item) => Number(item.dataset.first) >= first);
  if (begins) pane.scrollTop += begins.getBoundingClientRect().top - pane.getBoundingClientRect().top - pane.querySelector(".list-head").offsetHeight - 8;
};
let isAsked = false;
addEventListener(
  "scroll",
  () => {
    if (isAsked) return;
    isAsked = true;
    requestAnimationFrame(() => {
      isAsked = false;
      near();
    });
  },
  { passive: true },
);

// Ticks

const showTick = (item, looked) => {
  const box = item.querySelector(".tick-box");
  item.classList.toggle("looked", looked);
  box.setAttribute("aria-pressed", String(looked));
  box.name = looked ? "forget" : "look";
  progress.dataset.looked = Number(progress.dataset.looked) + (looked ? 1 : -1);
  progress.textContent = progress.dataset.words.replace("%(looked)s", progress.dataset.looked).replace("%(count)s", progress.dataset.count);
  pane.querySelector("progress").value = progress.dataset.looked;
};

const tick = async (item) => {
  const box = item.querySelector(".tick-box");
  const body = new FormData(list);
  body.set(box.name, box.value);
  const looked = box.name === "look";
  showTick(item, looked);
  const answer = await fetch(list.dataset.look, { method: "POST", body, headers: { "X-Requested-With": "XMLHttpRequest" } }).catch(() => null);
  const isKept = Boolean(answer?.ok && answer.headers.get("Content-Type")?.includes("json"));
  trouble.hidden = isKept;
  trouble.textContent = isKept ? "" : trouble.dataset.words;
  if (!isKept) showTick(item, !looked);
};

// Keys act while the focus is in the list

list?.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey || !current) return;
  const onLink = event.target.classList.contains("to-music");
  const act = {
    ArrowDown: () => step(1),
    j: () => step(1),
    ArrowUp: () => step(-1),
    k: () => step(-1),
    Home: () => select(items[0], { focus: true }),
    End: () => select(items[items.length - 1], { focus: true }),
    x: () => tickAndWalk(current),
    ...(onLink && { " ": () => tickAndWalk(current), Enter: () => current.querySelector(".begin")?.click() }),
  }[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!act) return;
  event.preventDefault();
  act();
});

const tickAndWalk = (item) => {
  const isNew = !item.classList.contains("looked");
  tick(item);
  if (isNew) step(1);
};

list?.addEventListener("click", (event) => {
  const item = event.target.closest(".finding");
  if (!item || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
  if (event.target.closest(".tick-box")) {
    event.preventDefault();
    tick(item);
  } else if (event.target.closest(".to-music")) {
    event.preventDefault();
    select(item, { focus: true });
  }
});

// The width of the column: engraved anew when it changes, so that music is never shrunk

const columnNow = () => Math.floor(Math.min(1400, Math.max(280, probe.clientWidth)) / 20) * 20;
let waiting = 0;

const engraveAnew = async () => {
  const width = columnNow();
  if (width === Number(leaves.dataset.width)) return;
  leaves.dataset.width = width;
  document.cookie = `list_column=${width}; path=/; max-age=31536000; samesite=lax`;
  const top = systems().find((system) => system.getBoundingClientRect().bottom > 0) ?? systems()[0];
  await load(awaited ?? top?.dataset.first ?? 0);
};

new ResizeObserver(() => {
  clearTimeout(waiting);
  waiting = setTimeout(engraveAnew, 120);
}).observe(probe);

document.body.addEventListener("htmx:afterSettle", (event) => {
  if (leaves.contains(event.target) || event.target === leaves) {
    mark();
    near();
  }
});

document.documentElement.classList.add("scripted");
for (const item of items) link(item).tabIndex = -1;
select(items.find((item) => !item.classList.contains("looked")) ?? items[0], { music: isLow(), focus: !location.hash && items.length > 0 });
