// Copies a field to the clipboard: <button data-copy="<id>" data-done="words" hidden>. Without a clipboard it stays hidden.

for (const button of document.querySelectorAll("button[data-copy]")) {
  const field = document.getElementById(button.dataset.copy);
  field.addEventListener("focus", () => field.select());
  if (!navigator.clipboard) continue;
  button.hidden = false;
  button.addEventListener("click", async () => {
    await navigator.clipboard.writeText(field.value);
    button.textContent = button.dataset.done;
  });
}
