// Walking through the differences of two editions: the list and the marks in the music move together. Past the last one
// on the page the walk goes on where the next one stands.

const items = [...document.querySelectorAll(".differences-list li[data-first]")];
let at = -1;

const marksOf = (item) => {
  const row = item.closest(".compare-row");
  const of = (side, ids) =>
    ids.split(" ").filter(Boolean).flatMap((id) => [...row.querySelectorAll(`.reading.${side} .differs[data-note="${CSS.escape(id)}"]`)]);
  return [...of("first", item.dataset.first), ...of("second", item.dataset.second)];
};

const go = (place, { scroll = true } = {}) => {
  if (!items[place]) return;
  for (const old of document.querySelectorAll(".compare .at")) old.classList.remove("at");
  at = place;
  const item = items[at];
  item.classList.add("at");
  for (const mark of marksOf(item)) mark.classList.add("at");
  if (scroll) {
    item.focus({ preventScroll: true });
    item.scrollIntoView({ block: "center", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
  }
};

const step = (place, way) => {
  if (items[place]) go(place);
  else document.querySelector(`[data-walk="${way}"]`)?.click();
};

items.forEach((item, place) => {
  item.addEventListener("click", () => go(place, { scroll: false }));
  item.addEventListener("focus", () => go(place, { scroll: false }));
});

document.addEventListener("keydown", (event) => {
  const isTyping = ["INPUT", "SELECT", "TEXTAREA"].includes(event.target.tagName);
  if (isTyping || event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  if (event.key === "j") step(at + 1, "on");
  else if (event.key === "k") step(at - 1, "back");
  else return;
  event.preventDefault();
});

const arrived = items.findIndex((item) => `#${item.id}` === location.hash);
if (arrived >= 0) go(arrived);

// Engraved anew for a column that is much narrower or wider than the one the page was made for.
const shown = document.querySelector(".compare[data-width]");
const column = shown?.querySelector(".readings")?.clientWidth;
const address = new URL(location.href);
if (column && !address.searchParams.has("width") && Math.abs(column - Number(shown.dataset.width)) > 120) {
  address.searchParams.set("width", Math.round(column));
  location.replace(address);
}
