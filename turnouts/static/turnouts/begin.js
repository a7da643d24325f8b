/* A life line wider than its screen begins at today, its right end, and the names of its lanes go
   along. Without script it begins at its left end, with the names where they are drawn. */
"use strict";
document.addEventListener("DOMContentLoaded", () => {
  for (const frame of document.querySelectorAll(".scroll.picture")) {
    const drawing = frame.querySelector("svg.life");
    const names = drawing.querySelector(".names");
    const keep = () => {
      const pushed = frame.scrollLeft * (drawing.viewBox.baseVal.width / drawing.clientWidth);
      names.setAttribute("transform", `translate(${pushed} 0)`);
    };
    frame.addEventListener("scroll", keep, { passive: true });
    window.addEventListener("resize", keep);
    frame.scrollLeft = frame.scrollWidth;
    keep();
  }
});
