// The roster by keyboard: j and k go down and up, enter opens (it is a link), x ticks, / finds. And "all here".
(() => {
  const links = () => [...document.querySelectorAll(".roster .who a")];
  const typing = (node) => node.matches("input:not([type=checkbox]), select, textarea");

  function step(by) {
    const all = links();
    const row = document.activeElement.closest(".roster tr");
    const at = all.findIndex((link) => link.closest("tr") === row);
    const next = all[at < 0 ? (by > 0 ? 0 : all.length - 1) : Math.min(all.length - 1, Math.max(0, at + by))];
    if (next) next.focus();
  }

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) return;
    if (event.key === "j") step(1);
    else if (event.key === "k") step(-1);
    else if (event.key === "/") document.getElementById("q").focus();
    else if (event.key === "x") document.activeElement.closest(".roster tr")?.querySelector("[name=athlete]")?.click();
    else return;
    event.preventDefault();
  });

  document.addEventListener("change", (event) => {
    if (event.target.id !== "every") return;
    for (const box of document.querySelectorAll("[name=athlete]")) box.checked = event.target.checked;
  });
})();
