// A button beside each password shows what is typed. Its words are data of the page's language.

for (const input of document.querySelectorAll("input[type='password']")) {
  const together = document.createElement("div");
  const button = document.createElement("button");
  together.className = "together";
  button.type = "button";
  button.textContent = document.documentElement.dataset.show;
  button.setAttribute("aria-pressed", "false");
  button.setAttribute("aria-controls", input.id);
  button.addEventListener("click", () => {
    const shown = input.type === "text";
    input.type = shown ? "password" : "text";
    button.setAttribute("aria-pressed", String(!shown));
  });
  input.replaceWith(together);
  together.append(input, button);
  // What was shown is a password again before it is sent, so that the browser keeps it as one.
  input.form?.addEventListener("submit", () => { input.type = "password"; });
}
