// Moving sessions on the board, with a pointer, with keys or with presses. The server says what is in the way, and
// saves; here is only what is carried, where its outline lies, and by how much it has moved.
(() => {
  const MINUTE = 60000, DAY = 1440 * MINUTE, QUARTER = 15;
  const bar = document.getElementById("carry"), box = document.getElementById("carried");
  const said = document.getElementById("carry-said"), mode = document.getElementById("carry-mode");
  const closing = document.getElementById("carry-close");
  const board = () => document.querySelector("#board-area .board");
  const rows = () => [...board().querySelectorAll(".board-row[data-room]")];
  const rowOf = (room) => rows().find((row) => row.dataset.room === room);
  let carried = null, pressed = null, asking = 0, turn = 0, late = false;

  // Wall time: what the clock of the site shows at an instant, as if it were UTC.
  function wall(ms) {
    const parts = Object.fromEntries(clock().formatToParts(ms).map((part) => [part.type, part.value]));
    return Date.UTC(parts.year, parts.month - 1, parts.day, parts.hour, parts.minute, parts.second);
  }
  const clocks = {};
  function clock() {
    const zone = board().dataset.zone;
    const numbers = Object.fromEntries(["year", "month", "day", "hour", "minute", "second"].map((n) => [n, "numeric"]));
    return clocks[zone] ||= new Intl.DateTimeFormat("en-GB", { timeZone: zone, hourCycle: "h23", ...numbers });
  }
  // Whole days keep the hour on the clock; minutes alone are elapsed time (as the server has it).
  function later(ms, days, minutes) {
    if (!days) return ms + minutes * MINUTE;
    const wanted = wall(ms) + days * DAY + minutes * MINUTE, guess = ms + days * DAY + minutes * MINUTE;
    return guess + wanted - wall(guess);
  }
  function words(ms) {
    const there = new Date(wall(ms));
    const day = there.toLocaleDateString("en-GB", { weekday: "short", day: "numeric", month: "long", timeZone: "UTC" });
    return `${day.replace(",", "")}, ${there.toISOString().slice(11, 16)}`;
  }

  function pickUp(block, quietly) {
    if (carried) letGo();
    const row = rowOf(block.dataset.room) || block.closest(".board-row"), times = block.dataset.times.split(" ").map((s) => s * 1000);
    carried = { block, row, times, home: row.dataset.room, title: block.querySelector(".block-title").textContent.trim(),
      days: 0, minutes: 0, endDays: 0, endMinutes: 0, ghost: document.createElement("li") };
    carried.ghost.className = "ghost";
    carried.ghost.setAttribute("aria-hidden", "true");
    block.closest(".block").classList.add("block-carried");
    said.replaceChildren();
    bar.hidden = box.hidden = false;
    closing.hidden = true;
    document.getElementById("carry-name").textContent = `Moving “${carried.title}”`;
    draw();
    if (!quietly) { box.focus(); ask(); }
  }

  function letGo() {
    carried?.ghost.remove();
    document.querySelector(".block-carried")?.classList.remove("block-carried");
    const block = carried?.block;
    carried = null;
    clearTimeout(asking);
    turn++;
    box.hidden = true;
    bar.hidden = !said.hasChildNodes();
    closing.hidden = bar.hidden;
    setTimeout(catchUp);
    return block;
  }

  function moved() {
    const { times: [setup, loadIn, downbeat, end, clear], days, minutes, endDays, endMinutes } = carried;
    const by = (ms, more) => later(ms, days + more * endDays, minutes + more * endMinutes);
    return { setup: by(setup, 0), loadIn: by(loadIn, 0), downbeat: by(downbeat, 0), end: by(end, 1), clear: by(clear, 1) };
  }

  function draw() {
    const { start, end } = board().dataset, at = moved(), { ghost, row } = carried;
    const percent = (ms) => Math.min(100, Math.max(0, 100 * (ms / 1000 - start) / (end - start)));
    ghost.style.left = `${percent(at.setup)}%`;
    ghost.style.width = `${Math.max(0.5, percent(Math.max(at.clear, at.setup)) - percent(at.setup))}%`;
    ghost.textContent = `${words(at.downbeat)} to ${words(at.end).slice(words(at.downbeat).slice(0, -5) === words(at.end).slice(0, -5) ? -5 : 0)}`;
    if (ghost.parentElement !== row.querySelector(".lanes")) row.querySelector(".lanes").append(ghost);
  }

  function values() {
    const { block, row, times, days, minutes, endDays, endMinutes } = carried, iso = (ms) => new Date(ms).toISOString();
    return { session: block.dataset.session, version: block.dataset.version, room: row.dataset.room, days, minutes,
      load_in: iso(times[1]), downbeat: iso(times[2]), end: iso(times[3]), end_days: endDays, end_minutes: endMinutes };
  }

  function ask() {
    clearTimeout(asking);
    const mine = ++turn;
    asking = setTimeout(async () => {
      try {
        const answer = await fetch(bar.dataset.check, { method: "POST", body: new URLSearchParams(values()),
          headers: { ...JSON.parse(document.body.getAttribute("hx-headers")), "HX-Request": "true", "HX-Current-URL": location.href } });
        if (mine !== turn) return;
        if (answer.headers.get("HX-Redirect")) location = answer.headers.get("HX-Redirect");
        else if (answer.ok && answer.status !== 204) said.innerHTML = await answer.text();
      } catch { /* putting it down says when there is no connection */ }
    }, 200);
  }

  async function putDown(fromBlock) {
    clearTimeout(asking);
    turn++;
    const still = !carried.days && !carried.minutes && !carried.endDays && !carried.endMinutes && carried.row.dataset.room === carried.home;
    if (still) return back("It lies where it was.");
    const mine = carried;
    await htmx.ajax("POST", bar.dataset.move, { source: said, target: said, swap: "innerHTML", values: values() });
    if (carried !== mine) return;
    const outcome = said.querySelector("[data-outcome]")?.dataset.outcome;
    if (outcome === "refused" && !fromBlock) return; // still in hand: the keys go on
    letGo();
    if (outcome === "saved" || fromBlock) return document.getElementById(mine.block.id)?.focus({ preventScroll: true });
    (said.querySelector("form button") || said).focus();
  }

  function back(sentence) {
    const words = document.createElement("p");
    words.textContent = sentence;
    said.replaceChildren(words);
    letGo()?.focus();
  }

  function nextRow(step) {
    const all = rows(), next = all[all.indexOf(carried.row) + step];
    if (next) carried.row = next;
    carried.row.scrollIntoView({ block: "nearest" });
  }

  const MOVES = {
    "earlier": () => { carried.minutes -= QUARTER; }, "later": () => { carried.minutes += QUARTER; },
    "day-before": () => { carried.days -= 1; }, "day-after": () => { carried.days += 1; },
    "shorter": () => { carried.endMinutes -= QUARTER; }, "longer": () => { carried.endMinutes += QUARTER; },
    "day-shorter": () => { carried.endDays -= 1; }, "day-longer": () => { carried.endDays += 1; },
    "room-above": () => nextRow(-1), "room-below": () => nextRow(1),
  };
  const KEYS = { ArrowLeft: "earlier", ArrowRight: "later", ArrowUp: "room-above", ArrowDown: "room-below", PageUp: "day-before",
    PageDown: "day-after", Enter: "put-down", Escape: "let-go" };
  const SHIFTED = { ArrowLeft: "shorter", ArrowRight: "longer", PageUp: "day-shorter", PageDown: "day-longer" };

  function act(name) {
    if (name === "put-down") return putDown();
    if (name === "let-go") return back("Let go: nothing has changed.");
    MOVES[name]();
    draw();
    ask();
  }

  box.addEventListener("keydown", (event) => {
    const name = (event.shiftKey ? SHIFTED : KEYS)[event.key];
    const onPress = event.target !== box && event.key === "Enter";
    if (!carried || !name || onPress || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    act(name);
  });
  box.addEventListener("click", (event) => { if (carried && event.target.dataset.by) act(event.target.dataset.by); });
  closing.addEventListener("click", () => { said.replaceChildren(); bar.hidden = closing.hidden = true; mode.focus(); });
  said.addEventListener("htmx:afterSwap", () => {
    bar.hidden = false;
    closing.hidden = Boolean(carried);
    const moved = said.querySelector("[data-moved]")?.dataset, block = moved && document.getElementById(`s${moved.moved}`);
    if (block) Object.assign(block.dataset, { version: moved.version, times: moved.times, room: moved.room });
  });
  // The board isn't exchanged under what is carried; it is brought up to date when that is put down.
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.target.id !== "board-area" || !(carried || pressed)) return;
    event.detail.shouldSwap = false;
    late = true;
  });
  function catchUp() {
    if (!late || carried || pressed) return;
    late = false;
    htmx.trigger(document.body, "board-moved");
  }

  // With the switch on, a press on a block picks it up instead of opening it: no dragging is needed.
  mode.hidden = false;
  mode.addEventListener("click", () => {
    const on = mode.getAttribute("aria-pressed") !== "true";
    mode.setAttribute("aria-pressed", on);
    document.body.classList.toggle("carrying", on);
  });
  const movable = (target) => target.closest?.(".block a[data-session]");

  document.addEventListener("keydown", (event) => {
    const block = movable(event.target);
    if (!block || event.key.toLowerCase() !== "m" || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    pickUp(block);
  });
  document.addEventListener("click", (event) => {
    const block = movable(event.target);
    if (!block) return;
    if (pressed?.dragged) event.preventDefault();
    else if (document.body.classList.contains("carrying") && board().clientWidth > 700) { event.preventDefault(); pickUp(block); }
    pressed = null;
  }, true);

  // With a pointer: a finger only while the switch is on, since it scrolls otherwise.
  document.addEventListener("pointerdown", (event) => {
    const block = movable(event.target), touch = event.pointerType !== "mouse";
    if (!block || event.button || board().clientWidth <= 700 || (touch && !document.body.classList.contains("carrying"))) return;
    pressed = { block, id: event.pointerId, x: event.clientX, y: event.clientY, stretch: event.target.closest(".handle") };
  });
  document.addEventListener("pointermove", (event) => {
    if (!pressed || event.pointerId !== pressed.id) return;
    if (!pressed.dragged && Math.hypot(event.clientX - pressed.x, event.clientY - pressed.y) < 6) return;
    if (!pressed.dragged) { pressed.dragged = true; pickUp(pressed.block, true); }
    follow(event);
  });
  document.addEventListener("pointerup", (event) => {
    if (event.pointerId !== pressed?.id) return;
    if (pressed.dragged && carried) putDown(true);
    setTimeout(() => { pressed = null; catchUp(); });
  });
  document.addEventListener("pointercancel", () => {
    if (pressed?.dragged && carried) back("Let go: nothing has changed.");
    pressed = null;
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !pressed?.dragged || !carried) return;
    pressed = null;
    back("Let go: nothing has changed.");
  });

  // Quarter hours on a day, half hours on a week, whole days on four weeks.
  function follow(event) {
    if (!carried) return;
    const { start, end, view } = board().dataset, lanes = carried.row.querySelector(".lanes").clientWidth;
    const minutes = (event.clientX - pressed.x) / lanes * (end - start) / 60;
    const step = { day: 15, week: 30, weeks: 1440 }[view], steps = Math.round(minutes / step);
    const [days, rest] = view === "weeks" ? [steps, 0] : [0, steps * step];
    const before = JSON.stringify(values());
    if (pressed.stretch) [carried.endDays, carried.endMinutes] = [days, rest];
    else {
      [carried.days, carried.minutes] = [days, rest];
      carried.row = document.elementFromPoint(event.clientX, event.clientY)?.closest(".board-row[data-room]") || carried.row;
    }
    draw();
    if (JSON.stringify(values()) !== before) ask();
  }
})();
