// Today by keys: open a lesson, and say who was there.

const isTyping = (target) => target.isContentEditable || ["INPUT", "TEXTAREA", "SELECT"].includes(target.tagName);
const parts = () => [...document.querySelectorAll("[data-part]")];
const linkOf = (part) => part.querySelector("h2 a");
// The student whose line has the focus; else the first of the lesson that is on or comes next.
const current = () => document.activeElement.closest?.("[data-part]") || document.querySelector(".is-now [data-part], .is-next [data-part]");

document.addEventListener("keydown", (event) => {
  if (isTyping(event.target) || event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  const part = current();
  if (event.key === "j" || event.key === "k") {
    const all = parts();
    const focused = document.activeElement.closest?.("[data-part]");
    const place = all.indexOf(focused || part);
    linkOf(all[Math.max(0, Math.min(all.length - 1, focused ? place + (event.key === "j" ? 1 : -1) : Math.max(0, place)))])?.focus();
  } else if (/^[1-9]$/.test(event.key)) document.querySelector(`[data-open="${event.key}"]`)?.click();
  else if (event.key === "Enter") {
    if (document.activeElement.closest("a, button, summary") || !part) return;
    linkOf(part).click();
  } else {
    const button = part?.querySelector(`[data-say="${CSS.escape(event.key)}"]`);
    if (!button) return;
    button.click();
    linkOf(part).focus();
  }
  event.preventDefault();
});
