// The plan of a drill: stages moved up and down with buttons or Alt and an arrow, in place of order numbers, and added.

export function enhancePlan(within) {
  for (const plan of within.querySelectorAll("ol[data-plan]:not([data-ready])")) {
    plan.dataset.ready = "";
    for (const help of within.querySelectorAll("[data-orders]")) help.hidden = true;
    for (const stage of plan.children) show(stage);
    plan.addEventListener("click", (event) => {
      const button = event.target.closest("[data-move]");
      if (button) move(plan, button.closest("li"), Number(button.dataset.move), button);
    });
    plan.addEventListener("keydown", (event) => {
      const step = { ArrowUp: -1, ArrowDown: 1 }[event.key];
      if (!step || !event.altKey) return;
      event.preventDefault();
      move(plan, event.target.closest("li"), step, event.target);
    });
    const form = plan.closest("form");
    const add = form.querySelector("[data-add-stage]");
    add.hidden = false;
    add.addEventListener("click", () => addStage(form, plan));
    number(plan);
  }
}

function show(stage) {
  for (const button of stage.querySelectorAll("[data-move]")) button.hidden = false;
  for (const order of stage.querySelectorAll("input[name$='-ORDER']")) order.closest(".field").hidden = true;
}

function move(plan, stage, step, focus) {
  const other = step < 0 ? stage.previousElementSibling : stage.nextElementSibling;
  if (!other) return;
  if (step < 0) other.before(stage);
  else other.after(stage);
  number(plan);
  focus.focus();
}

function addStage(form, plan) {
  const total = form.querySelector(`[name="${plan.dataset.prefix}-TOTAL_FORMS"]`);
  const made = form.querySelector("[data-empty-stage]").content.cloneNode(true);
  for (const item of made.querySelectorAll("*")) {
    for (const name of ["name", "id", "for", "aria-describedby"]) {
      const value = item.getAttribute(name);
      if (value) item.setAttribute(name, value.replace("__prefix__", total.value));
    }
  }
  const stage = made.querySelector("li");
  plan.append(stage);
  total.value = String(Number(total.value) + 1);
  show(stage);
  number(plan);
  stage.querySelector("input:not([type=hidden])").focus();
}

function number(plan) {
  plan.querySelectorAll("input[name$='-ORDER']").forEach((order, place) => {
    order.value = String(place + 1);
  });
}

enhancePlan(document);
