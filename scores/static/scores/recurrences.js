// On the desk: "a" goes to the next place with the same music, while the focus is at the music or its fingers.

const PLACES = "#typing, #desk-music, .other-places, #lines";

document.addEventListener("keydown", (event) => {
  if (event.key !== "a" || event.altKey || event.ctrlKey || event.metaKey) return;
  if (!event.target.closest(PLACES) || event.target.closest("input, textarea, select")) return;
  const next = document.querySelector("[data-next-place]");
  if (!next) return;
  event.preventDefault();
  location.assign(next.href);
});
