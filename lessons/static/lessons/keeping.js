// Keeps what is typed: in this browser at every keystroke, in the studio at each pause and when the page is left. What the
// studio has not got yet stays in this browser until it has, or until someone says that it may go.
//
// A form says its name in `data-keep`; its fields have `data-kept`, and beside each stands the text it began from.

const PAUSE = 700; // ms without a keystroke
const AGAIN = 8000; // ms until what could not be sent is tried again
const MOST_ON_LEAVING = 60000; // characters; a browser sends no more from a page that is left
const mine = `unkept:${document.body.dataset.user}:`;
const here = Math.random().toString(36).slice(2); // this page, among others that are open
const words = document.getElementById("keeping-words").dataset;
const states = new WeakMap();

const forms = () => [...document.querySelectorAll("form[data-keep]")];
const fields = (form) => [...form.querySelectorAll("[data-kept]")];
const before = (form, name) => form.elements[`${name}_before`];
const texts = (form) => Object.fromEntries(fields(form).map((field) => [field.name, field.value]));
const isDirty = (form) => fields(form).some((field) => field.value !== before(form, field.name).value);
const key = (form) => `${mine}${form.dataset.keep}:${here}`;
const token = () => (document.cookie.match(/(?:^|; )csrftoken=([^;]+)/) || [])[1] || "";

const stateOf = (form) => {
  if (!states.has(form)) states.set(form, { timer: 0, sending: null, clash: null });
  return states.get(form);
};

function tell(form, text, link) {
  const place = form.querySelector("[data-said]");
  place.textContent = text;
  if (!link) return;
  const anchor = document.createElement("a");
  anchor.href = link.to;
  anchor.textContent = link.text;
  place.append(" ", anchor);
}

// In this browser

function remember(form) {
  try {
    if (!isDirty(form)) localStorage.removeItem(key(form));
    else
      localStorage.setItem(
        key(form),
        JSON.stringify({ texts: texts(form), before: Object.fromEntries(fields(form).map((field) => [field.name, before(form, field.name).value])), at: Date.now() }),
      );
    return true;
  } catch {
    return false;
  }
}

function left(form) {
  const start = `${mine}${form.dataset.keep}:`;
  return Object.keys(localStorage)
    .filter((name) => name.startsWith(start) && name !== key(form))
    .map((name) => ({ name, ...JSON.parse(localStorage.getItem(name)) }));
}

function offer(form) {
  for (const entry of left(form)) {
    const known = texts(form);
    if (Object.entries(entry.texts).every(([name, text]) => known[name] === text)) {
      localStorage.removeItem(entry.name);
      continue;
    }
    const note = document.getElementById("unkept-words").content.firstElementChild.cloneNode(true);
    note.dataset.entry = entry.name;
    const when = note.querySelector("[data-when]");
    when.textContent = when.dataset.typed.replace("%s", new Date(entry.at).toLocaleString(document.documentElement.lang, { dateStyle: "medium", timeStyle: "short" }));
    for (const [name, text] of Object.entries(entry.texts)) {
      if (text === entry.before[name]) continue;
      const quote = document.createElement("blockquote");
      quote.textContent = text;
      note.querySelector("[data-texts]").append(quote);
    }
    note.querySelector('[data-answer="keep"]').addEventListener("click", () => {
      for (const field of fields(form)) {
        if (entry.texts[field.name] === entry.before[field.name]) continue;
        field.value = entry.texts[field.name];
        before(form, field.name).value = entry.before[field.name];
      }
      if (form.elements.revision) form.elements.revision.value = "";
      remember(form);
      localStorage.removeItem(entry.name);
      note.remove();
      save(form);
    });
    note.querySelector('[data-answer="drop"]').addEventListener("click", () => {
      localStorage.removeItem(entry.name);
      note.remove();
      fields(form)[0].focus();
    });
    form.querySelector("[data-unkept]").append(note);
  }
}

// Kept by the other window meanwhile: no question any more.
addEventListener("storage", (event) => {
  if (event.newValue === null) document.querySelectorAll("[data-entry]").forEach((note) => note.dataset.entry === event.key && note.remove());
});

// In the studio

async function save(form) {
  const state = stateOf(form);
  clearTimeout(state.timer);
  if (state.sending) await state.sending;
  if (state.clash || !isDirty(form)) return;
  state.sending = send(form, state);
  await state.sending;
  state.sending = null;
}

async function send(form, state) {
  const body = new URLSearchParams(new FormData(form));
  body.delete("csrfmiddlewaretoken");
  const sent = texts(form);
  let answer, data;
  try {
    answer = await fetch(form.action, {
      method: "POST",
      body,
      headers: { Accept: "application/json", "X-CSRFToken": token() },
      redirect: "manual",
      keepalive: body.toString().length < MOST_ON_LEAVING,
    });
    if (answer.type === "opaqueredirect" || answer.status === 403) return noLogin(form, state);
    data = await answer.json();
  } catch {
    return later(form, state);
  }
  if (answer.status === 409) return clashed(form, state, data);
  if (!answer.ok) return data.said ? tell(form, data.said) : later(form, state);
  for (const field of fields(form)) {
    before(form, field.name).value = data.texts[field.name];
    if (field.value === sent[field.name] && field.value !== data.texts[field.name]) field.value = data.texts[field.name];
  }
  if (form.elements.revision) form.elements.revision.value = data.revision;
  tell(form, data.said);
  remember(form);
  if (isDirty(form)) wait(form, PAUSE);
}

function later(form, state) {
  tell(form, remember(form) ? words.keptHere : words.nowhere);
  clearTimeout(state.timer);
  wait(form, AGAIN);
}

function noLogin(form, state) {
  clearTimeout(state.timer);
  tell(form, remember(form) ? words.noLogin : words.nowhere, { to: words.logInAt, text: words.logIn });
}

function wait(form, time) {
  const state = stateOf(form);
  clearTimeout(state.timer);
  state.timer = setTimeout(() => save(form), time);
}

// Two windows: both texts are shown, and nothing is sent until one of the answers is given.

function clashed(form, state, data) {
  state.clash = data;
  remember(form);
  tell(form, words.choose);
  form.querySelector("[data-clash]").innerHTML = data.html;
}

function settle(form, answer) {
  const state = stateOf(form), data = state.clash;
  state.clash = null;
  form.querySelector("[data-clash]").textContent = "";
  for (const field of fields(form)) {
    const kept = data.texts[field.name];
    if (data.clashes.includes(field.name)) field.value = answer === "mine" ? field.value : answer === "theirs" ? kept : joined(kept, field.value);
    else if (field.value === before(form, field.name).value) field.value = kept;
    before(form, field.name).value = kept;
  }
  if (form.elements.revision) form.elements.revision.value = data.revision;
  tell(form, "");
  remember(form);
  fields(form)[0].focus();
  return save(form);
}

const joined = (kept, typed) => (kept.includes(typed) ? kept : typed.includes(kept) ? typed : `${kept}\n\n${typed}`);

// When

document.addEventListener("input", (event) => {
  const form = event.target.closest("form[data-keep]");
  if (!form || !event.target.matches("[data-kept]")) return;
  if (!remember(form)) tell(form, words.nowhere);
  if (!stateOf(form).clash) wait(form, PAUSE);
});

document.addEventListener("change", (event) => {
  const form = event.target.closest("form[data-keep]");
  if (form && event.target.matches("[data-kept]")) save(form);
});

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.matches("form[data-keep]")) {
    event.preventDefault();
    if (stateOf(form).clash) settle(form, event.submitter?.value || "mine");
    else save(form);
  } else if (form.matches("[data-after-keeping], form[action$='log-out/']") && forms().some(isDirty) && !form.dataset.sure) {
    event.preventDefault();
    Promise.all(forms().map(save)).then(() => {
      form.dataset.sure = "1";
      if (!forms().some(isDirty)) form.requestSubmit();
      else forms().filter(isDirty).forEach((one) => tell(one, words.leaving));
    });
  }
});

const saveAll = () => Promise.all(forms().map(save));
addEventListener("pagehide", saveAll);
addEventListener("online", saveAll);
document.addEventListener("visibilitychange", () => document.hidden && saveAll());

// Before another part of the page takes a form's place, its words are kept; what was typed since is typed anew.
document.addEventListener("htmx:confirm", (event) => {
  if (event.detail.verb === "get" || !forms().some(isDirty)) return;
  event.preventDefault();
  saveAll().then(() => event.detail.issueRequest(true));
});

let typedSince = [];
document.addEventListener("htmx:beforeSwap", () => {
  typedSince = forms().filter(isDirty).map((form) => ({ name: form.dataset.keep, texts: texts(form), old: form }));
});
document.addEventListener("htmx:afterSettle", () => {
  for (const { name, texts: typed, old } of typedSince) {
    const form = forms().find((one) => one.dataset.keep === name);
    if (!form || form === old) continue;
    for (const field of fields(form)) field.value = typed[field.name];
    remember(form);
    wait(form, PAUSE);
  }
  typedSince = [];
});

for (const form of forms()) offer(form);
