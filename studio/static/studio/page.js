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

// Devices are shared: words that lie in this browser until they are kept (`unkept:<user>:…`) go when their writer logs
// out, or when someone else has logged in.
const who = document.body.dataset.user;
const forget = (which) => {
  for (const name of Object.keys(localStorage)) if (name.startsWith("unkept:") && which(name)) localStorage.removeItem(name);
};
if (who) forget((name) => !name.startsWith(`unkept:${who}:`));
for (const form of document.querySelectorAll("form[action$='/log-out/']")) {
  form.addEventListener("submit", (event) => setTimeout(() => event.defaultPrevented || forget(() => true)));
}
