// The desk: fingers typed over the engraved notes, and the music engraved anew for the width of its column.

import { Keeper } from "./desk_keeping.js";
import { enhancePlan } from "./desk_plan.js";
import { TypedLine } from "./desk_typing.js";

const SVG = "http://www.w3.org/2000/svg";
// As in scores/digits.py: a place is one digit's step high and half the rule's drop more.
const STEP = 0.86;
const BELOW = 47.5;
const [FIGURE, DASH] = [0.5, 0.33];
const [GAP, LEAST] = [0.52, 0.6];
const WIDTH_STEP = 20;

const lines = new Map();
let data = {};
let current = null;
let elsewhere = null;

const desk = () => document.getElementById("desk");
const music = () => document.getElementById("desk-music");
const bar = () => document.getElementById("typing");
const tidyWidth = (width) => Math.floor(width / WIDTH_STEP) * WIDTH_STEP;
const fill = (text, values) => text.replace(/%\((\w+)\)s/g, (_, name) => values[name] ?? "");
const escaped = (id) => CSS.escape(id);

const keeper = new Keeper(told);

// The page as it stands

function begin() {
  data = JSON.parse(document.getElementById("desk-data").textContent);
  for (const found of data.lines) {
    const line = lines.get(found.key);
    if (!line) lines.set(found.key, new TypedLine(found, data.moments[found.side]));
    else if (!line.dirty) line.adopt(found);
  }
  const here = new Set(data.lines.map((line) => line.key));
  for (const key of lines.keys()) if (!here.has(key)) lines.delete(key);
  for (const button of desk().querySelectorAll("[data-type-line]")) button.hidden = false;
  bar().hidden = lines.size === 0;
  const wanted = desk().dataset.newLine ?? current?.key ?? location.hash.match(/^#line-(\d+)$/)?.[1];
  choose(lines.get(wanted) ?? null);
  if (desk().dataset.newLine) bar().focus();
  drawAll();
  if (tidyWidth(music().clientWidth) !== 0) fitMusic();
}

function columnWidth() {
  const column = music().querySelector(".system");
  return tidyWidth(column ? column.clientWidth : music().clientWidth);
}

// Engraved anew for the width of its column, never shrunk. The column changes when a window is resized or turned.
function fitMusic(force = false) {
  const width = columnWidth();
  if (!width || (!force && Number(music().dataset.width) === width)) return;
  htmx.ajax("GET", `${music().dataset.url}?width=${width}`, { target: "#desk-music", swap: "outerHTML" });
}

// Drawing

function drawAll() {
  for (const note of data.outside) music().querySelector(`g.note[data-note="${escaped(note)}"]`)?.classList.add("outside");
  for (const line of lines.values()) drawLine(line);
  drawCursor();
}

function drawLine(line) {
  for (const note of line.slots) drawDigit(line, note);
  drawProblems(line);
  const field = document.getElementById(`fingers-${line.key}`);
  if (field && document.activeElement !== field && !field.hasAttribute("aria-invalid")) field.value = line.asText;
  const seen = field?.form.elements.seen;
  if (seen) seen.value = line.seen;
}

const placeOf = (line, note) =>
  music().querySelector(`rect.place[data-line="${escaped(line.key)}"][data-note="${escaped(note)}"]`);

function drawDigit(line, note) {
  const place = placeOf(line, note);
  if (!place) return;
  let digit = place.parentNode.querySelector(`text.digit[data-note="${escaped(note)}"]`);
  const text = line.text(note);
  if (!text) return digit?.remove();
  if (!digit) {
    digit = document.createElementNS(SVG, "text");
    digit.setAttribute("class", "digit");
    digit.dataset.note = note;
    digit.dataset.line = line.key;
    digit.setAttribute("text-anchor", "middle");
    place.after(digit);
  }
  const [x, y, width, height] = box(place);
  const size = (height - BELOW) / STEP;
  digit.setAttribute("x", x + width / 2);
  digit.setAttribute("y", y + height - BELOW);
  digit.setAttribute("font-size", size * fit(place, text, size));
  digit.textContent = text;
}

const box = (place) => ["x", "y", "width", "height"].map((name) => Number(place.getAttribute(name)));
const middleOf = (place) => box(place)[0] + box(place)[2] / 2;

// "4-5" shrinks between its neighbours; single figures stay as they are.
function fit(place, text, size) {
  if (text.length < 2) return 1;
  const middle = middleOf(place);
  const all = [...place.parentNode.querySelectorAll("rect.place")];
  const apart = all.map((other) => Math.abs(middleOf(other) - middle)).filter((distance) => distance > 1);
  const figures = text.replaceAll("-", "").length;
  const width = size * (FIGURE * figures + DASH * (text.length - figures));
  return apart.length ? Math.min(1, Math.max(LEAST, (2 * (Math.min(...apart) - GAP * size)) / width)) : 1;
}

// A ring around the digit, whole or dashed, so that what is wrong does not depend on colour.
function drawProblems(line) {
  music().querySelectorAll(`.slip[data-line="${escaped(line.key)}"]`).forEach((slip) => slip.remove());
  for (const problem of line.problems) {
    const place = problem.notes[0] && placeOf(line, problem.notes[0]);
    if (!place) continue;
    const [x, y, width, height] = box(place);
    const step = height - BELOW;
    const ring = document.createElementNS(SVG, "ellipse");
    ring.setAttribute("class", problem.cannot ? "slip cannot" : "slip");
    ring.dataset.line = line.key;
    ring.setAttribute("cx", x + width / 2);
    ring.setAttribute("cy", y + step * 0.6);
    ring.setAttribute("rx", step * (line.text(problem.notes[0]).length > 1 ? 0.85 : 0.56));
    ring.setAttribute("ry", step * 0.56);
    const title = document.createElementNS(SVG, "title");
    title.textContent = problem.text;
    ring.append(title);
    place.parentNode.append(ring);
  }
}

function drawCursor() {
  for (const marked of desk().querySelectorAll(".at, .current")) marked.classList.remove("at", "current");
  for (const mark of music().querySelectorAll(".hand-mark, .cursor")) mark.remove();
  if (!current) return;
  document.getElementById(`line-${current.key}`)?.classList.add("current");
  for (const drawn of music().querySelectorAll(`.finger-line[data-line="${escaped(current.key)}"]`)) {
    drawn.classList.add("current");
    markLabel(drawn);
  }
  const place = placeOf(current, current.note);
  if (place) markPlace(place);
  music().querySelector(`g.note[data-note="${escaped(current.note ?? "")}"]`)?.classList.add("at");
  if (place && document.activeElement === bar()) keepInSight(place);
}

// A box around the place where the next finger goes.
function markPlace(place) {
  const [x, y, width, height] = box(place);
  const wide = Math.max(width + 60, 250);
  const mark = document.createElementNS(SVG, "rect");
  const shape = { class: "cursor", x: x + width / 2 - wide / 2, y: y - 10, width: wide, height: height + 10, rx: 30 };
  for (const [name, value] of Object.entries(shape)) mark.setAttribute(name, value);
  place.before(mark);
}

// A pointer before the numeral of the line that is typed into: marked by more than its colour.
function markLabel(drawn) {
  const label = drawn.querySelector(".line-label");
  if (!label) return;
  const size = Number(label.getAttribute("font-size"));
  const mark = document.createElementNS(SVG, "path");
  const left = Number(label.getAttribute("x")) - label.getBBox().width - size * 0.7;
  const middle = Number(label.getAttribute("y")) - size * 0.33;
  mark.setAttribute("class", "hand-mark");
  mark.setAttribute("d", `M${left} ${middle - size * 0.24}l${size * 0.45} ${size * 0.24}l${-size * 0.45} ${size * 0.24}z`);
  drawn.append(mark);
}

function keepInSight(place) {
  const at = place.closest(".desk-row").getBoundingClientRect();
  const room = window.innerHeight - bar().offsetHeight;
  if (at.top < 0 || at.bottom > room) place.closest(".desk-row").scrollIntoView({ block: at.height > room ? "start" : "nearest" });
}

// Saying

const whereOf = (note) => {
  const found = data.notes[note];
  return found ? fill(found.grace ? data.words.grace : data.words.note, found) : "";
};

function say(note) {
  if (!current || !note) return;
  const text = current.text(note) || data.words.unmarked;
  const next = note === current.note ? "" : `. ${fill(data.words.next, { note: whereOf(current.note) })}`;
  document.getElementById("typing-said").textContent = `${whereOf(note)}: ${text}${next}`;
}

function showWhere() {
  const where = document.getElementById("typing-where");
  bar().classList.toggle("idle", !current);
  where.textContent = current ? `${current.numeral} · ${whereOf(current.note)}` : data.words.choose;
}

function told(line, state, answer) {
  const kept = document.getElementById("typing-kept");
  if (state === "kept" || (state === "keeping" && answer)) show(line, answer);
  if (state === "elsewhere") ask(line, answer);
  if (line === current || state !== "kept") kept.textContent = answer?.trouble ?? data.words[state];
  kept.classList.toggle("waiting", !["kept", "keeping"].includes(state));
}

// What the server found in a line that it has kept.
function show(line, answer) {
  // Another stretch, or a suggestion that has become the teacher's, is engraved anew.
  const bounded = line.first !== line.keptFirst || line.last !== line.keptLast || line.mark !== answer.mark;
  document.getElementById(`line-${line.key}`)?.classList.replace(line.mark, answer.mark);
  line.mark = answer.mark;
  [line.keptFirst, line.keptLast] = [line.first, line.last];
  line.problems = answer.problems;
  document.getElementById(`problems-${line.key}`)?.replaceChildren(...parsed(answer.problemsHtml));
  document.getElementById("joins")?.replaceChildren(...parsed(answer.joinsHtml));
  document.getElementById(`line-${line.key}`)?.classList.toggle("cannot", answer.problems.some((one) => one.cannot));
  document.getElementById(`fingers-${line.key}`)?.removeAttribute("aria-invalid");
  drawLine(line);
  if (bounded && !line.dirty) fitMusic(true);
}

const parsed = (html) => [...new DOMParser().parseFromString(html, "text/html").body.childNodes];

// Another window changed the line: say what it is there, and let the teacher decide.
function ask(line, answer) {
  if (!answer || answer.trouble) return;
  elsewhere = { line, answer };
  const differs = line.slots.filter((note) => (answer.fingers[note] ?? "") !== (line.fingers[note] ?? ""));
  const say = (fingers, note) => fingers[note] ?? data.words.unmarked;
  const list = document.createElement("ul");
  for (const note of differs.slice(0, 12)) {
    const item = document.createElement("li");
    const values = { note: whereOf(note), there: say(answer.fingers, note), here: say(line.fingers, note) };
    item.textContent = fill(data.words.differs, values);
    list.append(item);
  }
  const head = document.createElement("p");
  head.textContent = fill(data.words.changed, { numeral: line.numeral });
  const trouble = document.getElementById("typing-trouble");
  trouble.replaceChildren(head, list, choice("theirs", data.words.theirs), choice("ours", data.words.ours));
  trouble.hidden = false;
}

function choice(name, words) {
  const button = document.createElement("button");
  button.type = "button";
  button.dataset.decide = name;
  button.textContent = words;
  return button;
}

function decide(how) {
  const { line, answer } = elsewhere;
  elsewhere = null;
  const trouble = document.getElementById("typing-trouble");
  trouble.hidden = true;
  trouble.replaceChildren();
  if (how === "ours") {
    line.seen = answer.seen;
    keeper.keepSoon(line, 0);
  } else {
    line.remember();
    line.adopt(answer);
    line.kept = line.changed;
    show(line, answer);
  }
  drawCursor();
  bar().focus();
}

// Moving and typing

function choose(line, note) {
  if (current && current !== line) current.pending = "";
  current = line;
  if (line && note) line.goTo(note);
  if (line && line.keptFirst === undefined) [line.keptFirst, line.keptLast] = [line.first, line.last];
  drawCursor();
  showWhere();
}

function toLine(step) {
  const all = [...lines.values()];
  const next = all[all.indexOf(current) + step];
  if (!next) return;
  const note = next.slots.includes(current?.note) ? current.note : undefined;
  choose(next, note);
  say(next.note);
}

function typed(key) {
  if (!current) choose(lines.values().next().value ?? null);
  if (!current) return;
  const before = current.changed;
  const standing = new Set([current.note, current.pendingNote]);
  const spoken = current.press(key);
  if (spoken === null) return;
  for (const note of new Set([...standing, spoken, current.note])) if (note) drawDigit(current, note);
  after(before, spoken);
}

function after(before, spoken) {
  if (current.changed !== before) {
    // What was wrong may be mended by now: the marks go until the line has been looked at again.
    keeper.keepSoon(current);
    const field = document.getElementById(`fingers-${current.key}`);
    if (field) field.value = current.asText;
  }
  drawCursor();
  showWhere();
  say(spoken);
}

function undo() {
  if (!current) return;
  const before = current.changed;
  if (!current.undo()) return;
  for (const note of current.moments.flat()) drawDigit(current, note);
  after(before, current.note);
}

function newLine() {
  const side = current?.side ?? Object.keys(data.moments)[0];
  const values = { side };
  htmx.ajax("POST", data.newLine, { target: "#desk", swap: "outerHTML show:none", values });
}

function cueHere() {
  const form = document.getElementById("new-cue");
  if (current) form.elements.place.value = `note:${current.note}`;
  form.elements.text.focus();
}

const COMMANDS = {
  n: newLine,
  c: cueHere,
  "[": () => bound("first"),
  "]": () => bound("last"),
  ArrowUp: () => toLine(-1),
  ArrowDown: () => toLine(1),
  Escape: leave,
};

function leave() {
  const opener = current && desk().querySelector(`[data-type-line="${escaped(current.key)}"]`);
  if (opener) opener.focus();
  else bar().blur();
  drawCursor();
}

function bound(end) {
  if (!current) return;
  const before = current.changed;
  current.bound(end);
  after(before, current.note);
}

const TYPED = /^([0-5. -]|Backspace|Delete|Home|End|ArrowLeft|ArrowRight)$/;

function onKey(event) {
  if (event.target.closest("#typing") === null || event.target.closest("#typing-trouble")) return;
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !event.shiftKey) {
    event.preventDefault();
    return undo();
  }
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const digit = event.code?.match(/^Numpad([0-5])$/)?.[1] ?? event.key;
  if (TYPED.test(digit)) {
    event.preventDefault();
    typed(digit);
  } else if (COMMANDS[event.key]) {
    event.preventDefault();
    COMMANDS[event.key]();
  }
}

function onClick(event) {
  const pad = event.target.closest("[data-key]");
  if (pad) return typed(pad.dataset.key);
  const decided = event.target.closest("[data-decide]");
  if (decided) return decide(decided.dataset.decide);
  const closing = event.target.closest("[data-close]");
  if (closing) return close(closing);
  const opener = event.target.closest("[data-type-line]");
  if (opener) return typeInto(lines.get(opener.dataset.typeLine));
  const drawn = event.target.closest?.("#desk-music [data-line]");
  const line = drawn && lines.get(drawn.dataset.line);
  if (line) return typeInto(line, nearest(line, event, event.target.closest("[data-note]")?.dataset.note));
  const head = event.target.closest?.("#desk-music g.note");
  if (head) typeAt(head.dataset.note);
}

// A click beside the digits means the nearest place of that line.
function nearest(line, event, note) {
  if (note) return note;
  const middle = (place) => place.getBoundingClientRect().left + place.getBoundingClientRect().width / 2;
  const row = event.target.closest("svg");
  const places = [...row.querySelectorAll(`rect.place[data-line="${escaped(line.key)}"]`)];
  places.sort((a, b) => Math.abs(middle(a) - event.clientX) - Math.abs(middle(b) - event.clientX));
  return places[0]?.dataset.note;
}

function typeAt(note) {
  const line = current?.slots.includes(note) ? current : [...lines.values()].find((one) => one.slots.includes(note));
  if (line) typeInto(line, note);
}

function typeInto(line, note) {
  choose(line, note);
  bar().focus();
  say(line.note);
}

// A form that was opened in place goes, and what stood there comes back.
function close(button) {
  const note = button.closest(".remark");
  if (note) return fitMusic(true);
  const holder = button.closest(".desk-note").parentNode;
  holder.replaceChildren();
  holder.parentNode.querySelector("a")?.focus();
}

// The page and its parts

document.addEventListener("keydown", onKey);
document.addEventListener("click", onClick);
document.body.addEventListener("htmx:configRequest", (event) => {
  event.detail.headers["X-Column"] = String(columnWidth());
});
// What was typed goes first, so that the desk that comes back has it.
document.body.addEventListener("htmx:confirm", (event) => {
  if (event.detail.verb === "get" || !keeper.unkept) return;
  event.preventDefault();
  keeper.settled().then(() => event.detail.issueRequest(true));
});
document.body.addEventListener("htmx:beforeSwap", (event) => {
  if ([409, 422].includes(event.detail.xhr.status)) Object.assign(event.detail, { shouldSwap: true, isError: false });
});
document.body.addEventListener("htmx:afterSwap", (event) => {
  if (!document.getElementById("desk-data")) return;
  refresh();
  enhancePlan(desk());
  // A form that was opened, or that came back with what is wrong in it, takes the focus.
  const found = document.getElementById(event.detail.target.id);
  const form = found?.matches(".desk-note") ? found : found?.matches("#desk, #desk-music") ? null : found?.querySelector(".desk-note");
  form?.querySelector("input:not([type=hidden]), select, textarea")?.focus();
});

let shown = null;
function refresh() {
  if (shown === desk()) {
    drawAll();
    fitMusic();
  } else {
    shown = desk();
    begin();
  }
}

let turning = 0;
window.addEventListener("resize", () => {
  clearTimeout(turning);
  turning = setTimeout(fitMusic, 150);
});

refresh();
