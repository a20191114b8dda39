// The grid of handouts by keyboard: arrows up and down stay in the column, left and right leave a cell at its ends,
// enter goes down as on paper. A page with unsaved cells asks before it is left.
(() => {
  const form = document.querySelector(".grid")?.closest("form");
  if (!form) return;
  const place = (input) => {
    const cell = input.closest("td");
    return [cell.closest("tr").rowIndex, cell.cellIndex];
  };
  const inputs = () => [...form.querySelectorAll(".grid input")];

  function below(input, by) {
    const [row, column] = place(input);
    const same = inputs().filter((one) => place(one)[1] === column && (place(one)[0] - row) * by > 0);
    same.sort((a, b) => by * (place(a)[0] - place(b)[0]));
    return same[0];
  }

  function beside(input, by) {
    const all = inputs();
    return all[all.indexOf(input) + by];
  }

  form.addEventListener("keydown", (event) => {
    const input = event.target;
    if (!input.matches(".grid input") || event.ctrlKey || event.metaKey || event.altKey) return;
    const atStart = input.selectionEnd === 0;
    const atEnd = input.selectionStart === input.value.length;
    let next;
    if (event.key === "ArrowDown" || event.key === "Enter") next = below(input, 1);
    else if (event.key === "ArrowUp") next = below(input, -1);
    else if (event.key === "ArrowLeft" && atStart) next = beside(input, -1);
    else if (event.key === "ArrowRight" && atEnd) next = beside(input, 1);
    else return;
    if (!next && event.key !== "Enter") return;
    event.preventDefault();
    if (next) {
      next.focus();
      next.select();
    }
  });

  let typed = false;
  form.addEventListener("input", () => { typed = true; });
  form.addEventListener("submit", () => { typed = false; });
  window.addEventListener("beforeunload", (event) => { if (typed) event.preventDefault(); });

  form.querySelector("[aria-invalid]")?.focus();
})();
