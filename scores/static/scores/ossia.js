// Clicking an ossia chooses it: the same as pressing the button or ticking the choice that stands for it in words.

const choiceFor = (ossia) =>
  document.querySelector(`[data-ossia-choice="${CSS.escape(`${ossia.dataset.ornament} ${ossia.dataset.ossia}`)}"]`);

const mark = () => {
  for (const ossia of document.querySelectorAll(".ossia")) ossia.classList.toggle("can-be-chosen", Boolean(choiceFor(ossia)));
};

document.addEventListener("click", (event) => {
  const ossia = event.target.closest?.(".ossia");
  if (ossia) choiceFor(ossia)?.click();
});

// On the desk the ossias are engraved for the width that they have: asked for once, and again when that changes.

const section = () => document.querySelector("#ornaments[data-url]");

const fit = () => {
  const here = section();
  if (!here || here.contains(document.activeElement)) return;
  const column = document.querySelector("#desk-music .system") ?? here;
  const width = Math.floor(column.clientWidth / 20) * 20;
  if (!width || Math.abs(width - Number(here.dataset.width)) < 20) return;
  htmx.ajax("GET", `${here.dataset.url}?width=${width}`, { target: "#ornaments", swap: "outerHTML" });
};

let waiting;
addEventListener("resize", () => {
  clearTimeout(waiting);
  waiting = setTimeout(fit, 300);
});
document.body.addEventListener("htmx:afterSettle", mark);
mark();
if (section()) (document.fonts?.ready ?? Promise.resolve()).then(fit);
