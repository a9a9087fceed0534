// Entering a passage by hand: the keys of the picture write ABC at the caret of the chosen hand.

const form = document.getElementById("entry");
const piano = document.getElementById("piano");
const areas = { right: form.elements.right, left: form.elements.left };
const preview = document.getElementById("preview");

const LETTERS = { 0: "C", 2: "D", 4: "E", 5: "F", 7: "G", 9: "A", 11: "B" };
const SHARP_ORDER = "FCGDAEB";
const [LOWEST, HIGHEST] = [21, 108]; // A0 to C8, as on the instrument

const state = { hand: "right", length: 2, dotted: false, chord: false, grace: false, triplet: 0 };

// Spelling: as the key asks, sharps in sharp keys and flats in flat ones

const fifths = () => Number(form.elements.key.selectedOptions[0].dataset.fifths);
const signOf = (letter) => {
  const count = fifths();
  const place = SHARP_ORDER.indexOf(letter);
  if (count > 0) return place < count ? 1 : 0;
  return place >= 7 + count ? -1 : 0;
};

// A key's possible names, that of the key signature first
const spell = (midi) => {
  const names = [];
  for (const alter of fifths() < 0 ? [0, -1, 1] : [0, 1, -1]) {
    const letter = LETTERS[(midi - alter + 120) % 12];
    if (letter) names.push({ letter, alter, octave: Math.floor((midi - alter) / 12) - 1 });
  }
  return names.find((name) => signOf(name.letter) === name.alter) ?? names[0];
};

const SIGNS = { "-1": "♭", 0: "", 1: "♯" };
const nameOf = (midi) => {
  const { letter, alter, octave } = spell(midi);
  return letter + SIGNS[alter] + octave;
};

const abcPitch = (letter, octave) => (octave >= 5 ? letter.toLowerCase() + "'".repeat(octave - 5) : letter + ",".repeat(4 - octave));

// An accidental holds for its measure: it is written again only where the last one said otherwise
const abcNote = (midi, before) => {
  const { letter, alter, octave } = spell(midi);
  const pitch = abcPitch(letter, octave);
  const measure = before.slice(before.lastIndexOf("|") + 1);
  let stands = signOf(letter);
  for (const [, sign, found] of measure.matchAll(/(\^\^|\^|__|_|=)?([A-Ga-g][,']*)/g)) {
    if (found === pitch && sign) stands = { "^": 1, _: -1, "=": 0, "^^": 2, __: -2 }[sign];
  }
  return (stands === alter ? "" : { "-1": "_", 0: "=", 1: "^" }[alter]) + pitch;
};

// Lengths: in eighths, as the line of the tune has them

const lengthText = () => {
  const eighths = state.length * (state.dotted ? 1.5 : 1);
  return { 8: "8", 12: "12", 4: "4", 6: "6", 2: "2", 3: "3", 1: "", 1.5: "3/2", 0.5: "/2", 0.75: "3/4", 0.25: "/4", 0.375: "3/8" }[eighths];
};

// Writing at the caret

const area = () => areas[state.hand];
const before = () => area().value.slice(0, area().selectionStart);

const write = (text) => {
  const field = area();
  const start = field.selectionStart;
  field.setRangeText(text, start, field.selectionEnd, "end");
  changed(field);
};

const changed = (field) => field.dispatchEvent(new Event("input", { bubbles: true }));

const strike = (midi) => {
  const text = before();
  const note = abcNote(midi, text);
  if (state.grace) {
    const open = /\{([^{}]*)\}$/.exec(text);
    if (open) replaceBefore(open[0].length, `{${open[1]}${note}}`);
    else write(spaced(text, `{${note}}`));
    return;
  }
  if (state.chord) {
    const open = /\[([^[\]]*)\]([\d/]*)$/.exec(text);
    if (open && state.inChord) replaceBefore(open[0].length, `[${open[1]}${note}]${open[2]}`);
    else write(spaced(text, `${triplet()}[${note}]${lengthText()}`));
    state.inChord = true;
    return;
  }
  write(spaced(text, triplet() + note + lengthText()));
};

const replaceBefore = (count, text) => {
  const field = area();
  const end = field.selectionStart;
  field.setRangeText(text, end - count, field.selectionEnd, "end");
  changed(field);
};

// Notes of a quarter and longer stand apart; shorter ones run together, so that they are beamed
const spaced = (text, addition) => (!text || /[\s}(]$/.test(text) || (state.length < 2 && !/\|$/.test(text)) ? addition : ` ${addition}`);

const triplet = () => {
  if (!state.tripletOn) return "";
  state.triplet = (state.triplet % 3) + 1;
  return state.triplet === 1 ? "(3" : "";
};

const acts = {
  rest: () => write(spaced(before(), `${triplet()}z${lengthText()}`)),
  bar: () => write(" | "),
  tie: () => write("-"),
  back: () => {
    const text = before();
    const last = /(\(3)?(\{[^}]*\}|\[[^\]]*\][\d/]*|(\^\^|\^|__|_|=)?[A-Ga-gz][,']*[\d/]*|[-|]|.)\s*$/s.exec(text);
    if (last) replaceBefore(last[0].length, "");
  },
};

for (const button of document.querySelectorAll("[data-act]")) {
  button.addEventListener("click", () => {
    state.inChord = false;
    acts[button.dataset.act]();
  });
}

for (const button of document.querySelectorAll("[data-toggle]")) {
  button.addEventListener("click", () => {
    const name = button.dataset.toggle;
    state[name] = !state[name];
    state.triplet = 0;
    state.inChord = false;
    button.setAttribute("aria-pressed", String(state[name]));
  });
}

for (const radio of document.querySelectorAll("input[name=length]")) {
  radio.addEventListener("change", () => (state.length = Number(radio.value)));
}

const chooseHand = (hand) => {
  state.hand = hand;
  state.inChord = false;
  for (const radio of document.querySelectorAll("input[name=hand]")) radio.checked = radio.value === hand;
};

for (const radio of document.querySelectorAll("input[name=hand]")) {
  radio.addEventListener("change", () => {
    chooseHand(radio.value);
    show(radio.value === "right" ? 60 : 48);
  });
}
for (const [hand, field] of Object.entries(areas)) field.addEventListener("focus", () => chooseHand(hand));

// The picture of the keyboard: one key can be reached by Tab, the arrows walk from there

const build = () => {
  const keys = [];
  for (let midi = LOWEST; midi <= HIGHEST; midi += 1) {
    const key = document.createElement("button");
    const black = !LETTERS[midi % 12];
    key.type = "button";
    key.className = black ? "key black" : "key white";
    key.dataset.midi = midi;
    key.tabIndex = midi === 60 ? 0 : -1;
    key.addEventListener("click", () => {
      rove(key);
      strike(midi);
    });
    keys.push(key);
  }
  piano.replaceChildren(...keys);
  piano.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1, ArrowUp: 12, ArrowDown: -12 }[event.key];
    const key = step && keys[keys.indexOf(event.target) + step];
    if (!step) return;
    event.preventDefault();
    if (key) {
      rove(key);
      key.focus();
    }
  });
  const rove = (key) => keys.forEach((one) => (one.tabIndex = one === key ? 0 : -1));
};

const label = () => {
  for (const key of piano.children) {
    const midi = Number(key.dataset.midi);
    key.setAttribute("aria-label", nameOf(midi));
    key.textContent = midi % 12 === 0 ? nameOf(midi) : "";
  }
};

const show = (midi) => {
  const key = piano.querySelector(`[data-midi="${midi}"]`);
  piano.scrollLeft = key.offsetLeft - piano.clientWidth / 2;
};

form.elements.key.addEventListener("change", label);
document.body.addEventListener("htmx:beforeSwap", (event) => {
  // What cannot be read yet is an answer too: it says where.
  if (event.target === preview && event.detail.xhr.status === 422) {
    event.detail.shouldSwap = true;
    event.detail.isError = false;
  }
});

const measureColumn = () => (form.elements.width.value = Math.max(280, preview.clientWidth));
new ResizeObserver(measureColumn).observe(preview);
measureColumn();
document.getElementById("tools").hidden = false;
build();
label();
show(60);
