// Moving a lesson on the week's grid: by dragging it, or with the arrow keys while it has the focus. Each place that is
// tried is checked by the server, which says what stands in the way and which free times are nearest; nothing is changed
// before the lesson is put down.

const grid = document.getElementById("grid");
const panel = document.getElementById("trying");
const form = document.getElementById("drop");
const columns = grid ? [...grid.querySelectorAll(".column")] : [];
const isGrid = () => getComputedStyle(grid).display === "grid";
const GRID = 5;
const FAR = 5; // pixels after which a press is a drag

let moving = null; // { block, next, when, day, minutes, firstDay, firstMinutes }
let asked = 0;
let waiting = 0;

const hour = (name) => Number([...grid.classList].find((one) => one.startsWith(`${name}-`)).split("-")[1]);
const minutesOf = (text) => Number(text.slice(0, 2)) * 60 + Number(text.slice(3, 5));
const clock = (minutes) => `${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;

const begin = (block) => {
  if (moving?.block === block) return;
  if (moving) leave();
  const day = columns.indexOf(block.closest(".column"));
  const minutes = minutesOf(block.dataset.begin);
  const when = [...block.querySelector(".when").childNodes];
  moving = { block, next: block.nextElementSibling, when, day, minutes, firstDay: day, firstMinutes: minutes };
  block.classList.add("moving");
};

const place = (day, minutes) => {
  const last = hour("last") * 60 - Number(moving.block.dataset.minutes);
  moving.day = Math.min(Math.max(day, 0), columns.length - 1);
  moving.minutes = Math.min(Math.max(minutes, hour("first") * 60), Math.max(last, hour("first") * 60));
  const { block } = moving;
  const blocks = columns[moving.day].querySelector(".blocks");
  const hadFocus = block.contains(document.activeElement);
  if (block.parentElement !== blocks) blocks.append(block);
  block.className = block.className.replace(/\bh\d+ m\d+\b/, `h${Math.floor(moving.minutes / 60)} m${Math.floor((moving.minutes % 60) / GRID)}`);
  if (hadFocus) {
    block.querySelector("a").focus({ preventScroll: true });
    block.scrollIntoView({ block: "nearest" });
  }
  show();
};

const address = (name) => grid.dataset[name].replace("/0/", `/${moving.block.dataset.lesson}/`);
const to = () => `${columns[moving.day].dataset.day}T${clock(moving.minutes)}`;

const show = () => {
  const when = `${columns[moving.day].dataset.words}, ${clock(moving.minutes)}`;
  moving.block.querySelector(".when").textContent = clock(moving.minutes);
  panel.hidden = false;
  // The panel stands where the lesson does not.
  panel.classList.toggle("is-high", moving.block.getBoundingClientRect().bottom > innerHeight / 2);
  panel.querySelector(".to").textContent = panel.dataset.at.replace("%(name)s", moving.block.dataset.name).replace("%(when)s", when);
  form.action = address("move");
  form.elements.to.value = to();
  clearTimeout(waiting);
  waiting = setTimeout(check, 120);
};

const check = async () => {
  if (!moving) return;
  const mine = ++asked;
  try {
    const answer = await fetch(`${address("check")}?to=${encodeURIComponent(to())}`, { headers: { "X-Requested-With": "fetch" } });
    if (!answer.ok || mine !== asked || !moving) return;
    panel.querySelector(".result").innerHTML = await answer.text();
  } catch {
    // Without an answer the lesson can still be put down; the next page says what stands in the way.
  }
};

const leave = () => {
  if (!moving) return;
  const { block, firstDay, firstMinutes, when } = moving;
  const hadFocus = block.contains(document.activeElement) || panel.contains(document.activeElement);
  clearTimeout(waiting);
  block.className = block.className.replace(/\bh\d+ m\d+\b/, `h${Math.floor(firstMinutes / 60)} m${Math.floor((firstMinutes % 60) / GRID)}`);
  columns[firstDay].querySelector(".blocks").insertBefore(block, moving.next?.parentElement === columns[firstDay].querySelector(".blocks") ? moving.next : null);
  block.querySelector(".when").replaceChildren(...when);
  block.classList.remove("moving");
  moving = null;
  panel.hidden = true;
  panel.querySelector(".result").replaceChildren();
  if (hadFocus) block.querySelector("a").focus({ preventScroll: true });
};

const drop = () => {
  if (moving.day === moving.firstDay && moving.minutes === moving.firstMinutes) leave();
  else form.requestSubmit();
};

const steps = (event) => {
  const step = event.shiftKey ? GRID : 15;
  return { ArrowUp: [0, -step], ArrowDown: [0, step], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[event.key];
};

const onKey = (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || !isGrid()) return;
  const block = event.target.closest?.(".block[data-lesson]");
  if (event.key === "Escape" && moving) leave();
  else if (event.key === "Enter" && moving && block === moving.block) drop();
  else if (block && event.target.matches(".block > a:first-child") && steps(event)) {
    begin(block);
    const [days, minutes] = steps(event);
    place(moving.day + days, moving.minutes + minutes);
  } else return;
  event.preventDefault();
  event.stopPropagation();
};

const onPress = (event) => {
  const block = event.target.closest(".block[data-lesson]");
  if (!block || event.button !== 0 || event.pointerType === "touch" || !isGrid()) return;
  if (event.target.closest(".other-time")) return;
  const from = { x: event.clientX, y: event.clientY, inside: event.clientY - block.getBoundingClientRect().top };
  let dragged = false;
  const onMove = (move) => {
    if (!dragged && Math.hypot(move.clientX - from.x, move.clientY - from.y) < FAR) return;
    if (!dragged) begin(block);
    dragged = true;
    const day = columns.findIndex((one) => move.clientX < one.getBoundingClientRect().right);
    const blocks = columns[0].querySelector(".blocks").getBoundingClientRect();
    const row = blocks.height / ((hour("last") - hour("first")) * (60 / GRID));
    const minutes = hour("first") * 60 + Math.round((move.clientY - from.inside - blocks.top) / row) * GRID;
    const shown = day < 0 ? columns.length - 1 : day;
    if (shown !== moving.day || minutes !== moving.minutes) place(shown, minutes);
  };
  const onUp = () => {
    removeEventListener("pointermove", onMove);
    removeEventListener("pointerup", onUp);
    removeEventListener("pointercancel", onUp);
    if (!dragged) return;
    // A click that follows at once would open the lesson.
    const stop = (click) => grid.contains(click.target) && click.preventDefault();
    addEventListener("click", stop, { capture: true });
    setTimeout(() => removeEventListener("click", stop, { capture: true }), 50);
    block.querySelector("a").focus({ preventScroll: true });
  };
  addEventListener("pointermove", onMove);
  addEventListener("pointerup", onUp);
  addEventListener("pointercancel", onUp);
};

if (grid && panel) {
  grid.classList.add("can-move");
  grid.addEventListener("keydown", onKey, { capture: true });
  grid.addEventListener("pointerdown", onPress);
  grid.addEventListener("dragstart", (event) => event.preventDefault());
  panel.addEventListener("keydown", (event) => {
    if (event.key === "Escape") leave();
  });
  panel.querySelector(".leave").addEventListener("click", leave);
  panel.addEventListener("click", (event) => {
    const free = event.target.closest("[data-to]");
    if (!free || !moving) return;
    event.preventDefault();
    form.elements.to.value = free.dataset.to;
    form.requestSubmit();
  });
}
