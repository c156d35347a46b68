// Says so when a press never reached the house; htmx alone would stay silent.
for (const event of ["htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(event, () => {
    const said = document.createElement("p");
    said.className = "notice error";
    said.textContent = "No connection: that was not saved. Try again in a moment.";
    document.getElementById("said").replaceChildren(said);
  });
}
