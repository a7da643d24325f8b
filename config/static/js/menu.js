/* On a narrow screen the ways around stand behind one button. Without script all of them show. */
"use strict";
document.documentElement.classList.add("folds");
document.addEventListener("DOMContentLoaded", () => {
  const fold = document.querySelector(".fold");
  if (!fold) return;
  const open = (yes) => fold.setAttribute("aria-expanded", String(yes));
  fold.addEventListener("click", () => open(fold.getAttribute("aria-expanded") !== "true"));
  fold.parentElement.addEventListener("keydown", (key) => {
    if (key.key !== "Escape") return;
    open(false);
    fold.focus();
  });
});
