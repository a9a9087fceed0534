// A lesson's desk: the timer, and the quick marks of what was given last time.

// Metronome marks, as the scale of a mechanical metronome has them; below and above it the steps of its ends.
const MARKS = JSON.parse(document.getElementById("metronome-marks").textContent);

// The timer follows the clock from the planned beginning, or from when it was begun by hand.

const timer = document.querySelector("[data-timer]");
if (timer) {
  const { begins, minutes, now } = timer.dataset;
  const ahead = Date.now() / 1000 - Number(now); // this clock against the studio's
  const memory = `begun:${location.pathname}`;
  const button = timer.querySelector("[data-begin]");
  const show = () => {
    // What was begun here is told by this clock alone: the studio's is known to a second, and anew with each page.
    const begun = Number(sessionStorage.getItem(memory)) || Number(begins) + ahead;
    const gone = Math.floor((Date.now() / 1000 - begun) / 60);
    const all = Number(minutes);
    const text = gone < 0 ? timer.dataset.before.replace("%s", -gone) : gone < all ? timer.dataset.during.replace("%s", gone).replace("%t", all - gone) : timer.dataset.after.replace("%s", gone - all);
    timer.querySelector("[role=timer]").textContent = text;
    timer.querySelector("progress").value = Math.max(0, Math.min(all, gone));
    button.textContent = sessionStorage.getItem(memory) ? button.dataset.again : button.dataset.label;
    // Far from the lesson there is nothing to tell, unless it was begun by hand.
    timer.querySelector("progress").hidden = timer.querySelector("[role=timer]").hidden = !sessionStorage.getItem(memory) && (gone < -60 || gone > all + 60);
  };
  button.addEventListener("click", () => {
    if (sessionStorage.getItem(memory)) sessionStorage.removeItem(memory);
    else sessionStorage.setItem(memory, String(Date.now() / 1000));
    show();
  });
  timer.hidden = false;
  show();
  setInterval(show, 5000);
}

// Quick marks

const rows = () => [...document.querySelectorAll("[data-heard]")];
const tempoOf = (row) => row.querySelector("[name=tempo]");
const isTyping = (target) => target.isContentEditable || ["INPUT", "TEXTAREA", "SELECT"].includes(target.tagName);

function step(field, by) {
  const now = Number(field.value || field.placeholder || field.dataset.tempo || 60);
  const next = by > 0 ? MARKS.find((mark) => mark > now) : MARKS.findLast((mark) => mark < now);
  if (next) field.value = next;
}

function walk(from, by) {
  const all = rows();
  const place = all.indexOf(from);
  const next = all[place < 0 ? (by > 0 ? 0 : all.length - 1) : Math.max(0, Math.min(all.length - 1, place + by))];
  next?.focus();
  next?.scrollIntoView({ block: "nearest" });
}

document.addEventListener(
  "keydown",
  (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
    const row = event.target.closest?.("[data-heard]");
    const field = row && event.target === tempoOf(row) ? event.target : null;
    if (event.key === "Escape" && isTyping(event.target)) return row ? row.focus() : event.target.blur();
    if (field && ["ArrowUp", "ArrowDown"].includes(event.key)) step(field, event.key === "ArrowUp" ? 1 : -1);
    else if (isTyping(event.target) && !(field && "jkcds".includes(event.key))) return;
    else if (event.key === "j" || event.key === "k") walk(row, event.key === "j" ? 1 : -1);
    else if (row && "cds".includes(event.key)) row.querySelector(`[value=${{ c: "carry", d: "done", s: "aside" }[event.key]}]`).click();
    else if (row && /^[0-9]$/.test(event.key)) return tempoOf(row).select();
    else return;
    event.preventDefault();
    event.stopImmediatePropagation();
  },
  true,
);

// A digit goes where the focus is: into the tempo of the row.
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-step]");
  if (button) step(tempoOf(button.closest("[data-heard]")), Number(button.dataset.step));
});

const dress = (part) => part.querySelectorAll("[data-step]").forEach((button) => (button.hidden = false));
dress(document);

// Once a row is marked the next one has the focus at once, so that the next key is for it however slow the answer is.
document.addEventListener("submit", (event) => {
  const row = event.target.closest(".marks")?.closest("[data-heard]");
  if (row) (rows()[rows().indexOf(row) + 1] || row).focus();
});
document.addEventListener("htmx:afterSettle", (event) => {
  dress(document);
  const row = event.detail.elt.closest?.("[data-heard]");
  const focused = document.activeElement;
  // Who has gone on to something else meanwhile is not called back.
  if (row?.querySelector("[role=alert]") && (focused === document.body || focused.closest("[data-heard]"))) tempoOf(row).focus();
});

// A refused mark comes back as 422 with its reason: it is shown like any other answer.
document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.xhr.status !== 422) return;
  event.detail.shouldSwap = true;
  event.detail.isError = false;
});

// What the keys do to attendance.
document.addEventListener("keydown", (event) => {
  if (isTyping(event.target) || event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  const button = document.querySelector(`.attendance [data-say="${CSS.escape(event.key)}"]`);
  if (!button) return;
  event.preventDefault();
  button.click();
});
