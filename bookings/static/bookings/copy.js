// Puts the field's text on the clipboard; the button shows itself only where that can work.
for (const button of document.querySelectorAll("[data-copies]")) {
  const field = document.getElementById(button.dataset.copies);
  field.addEventListener("focus", () => field.select());
  if (!navigator.clipboard) continue;
  button.hidden = false;
  button.addEventListener("click", async () => {
    const words = document.createElement("p");
    words.className = "notice";
    try {
      await navigator.clipboard.writeText(field.value);
      words.textContent = "The address is copied.";
    } catch {
      field.select();
      words.textContent = "This browser did not let it be copied: the address is marked, copy it by hand.";
    }
    document.getElementById("said").replaceChildren(words);
  });
}
