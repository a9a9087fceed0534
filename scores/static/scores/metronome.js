// The metronome by itself. Clicks come from the audio clock; the picture follows them.

const sound = document.getElementById("sound").dataset;
const page = document.getElementById("metronome");
const { tapped } = await import(page.dataset.taps);
const words = page.dataset;
const marks = [...range(Number(words.slowest), 40, 2), ...words.marks.split(" ").map(Number)];
const $ = (name) => page.querySelector(`[data-${name}]`);
const taps = [];
let engine = null;
let run = null;
let busy = null;

function range(from, until, step) {
  return Array.from({ length: (until - from) / step }, (_, place) => from + place * step);
}

const say = (text) => ($("said").textContent = text);
const whole = (field, least, most) => Math.min(most, Math.max(least, Math.round(Number(field.value)) || least));
const perMeasure = () => whole($("per-measure"), 1, 16);

function tempo() {
  const asked = Number($("tempo").value);
  return asked >= Number(words.slowest) && asked <= Number(words.fastest) ? asked : null;
}

function retime() {
  const now = tempo();
  $("tempo").setAttribute("aria-invalid", String(now === null));
  say(now === null ? words.wordTempo : "");
  if (now !== null) run?.retime(now);
}

function step(way) {
  const now = tempo() ?? 60;
  const next = way > 0 ? marks.find((mark) => mark > now) : marks.findLast((mark) => mark < now);
  if (next) $("tempo").value = next;
  retime();
}

function tap(stamp) {
  taps.push(stamp);
  if (taps.length > 32) taps.shift();
  const found = tapped(taps);
  if (!found) return say(words.wordTaps);
  const within = Math.min(Number(words.fastest), Math.max(Number(words.slowest), found.tempo));
  $("tempo").value = Math.round(within);
  retime();
  say(words.wordTapped.replace("%(tempo)s", Math.round(within)).replace("%(count)s", found.count));
}

// One measure of clicks; the smaller ones between the beats are softer.
function clicks() {
  const [beats, split] = [perMeasure(), Number($("split").value)];
  return Array.from({ length: beats * split }, (_, place) => ({
    at: [place, split],
    click: true,
    strong: place === 0 && $("accent").checked,
    voice: place % split ? "small" : "click",
    beat: place % split ? null : place / split,
  }));
}

function draw() {
  const beats = Array.from({ length: perMeasure() }, (_, place) => {
    const head = document.createElement("li");
    head.classList.toggle("strong", place === 0 && $("accent").checked);
    return head;
  });
  $("beats").replaceChildren(...beats);
}

function mark(beat) {
  [...$("beats").children].forEach((head, place) => head.classList.toggle("now", place === beat));
}

async function start() {
  if (tempo() === null) return retime();
  const turn = (busy = {});
  show();
  try {
    if (!engine) say(words.wordFetching);
    const { open } = await import(sound.engine).catch((wrong) => {
      throw new Error(sound.wordLibrary, { cause: wrong });
    });
    engine = await open(sound, {});
    if (busy !== turn) return;
    engine.level("small", 0.45);
    busy = null;
    say("");
    begin();
  } catch (wrong) {
    say(wrong.message);
  } finally {
    if (busy === turn) busy = null;
    show();
  }
}

function begin(at) {
  run = engine.schedule(clicks(), {
    tempo: tempo(),
    until: perMeasure(),
    loop: true,
    start: at,
    onSound: ({ beat }) => beat !== null && mark(beat),
    onEnd: () => mark(-1),
  });
}

function stop() {
  busy = null;
  run?.stop();
  run = null;
  show();
}

// Another measure: the clicks anew, from its first beat.
function changed() {
  draw();
  if (run) begin();
}

const toggle = () => (run || busy ? stop() : start());
const show = () => ($("go").textContent = run || busy ? words.wordStop : words.wordStart);

const COMMANDS = { " ": toggle, ArrowUp: () => step(1), ArrowDown: () => step(-1) };

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  if (event.target.closest("input, select, textarea")) return;
  if (event.key === "t") return event.repeat ? undefined : tap(event.timeStamp);
  if (/^[1-9]$/.test(event.key)) {
    $("per-measure").value = event.key;
    return changed();
  }
  if (event.key === " " && event.target.closest("button, a, summary")) return;
  if (COMMANDS[event.key]) {
    event.preventDefault();
    COMMANDS[event.key]();
  }
});
$("go").addEventListener("click", toggle);
// The moment of the touch, not of the finger's leaving; a key press on the button comes as a click without a pointer.
$("tap").addEventListener("pointerdown", (event) => tap(event.timeStamp));
$("tap").addEventListener("click", (event) => event.detail === 0 && tap(event.timeStamp));
$("slower").addEventListener("click", () => step(-1));
$("faster").addEventListener("click", () => step(1));
$("tempo").addEventListener("change", retime);
for (const name of ["per-measure", "split", "accent"]) $(name).addEventListener("change", changed);
$("per-measure").addEventListener("change", () => ($("per-measure").value = perMeasure()));
page.hidden = false;
draw();
