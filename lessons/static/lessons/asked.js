// What families ask, answered by keys: j and k go from one to the next, g grants, r refuses, w writes a word back.

const isTyping = (target) => target.isContentEditable || ["INPUT", "TEXTAREA", "SELECT"].includes(target.tagName);
const all = () => [...document.querySelectorAll("[data-asked]")];
const focused = () => document.activeElement.closest?.("[data-asked]");
const linkOf = (one) => one.querySelector("h2 a");

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  if (event.target.matches?.("[data-word]")) {
    if (event.key !== "Enter" && event.key !== "Escape") return;
    event.preventDefault(); // Enter in the word would grant it; the answer is a key or a click of its own.
    linkOf(focused()).focus();
    return;
  }
  if (isTyping(event.target)) return;
  const one = focused() || all()[0];
  if (!one) return;
  if (event.key === "j" || event.key === "k") {
    const place = all().indexOf(focused());
    const next = place < 0 ? 0 : place + (event.key === "j" ? 1 : -1);
    linkOf(all()[Math.max(0, Math.min(all().length - 1, next))]).focus();
  } else if (event.key === "w") one.querySelector("[data-word]").focus();
  else {
    // One key decides only where it is seen what it decides on.
    const button = focused()?.querySelector(`[data-answer="${CSS.escape(event.key)}"]`);
    if (!button) return;
    button.click();
  }
  event.preventDefault();
});
