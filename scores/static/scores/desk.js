// The desk: fingers typed over the engraved notes, and the music engraved anew for the width of its column.

// A served site gives every file a name that changes with its content, and the page alone knows these names: so it says
// where the parts are.
const parts = document.getElementById("desk-script").dataset;
const { drawDigit, drawProblems, escaped, markLabel, markPlace, placeOf } = await import(parts.drawing);
const { Keeper } = await import(parts.keeping);
const { enhancePlan } = await import(parts.plan);
const { TypedLine } = await import(parts.typing);

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
  if (desk().dataset.newLine) bar().focus({ preventScroll: true });
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
  for (const note of line.slots) drawDigit(music(), line, note);
  drawProblems(music(), line);
  const field = document.getElementById(`fingers-${line.key}`);
  if (field && document.activeElement !== field && !field.hasAttribute("aria-invalid")) field.value = line.asText;
  const seen = field?.form.elements.seen;
  if (seen) seen.value = line.seen;
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
  const place = placeOf(music(), current, current.note);
  if (place) markPlace(place);
  music().querySelector(`g.note[data-note="${escaped(current.note ?? "")}"]`)?.classList.add("at");
  if (place && document.activeElement === bar()) keepInSight(place);
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
  if (JSON.stringify(line.fingers) !== line.weighed) weighAgain(line);
  if (bounded && !line.dirty) fitMusic(true);
}

// What was said of the line in a student's hand holds no longer: the table is weighed anew once the typing rests.
let weighing = 0;
function weighAgain(line) {
  line.weighed = JSON.stringify(line.fingers);
  for (const remark of music().querySelectorAll(`[data-for-line="${escaped(line.key)}"]`)) remark.remove();
  clearTimeout(weighing);
  weighing = setTimeout(() => htmx.trigger("#hands", "line-kept"), 900);
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
  for (const note of new Set([...standing, spoken, current.note])) if (note) drawDigit(music(), current, note);
  after(before, spoken);
}

function after(before, spoken) {
  if (current.changed !== before) {
    // What was wrong may be mended by now: the marks go until the line has been looked at again.
    keeper.keepSoon(current);
    told(current, "keeping");
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
  for (const note of current.moments.flat()) drawDigit(music(), current, note);
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

// A digit that is no finger is refused aloud, and the cursor stays.
function refuse(digit) {
  const kept = document.getElementById("typing-kept");
  kept.textContent = fill(bar().dataset.noFinger, { typed: digit });
  kept.classList.add("waiting");
}

const TYPED = /^([0-5. -]|Backspace|Delete|Home|End|ArrowLeft|ArrowRight)$/;

function onKey(event) {
  if (event.target.closest("#typing") === null || event.target.closest("#typing-trouble")) return;
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !event.shiftKey) {
    event.preventDefault();
    return undo();
  }
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const digit = event.code?.match(/^Numpad([0-9])$/)?.[1] ?? event.key;
  if (TYPED.test(digit)) {
    event.preventDefault();
    typed(digit);
  } else if (/^[6-9]$/.test(digit)) {
    event.preventDefault();
    refuse(digit);
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
  bar().focus({ preventScroll: true });
  drawCursor();
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
// After it has settled: until then classes of the old page may still be laid over the new.
document.body.addEventListener("htmx:afterSettle", (event) => {
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
