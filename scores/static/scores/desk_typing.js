// One finger line while it is typed: where the cursor stands, what a key does, and what can be undone. No page in here.

const SAME_KEY = { " ": ".", 0: ".", Spacebar: "." };

export class TypedLine {
  // `data` is a line as the server gives it; `moments` are all moments of its hand in the passage, as lists of note ids.
  constructor(data, moments) {
    this.moments = moments;
    this.adopt(data);
    this.cursor = 0;
    this.before = [];
    this.changed = 0;
    this.kept = 0;
  }

  // Takes the server's state of the line.
  adopt(data) {
    Object.assign(this, { key: data.key, numeral: data.numeral, side: data.side, mark: data.mark, url: data.url });
    Object.assign(this, { seen: data.seen, problems: data.problems });
    this.fingers = { ...data.fingers };
    this.setEnds(data.first, data.last);
    this.pending = "";
    this.fresh = false;
  }

  get dirty() {
    return this.changed !== this.kept;
  }

  setEnds(first, last) {
    const at = (id) => this.moments.findIndex((moment) => moment.includes(id));
    const [from, to] = [at(first), at(last)].sort((a, b) => a - b);
    this.stretch = this.moments.slice(Math.max(from, 0), to + 1);
    this.slots = this.stretch.flat();
    this.first = this.stretch[0]?.[0] ?? "";
    this.last = this.stretch.at(-1)?.[0] ?? "";
    this.cursor = Math.min(this.cursor ?? 0, Math.max(this.slots.length - 1, 0));
  }

  get note() {
    return this.slots[this.cursor];
  }

  text(note) {
    return this.pending && note === this.pendingNote ? this.pending : (this.fingers[note] ?? "");
  }

  // The line as text, a token for each moment; the server reads it back as the same fingering.
  get asText() {
    return this.stretch
      .map((moment) => {
        const texts = moment.map((note) => this.fingers[note] ?? "");
        if (!texts.some(Boolean)) return "_";
        if (texts.length === 1) return texts[0];
        return texts.map((text) => (text.length > 1 ? `(${text})` : text || ".")).join("");
      })
      .join(" ");
  }

  // Does what a key says. Answers null for a key that means nothing here, else the note to speak of and its text.
  press(key) {
    const meant = SAME_KEY[key] ?? key;
    if (/^[1-5]$/.test(meant)) return this.finger(meant);
    if (meant === "-") return this.dash();
    if (meant === "Backspace" && this.pending) {
      const note = this.pendingNote;
      this.pending = "";
      return note;
    }
    const action = {
      ".": () => this.leave(),
      Backspace: () => this.back(),
      Delete: () => this.set(this.note, ""),
      ArrowRight: () => this.walk(1),
      ArrowLeft: () => this.walk(-1),
      Home: () => this.to(0),
      End: () => this.to(this.slots.length - 1),
    }[meant];
    if (!action) return null;
    this.pending = "";
    action();
    this.fresh = false;
    return this.note;
  }

  finger(digit) {
    if (this.pending) {
      const note = this.pendingNote;
      const text = this.pending + digit;
      if (text.split("-").at(-2) === digit) return note; // 4-4 is no change of finger
      this.pending = "";
      this.set(note, text);
      return note;
    }
    const note = this.note;
    this.set(note, digit);
    this.walk(1);
    this.fresh = true;
    this.typed = note;
    return note;
  }

  dash() {
    const note = this.fresh ? this.typed : this.note;
    if (!this.fingers[note]) return note;
    this.pending = `${this.fingers[note]}-`;
    this.pendingNote = note;
    return note;
  }

  leave() {
    this.set(this.note, "");
    this.walk(1);
  }

  // Right after a digit it takes that digit back; else it clears here, or the note before when nothing stands here.
  back() {
    if (this.fresh) {
      this.goTo(this.typed);
      this.set(this.note, "");
      return;
    }
    if (!this.fingers[this.note]) this.walk(-1);
    this.set(this.note, "");
  }

  walk(steps) {
    this.to(this.cursor + steps);
  }

  to(place) {
    this.cursor = Math.min(Math.max(place, 0), Math.max(this.slots.length - 1, 0));
  }

  goTo(note) {
    const at = this.slots.indexOf(note);
    if (at >= 0) this.cursor = at;
    this.pending = "";
    this.fresh = false;
    return at >= 0;
  }

  set(note, text) {
    if (!note || (this.fingers[note] ?? "") === text) return;
    this.remember();
    if (text) this.fingers = { ...this.fingers, [note]: text };
    else this.fingers = Object.fromEntries(Object.entries(this.fingers).filter(([id]) => id !== note));
    this.changed += 1;
  }

  // The line begins or ends at the cursor's moment; fingers outside are let go, and undo brings them back.
  bound(end) {
    const note = this.note;
    this.remember();
    this.setEnds(end === "first" ? note : this.first, end === "first" ? this.last : note);
    this.fingers = Object.fromEntries(Object.entries(this.fingers).filter(([id]) => this.slots.includes(id)));
    this.goTo(note);
    this.changed += 1;
  }

  remember() {
    this.before.push({ fingers: this.fingers, first: this.first, last: this.last, note: this.note });
    if (this.before.length > 500) this.before.shift();
  }

  undo() {
    const before = this.before.pop();
    if (!before) return false;
    this.pending = "";
    this.fingers = before.fingers;
    this.setEnds(before.first, before.last);
    this.goTo(before.note);
    this.changed += 1;
    return true;
  }
}
