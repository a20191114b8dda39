// A saved phrase goes where the cursor stands. Without this script the button sends the form, and the page comes back
// with the phrase at the end.
document.addEventListener("click", (event) => {
  const button = event.target.closest("button[name=phrase]");
  const box = button?.form.querySelector("[data-phrases]");
  if (!box) return;
  event.preventDefault();
  const before = box.value.slice(0, box.selectionStart), after = box.value.slice(box.selectionEnd);
  const gap = before && !/\s$/.test(before) ? " " : "";
  if ((before + gap + button.dataset.words + after).length > box.maxLength) return box.reportValidity();
  box.setRangeText(gap + button.dataset.words, box.selectionStart, box.selectionEnd, "end");
  box.focus();
});
