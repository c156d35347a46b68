// A source on the plan is dragged, or moved with the arrow keys; the form beside it says the same in metres.
const NUDGE_M = 0.1;
const FAR_M = 0.5;

const part = () => document.getElementById("floor-part");
const plan = () => document.getElementById("floor-plan");
const field = (row, name) => document.querySelector(`[name="at-${row}-${name}"]`);

function pointOf(event) {
  const at = new DOMPoint(event.clientX, event.clientY);
  return at.matrixTransform(plan().getScreenCTM().inverse());
}

function areaAt(x, y) {
  const at = plan().createSVGPoint();
  at.x = x;
  at.y = y;
  return [...plan().querySelectorAll(".fl-wall")].find((wall) => wall.isPointInFill(at));
}

// The row's metres are from the left and from the top of the room in which the source lands.
function write(row, x, y) {
  const area = areaAt(x, y);
  if (!area) return;
  const box = area.getBBox();
  field(row, "x").value = ((x - box.x) / 100).toFixed(2);
  field(row, "y").value = ((y - box.y) / 100).toFixed(2);
  const room = field(row, "room");
  if (room?.options) room.value = area.dataset.area;
}

function show(row, dx, dy) {
  for (const each of plan().querySelectorAll(`[data-spot="${row}"], [data-name="${row}"]`)) {
    each.setAttribute("transform", `translate(${dx} ${dy})`);
  }
}

let held = null;

document.addEventListener("pointerdown", (event) => {
  const spot = event.target.closest?.("#floor-plan [data-spot]");
  if (!spot || !document.querySelector("[data-nudge]") || event.button) return;
  held = { row: spot.dataset.spot, spot, from: pointOf(event), x: Number(spot.dataset.x), y: Number(spot.dataset.y) };
  spot.setPointerCapture(event.pointerId);
  event.preventDefault();
});

document.addEventListener("pointermove", (event) => {
  if (!held) return;
  const at = pointOf(event);
  held.dx = at.x - held.from.x;
  held.dy = at.y - held.from.y;
  show(held.row, held.dx, held.dy);
});

document.addEventListener("pointerup", () => {
  if (held && Math.hypot(held.dx || 0, held.dy || 0) > 5) {
    write(held.row, held.x + held.dx, held.y + held.dy);
    document.getElementById("floor-form").requestSubmit();
  }
  held = null;
});

document.addEventListener("pointercancel", () => {
  if (held) show(held.row, 0, 0);
  held = null;
});

document.addEventListener("keydown", (event) => {
  const row = event.target.dataset?.nudge;
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (!row) return;
  if (event.key === "Enter") {
    event.preventDefault();
    document.getElementById("floor-form").requestSubmit();
  }
  if (!way) return;
  event.preventDefault();
  const spot = plan().querySelector(`[data-spot="${row}"]`);
  const step = (event.shiftKey ? FAR_M : NUDGE_M) * 100;
  spot.dataset.dx = Number(spot.dataset.dx || 0) + way[0] * step;
  spot.dataset.dy = Number(spot.dataset.dy || 0) + way[1] * step;
  show(row, spot.dataset.dx, spot.dataset.dy);
  write(row, Number(spot.dataset.x) + Number(spot.dataset.dx), Number(spot.dataset.y) + Number(spot.dataset.dy));
});

function ready() {
  for (const button of part().querySelectorAll("[data-nudge]")) button.hidden = false;
  if (part().querySelector("[data-nudge]")) part().classList.add("can-move");
}

let focused = null;
document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.target.id === "floor-part") focused = document.activeElement?.dataset?.nudge || null;
});
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id !== "floor-part") return;
  ready();
  if (focused) part().querySelector(`[data-nudge="${focused}"]`)?.focus({ preventScroll: true });
});
ready();
