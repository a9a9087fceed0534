// Keeps typed lines: sends the whole line a moment after the last key, tries again while the network fails, and hands a
// line that was changed elsewhere to the page to decide. Nothing is forgotten while the page stands open.

const PAUSE = 350;
const LONGEST = 15_000;

export class Keeper {
  // `told` is called as told(line, state, answer) with the states keeping, kept, waiting, elsewhere, refused, out.
  constructor(told) {
    this.told = told;
    this.timers = new Map();
    this.delays = new Map();
    this.sending = new Set();
    this.lines = new Set();
    window.addEventListener("online", () => this.flush());
    window.addEventListener("beforeunload", (event) => {
      if ([...this.lines].some((line) => line.dirty && this.delays.has(line))) event.preventDefault();
    });
    window.addEventListener("pagehide", () => this.lines.forEach((line) => line.dirty && this.last(line)));
  }

  get unkept() {
    return [...this.lines].some((line) => line.dirty);
  }

  keepSoon(line, pause = PAUSE) {
    this.lines.add(line);
    clearTimeout(this.timers.get(line));
    this.timers.set(line, setTimeout(() => this.send(line), pause));
  }

  flush() {
    this.lines.forEach((line) => line.dirty && this.keepSoon(line, 0));
  }

  // Everything kept, or tried for a few seconds.
  async settled() {
    this.flush();
    for (let tries = 0; this.unkept && tries < 60; tries += 1) await new Promise((go) => setTimeout(go, 50));
  }

  body(line) {
    return new URLSearchParams({
      fingers: JSON.stringify(line.fingers),
      first_note: line.first,
      last_note: line.last,
      seen: line.seen,
    });
  }

  request(line, extra) {
    const token = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1] ?? "";
    const headers = { "X-CSRFToken": token, Accept: "application/json" };
    return fetch(line.url, { method: "POST", body: this.body(line), headers, redirect: "manual", ...extra });
  }

  last(line) {
    this.request(line, { keepalive: true }).catch(() => {});
  }

  async send(line) {
    if (this.sending.has(line)) return this.keepSoon(line);
    this.sending.add(line);
    const sent = line.changed;
    this.told(line, "keeping");
    let response;
    let answer;
    try {
      response = await this.request(line, { signal: AbortSignal.timeout(20_000) });
      if (response.type !== "opaqueredirect") answer = await response.json();
    } catch {
      response = null;
    }
    this.sending.delete(line);
    this.heard(line, sent, response, answer);
  }

  heard(line, sent, response, answer) {
    if (response?.ok && answer && !answer.trouble) {
      this.delays.delete(line);
      line.kept = sent;
      line.seen = answer.seen;
      if (line.dirty) this.keepSoon(line);
      this.told(line, line.dirty ? "keeping" : "kept", answer);
    } else if (response?.status === 409) {
      this.told(line, "elsewhere", answer);
    } else if (answer?.trouble) {
      this.told(line, "refused", answer);
    } else {
      const delay = Math.min((this.delays.get(line) ?? 500) * 2, LONGEST);
      this.delays.set(line, delay);
      this.told(line, response?.type === "opaqueredirect" ? "out" : "waiting");
      this.keepSoon(line, delay);
    }
  }
}
