// What a try showed, in sentences, as a drawing with a row for each stroke of the count, and as a table.

const SVG = "http://www.w3.org/2000/svg";
const fill = (text, values) => text.replace(/%\((\w+)\)s/g, (_, name) => values[name] ?? "");
const WIDTH = 320;
const LEFT = 52;
const ROW = 20;
const REACH = 120; // milliseconds shown to each side
const TICKS = [-100, -50, 0, 50, 100];

export function show(place, judged, words, clean) {
  place.replaceChildren(...sentences(judged, words, clean), drawing(judged, words), table(judged, words));
}

const signed = (number) => (number === null ? "–" : `${number > 0.5 ? "+" : number < -0.5 ? "−" : ""}${Math.abs(Math.round(number))}`);

function inWords(ms, words) {
  const whole = Math.round(Math.abs(ms));
  return whole === 0 ? words.exact : fill(ms < 0 ? words.early : words.late, { ms: whole });
}

function made(name, text, attributes = {}) {
  const element = document.createElement(name);
  element.textContent = text;
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}

function capital(text) {
  return text.charAt(0).toLocaleUpperCase() + text.slice(1);
}

function sentences(judged, words, clean) {
  const lines = [fill(words.clean, { clean: judged.clean, turns: judged.turns, ms: clean })];
  for (const hand of ["right", "left"]) {
    const { count, mean, spread } = judged.hands[hand];
    const values = { hand: capital(words[hand]), mean: count ? inWords(mean, words) : "", spread: spread === null ? "–" : `${Math.round(spread)} ms` };
    if (count) lines.push(fill(words.summary, values));
  }
  const { worst } = judged;
  if (worst && worst.size >= 5) {
    lines.push(fill(words.worst, { hand: words[worst.hand], count: worst.part + 1, mean: inWords(worst.mean, words) }));
  }
  const named = (list, one) => list.slice(0, 12).map(one).join("; ") + (list.length > 12 ? " …" : "");
  if (judged.missed.length) {
    const list = named(judged.missed, (one) => fill(words.missedOne, { hand: words[one.hand], count: one.part + 1, turn: one.turn + 1 }));
    lines.push(fill(words.missed, { list }));
  }
  if (judged.extra.length) {
    const list = named(judged.extra, (one) =>
      one.after === null
        ? fill(words.extraFirst, { hand: words[one.hand] })
        : fill(words.extraOne, { hand: words[one.hand], count: one.after + 1, turn: one.turn + 1 }),
    );
    lines.push(fill(words.extra, { list }));
  }
  if (Math.round(judged.offset)) lines.push(fill(words.offset, { mean: inWords(judged.offset, words) }));
  return lines.map((line) => made("p", line));
}

function shape(parent, name, attributes) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  parent.append(element);
  return element;
}

function drawing(judged, words) {
  const height = judged.attacks.length * ROW + 30;
  const svg = document.createElementNS(SVG, "svg");
  const box = { class: "try-drawing", viewBox: `0 0 ${WIDTH} ${height}`, width: WIDTH, height, role: "img", "aria-label": words.drawing };
  for (const [key, value] of Object.entries(box)) svg.setAttribute(key, String(value));
  const x = (ms) => LEFT + ((Math.max(-REACH, Math.min(REACH, ms)) + REACH) / (2 * REACH)) * (WIDTH - LEFT - 10);
  for (const tick of TICKS) {
    shape(svg, "line", { class: tick ? "tick" : "zero", x1: x(tick), x2: x(tick), y1: 4, y2: height - 22 });
    shape(svg, "text", { x: x(tick), y: height - 8, "text-anchor": "middle", "font-size": 11 }).textContent = signed(tick);
  }
  judged.attacks.forEach((attack, row) => {
    const y = 14 + row * ROW;
    const name = `${words[attack.hand].charAt(0).toLocaleUpperCase()} ${attack.part + 1}`;
    const label = shape(svg, "text", { x: 4, y: y + 4, "font-size": 12 });
    label.textContent = name;
    if (attack === judged.worst) label.setAttribute("font-weight", "bold");
    shape(svg, "line", { class: "row", x1: LEFT, x2: WIDTH - 10, y1: y, y2: y });
    for (const error of attack.errors) {
      if (attack.hand === "right") shape(svg, "circle", { class: "dot right", cx: x(error), cy: y, r: 4.5 });
      else shape(svg, "rect", { class: "dot left", x: x(error) - 4, y: y - 4, width: 8, height: 8 });
    }
    if (attack.mean !== null) shape(svg, "line", { class: "mean", x1: x(attack.mean), x2: x(attack.mean), y1: y - 8, y2: y + 8 });
  });
  return svg;
}

function table(judged, words) {
  const details = document.createElement("details");
  details.append(made("summary", words.table));
  const grid = document.createElement("table");
  grid.className = "figures";
  const head = document.createElement("tr");
  for (const name of words.columns.split("|")) head.append(made("th", name, { scope: "col" }));
  grid.createTHead().append(head);
  const body = grid.createTBody();
  for (const attack of judged.attacks) {
    const row = body.insertRow();
    const cells = [attack.part + 1, signed(attack.mean), signed(attack.spread).replace("+", ""), attack.errors.map(signed).join(" "), attack.missed || ""];
    row.append(made("th", capital(words[attack.hand]), { scope: "row" }));
    for (const cell of cells) row.append(made("td", String(cell)));
  }
  const scroll = document.createElement("div");
  scroll.className = "scroll";
  scroll.tabIndex = 0;
  scroll.setAttribute("role", "region");
  scroll.setAttribute("aria-label", words.table);
  scroll.append(grid);
  details.append(scroll);
  return details;
}
