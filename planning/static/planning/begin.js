/* A drawing wider than its screen begins at its first job, or at the first place offered: on a
   phone the hours before it would be an empty frame. */
"use strict";
(() => {
  const MARGIN = 16;
  const begin = () => {
    for (const frame of document.querySelectorAll(".scroll:has(> svg.ground):not([data-begun])")) {
      frame.dataset.begun = "";
      const shown = frame.querySelectorAll(".opening").length ? ".opening" : ".job";
      const lefts = [...frame.querySelectorAll(shown)].map((it) => it.getBoundingClientRect().left);
      if (frame.scrollWidth > frame.clientWidth && lefts.length) {
        frame.scrollLeft += Math.min(...lefts) - frame.getBoundingClientRect().left - MARGIN;
      }
    }
  };
  document.addEventListener("DOMContentLoaded", begin);
  document.addEventListener("htmx:afterSettle", begin);
})();
