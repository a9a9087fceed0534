// Fingers and marks drawn into the engraved lines. `music` is the element that holds the engraving.

const SVG = "http://www.w3.org/2000/svg";
// As in scores/digits.py: a place is one digit's step high and half the rule's drop more.
const STEP = 0.86;
const BELOW = 47.5;
const [FIGURE, DASH] = [0.5, 0.33];
const [GAP, LEAST] = [0.52, 0.6];

export const escaped = (id) => CSS.escape(id);

export const placeOf = (music, line, note) =>
  music.querySelector(`rect.place[data-line="${escaped(line.key)}"][data-note="${escaped(note)}"]`);

export function drawDigit(music, line, note) {
  const place = placeOf(music, line, note);
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
export function drawProblems(music, line) {
  music.querySelectorAll(`.slip[data-line="${escaped(line.key)}"]`).forEach((slip) => slip.remove());
  for (const problem of line.problems) {
    const place = problem.notes[0] && placeOf(music, line, problem.notes[0]);
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

// A box around the place where the next finger goes.
export function markPlace(place) {
  const [x, y, width, height] = box(place);
  const wide = Math.max(width + 60, 250);
  const mark = document.createElementNS(SVG, "rect");
  const shape = { class: "cursor", x: x + width / 2 - wide / 2, y: y - 10, width: wide, height: height + 10, rx: 30 };
  for (const [name, value] of Object.entries(shape)) mark.setAttribute(name, value);
  place.before(mark);
}

// A pointer before the numeral of the line that is typed into: marked by more than its colour.
export function markLabel(drawn) {
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
