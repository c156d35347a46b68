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
