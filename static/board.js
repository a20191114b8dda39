// A board of weeks and days (a template's, a season's): sessions move by drag and by arrow keys, the form of one opens
// beside the board.
// Everything here has a plain way too: the session's page has its week and day, and a link to close it.
(() => {
  const board = () => document.getElementById("board");
  const pane = () => document.getElementById("pane");
  let dragged = "", opener = "", busy = "";
  let waiting = [];

  // The card stands in its new cell at once; the server's answer then says what became of it. A hand may be quicker
  // than the answer: what it does meanwhile waits its turn, or it would be sent as made on what no longer stands.
  function move(key, week, day) {
    const card = document.getElementById(`s-${key}`);
    const cell = board().querySelector(`[data-week="${week}"] .cell[data-day="${day}"]`);
    if (card && cell) {
      const held = card === document.activeElement;
      cell.insertBefore(card, cell.querySelector(".add"));
      if (held) card.focus();
    }
    if (busy) waiting.push([key, week, day]);
    else send(key, week, day);
  }

  function send(key, week, day) {
    const form = document.getElementById("move");
    busy = form.getAttribute("hx-post");
    form.elements.key.value = key;
    form.elements.week.value = week;
    form.elements.day.value = day;
    opener = `s-${key}`;
    form.requestSubmit();
  }

  function close() {
    pane().replaceChildren();
    focusOn(opener);
  }

  function focusOn(id) {
    const there = id && document.getElementById(id);
    if (there) there.focus();
  }

  const cellOf = (node) => node instanceof Element ? node.closest("#board .cell:not(.gone)") : null;

  document.addEventListener("dragstart", (event) => {
    const card = event.target.closest?.("#board .card");
    if (!card) return;
    dragged = card.dataset.key;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", card.querySelector(".what").textContent);
    card.classList.add("dragged");
    board().classList.add("dragging");
  });
  document.addEventListener("dragover", (event) => {
    const cell = cellOf(event.target);
    if (!dragged || !cell) return;
    event.preventDefault();
    for (const one of board().querySelectorAll(".over")) if (one !== cell) one.classList.remove("over");
    cell.classList.add("over");
  });
  document.addEventListener("drop", (event) => {
    const cell = cellOf(event.target);
    if (!dragged || !cell) return;
    event.preventDefault();
    const card = document.getElementById(`s-${dragged}`);
    if (card && cellOf(card) !== cell) move(dragged, cell.parentElement.dataset.week, cell.dataset.day);
  });
  document.addEventListener("dragend", () => {
    dragged = "";
    board()?.classList.remove("dragging");
    for (const one of document.querySelectorAll(".over, .dragged")) one.classList.remove("over", "dragged");
  });

  const STEPS = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && pane()?.childElementCount) return close();
    const card = event.target.closest?.("#board .card");
    if (!card || !event.altKey || !(event.key in STEPS)) return;
    event.preventDefault();
    const [weeks, days] = STEPS[event.key];
    const cell = cellOf(card);
    let week = Number(cell.parentElement.dataset.week) + weeks;
    let day = cell.dataset.day === "" ? (days > 0 ? 0 : 6) : Number(cell.dataset.day) + days;
    if (day < 0 || day > 6) [week, day] = [week + days, day < 0 ? 6 : 0];
    const there = week >= 1 && week <= board().querySelectorAll(".board-week").length;
    if (there) move(card.dataset.key, week, weeks && cell.dataset.day === "" ? "" : day);
  });

  document.addEventListener("click", (event) => {
    const card = event.target.closest?.("#board .card, #board .add");
    if (card) opener = card.id;
    if (event.target.closest?.("#pane [data-close]")) {
      event.preventDefault();
      close();
    }
  });

  document.addEventListener("htmx:afterRequest", (event) => {
    if (!busy || event.detail.requestConfig.path !== busy) return;  // its form is gone by now, swapped with the answer
    busy = "";
    if (!event.detail.successful) waiting = [];  // the board shows what stands; what was to follow was made on less
  });
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.target.id === "pane") pane().querySelector("[aria-invalid=true], [name=text]")?.focus();
  });
  document.addEventListener("htmx:afterSettle", (event) => {
    if (![event.detail.elt.id, event.target.id].some((id) => id === "board" || id === "draft")) return;
    pane().replaceChildren();
    focusOn(opener);
    if (waiting.length && !busy) send(...waiting.shift());
  });
})();
