// On a narrow screen what is marked .fold stands folded until it is asked for, unless something in it is chosen or wrong.
// Without this script, and on a wide screen, it stands open.
(() => {
  const narrow = matchMedia("(max-width: 45rem)");

  function open() {
    const there = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    const fold = there && there.closest("details");
    if (!fold) return;
    fold.open = true;
    there.scrollIntoView();
  }

  if (narrow.matches) for (const one of document.querySelectorAll("details.fold:not([data-chosen], :has(.errorlist, .error))")) {
    one.open = false;
  }
  narrow.addEventListener("change", (event) => {
    if (!event.matches) for (const one of document.querySelectorAll("details.fold")) one.open = true;
  });
  addEventListener("hashchange", open);
  open();
})();
