// What every page does: `?` shows its keys, and a menu closes when the focus leaves it.

const keys = document.getElementById("keys");

export const isTyping = (target) =>
  target.isContentEditable || ["INPUT", "TEXTAREA", "SELECT"].includes(target.tagName);

document.addEventListener("keydown", (event) => {
  if (event.key === "?" && !isTyping(event.target) && keys && !keys.open) {
    event.preventDefault();
    keys.showModal();
  }
});

for (const menu of document.querySelectorAll("details.who")) {
  menu.addEventListener("focusout", (event) => {
    if (event.relatedTarget && !menu.contains(event.relatedTarget)) menu.open = false;
  });
  menu.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      menu.open = false;
      menu.querySelector("summary").focus();
    }
  });
}
