// Says so when a press never reached the house; htmx alone would stay silent.
for (const event of ["htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(event, () => {
    const said = document.createElement("p");
    said.className = "notice error";
    said.textContent = "No connection: that was not saved. Try again in a moment.";
    document.getElementById("said").replaceChildren(said);
  });
}

// What a person has opened stays open when the part of the page around it is brought up to date.
document.addEventListener("htmx:beforeSwap", (event) => {
  const opened = [...event.detail.target.querySelectorAll("details[open][id]")].map((each) => each.id);
  event.detail.target.dataset.opened = opened.join(" ");
});
document.addEventListener("htmx:afterSwap", (event) => {
  for (const id of (event.detail.target.dataset.opened || "").split(" ").filter(Boolean)) {
    document.getElementById(id)?.setAttribute("open", "");
  }
});

// After a tick the next task is read out and its buttons are near; a second tap of the same finger does nothing.
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id !== "work" || event.detail.requestConfig?.verb !== "post") return;
  if (!document.activeElement || document.activeElement === document.body) {
    document.getElementById("next-title")?.focus({ preventScroll: true });
  }
  const presses = event.detail.target.querySelectorAll(".card .press");
  for (const each of presses) each.style.pointerEvents = "none";
  setTimeout(() => { for (const each of presses) each.style.pointerEvents = ""; }, 500);
});
