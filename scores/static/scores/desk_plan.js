// The plan of a drill: stages moved up and down with buttons, in place of order numbers.

export function enhancePlan(within) {
  for (const plan of within.querySelectorAll("[data-plan]:not([data-ready])")) {
    plan.dataset.ready = "";
    for (const button of plan.querySelectorAll("[data-move]")) button.hidden = false;
    for (const help of within.querySelectorAll("[data-orders]")) help.hidden = true;
    for (const order of plan.querySelectorAll("input[name$='-ORDER']")) order.closest(".field").hidden = true;
    plan.addEventListener("click", (event) => {
      const button = event.target.closest("[data-move]");
      if (button) move(plan, button.closest("li"), Number(button.dataset.move), button);
    });
    number(plan);
  }
}

function move(plan, stage, step, button) {
  const other = step < 0 ? stage.previousElementSibling : stage.nextElementSibling;
  if (!other) return;
  if (step < 0) other.before(stage);
  else other.after(stage);
  number(plan);
  button.focus();
}

function number(plan) {
  plan.querySelectorAll("input[name$='-ORDER']").forEach((order, place) => {
    order.value = String(place + 1);
  });
}

enhancePlan(document);
