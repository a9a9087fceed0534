// Sending a score: a file can be dropped, the bar shows how far it is, and the form keeps what was typed.

const POLL = 400; // milliseconds between two questions

const begin = (form) => {
  const input = form.querySelector("input[type=file]");
  const drop = form.querySelector("[data-drop]");
  drop.querySelector(".drop-hint").hidden = false;
  for (const kind of ["dragenter", "dragover"]) {
    drop.addEventListener(kind, (event) => {
      event.preventDefault();
      drop.classList.add("over");
    });
  }
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    if (event.dataTransfer.files.length) input.files = event.dataTransfer.files;
  });
  form.addEventListener("submit", (event) => {
    if (!input.files.length) return; // Nothing to show: the form goes its plain way.
    event.preventDefault();
    send(form, input.files);
  });
};

const send = (form, files) => {
  const sending = form.querySelector("[data-sending]");
  const bar = sending.querySelector("progress");
  const step = sending.querySelector("[data-step]");
  const button = form.querySelector("button.main");
  const key = form.elements.sending.value; // Kept when the answer is lost: the same file sent again is the same edition.
  sending.hidden = false;
  button.disabled = true;
  const show = (words, percent) => {
    if (step.textContent !== words) step.textContent = words;
    bar.value = percent;
  };
  const end = () => {
    clearInterval(asking);
    sending.hidden = true;
    button.disabled = false;
  };
  let asking;
  const ask = async () => {
    const answer = await fetch(form.dataset.state.replace(/[0-]{36}/, key)).catch(() => null);
    if (!answer?.ok || !asking) return;
    const state = await answer.json().catch(() => ({})); // The page may be leaving already.
    // The first third of the bar is the way here, the rest the reading.
    if (state.step) show(state.step, 33 + (state.percent * 2) / 3);
  };
  const request = new XMLHttpRequest();
  request.open("POST", form.action);
  request.setRequestHeader("X-Requested-With", "XMLHttpRequest");
  show(sending.dataset.sendingWords, 0);
  request.upload.addEventListener("progress", (event) => {
    if (event.lengthComputable) show(sending.dataset.sendingWords, (33 * event.loaded) / event.total);
  });
  request.upload.addEventListener("load", () => {
    show(sending.dataset.readingWords, 33);
    asking = setInterval(ask, POLL);
  });
  request.addEventListener("load", () => {
    clearInterval(asking);
    asking = null;
    if (request.status === 201) {
      bar.value = 100;
      location.assign(JSON.parse(request.responseText).url);
      return;
    }
    end();
    const answer = new DOMParser().parseFromString(request.responseText, "text/html").getElementById(form.id);
    if (request.status === 422 && answer) {
      const fresh = document.adoptNode(answer);
      form.replaceWith(fresh);
      begin(fresh);
      const input = fresh.querySelector("input[type=file]");
      input.files = files;
      (fresh.querySelector(".field-wrong input") ?? input).focus();
    } else if (request.status === 422) {
      location.reload();
    } else {
      complain(form);
    }
  });
  request.addEventListener("error", () => {
    end();
    complain(form);
  });
  request.send(new FormData(form));
};

const complain = (form) => {
  const sending = form.querySelector("[data-sending]");
  let words = form.querySelector(".lost");
  if (!words) {
    words = document.createElement("p");
    words.className = "wrong lost";
    words.setAttribute("role", "alert");
    sending.after(words);
  }
  words.textContent = sending.dataset.lostWords;
};

for (const form of document.querySelectorAll("#sending-form")) begin(form);
