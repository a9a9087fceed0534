// One key for what is done most: an element says its key in `data-key`. In the search, Enter gives the first found,
// Shift and Enter gives it to all who come together.

const isTyping = (target) => target.isContentEditable || ["INPUT", "TEXTAREA", "SELECT"].includes(target.tagName);

document.addEventListener("keydown", (event) => {
  if (event.target.id === "find" && event.key === "Enter") {
    const first = document.querySelector(event.shiftKey ? "#shelves-list .give-all" : "#shelves-list .give:not([disabled])");
    if (first && event.target.value.trim()) {
      event.preventDefault();
      first.click();
    }
    return;
  }
  if (isTyping(event.target) || event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  const target = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
  if (!target) return;
  event.preventDefault();
  if (["INPUT", "TEXTAREA"].includes(target.tagName)) target.focus();
  else target.click();
});

// What was given is marked in the list without loading it again.
document.addEventListener("htmx:afterRequest", (event) => {
  const button = event.target.closest?.("#shelves-list form")?.querySelector(".give");
  if (!button || !event.detail.successful) return;
  button.disabled = true;
  button.querySelector(".sign").textContent = "✓";
});
