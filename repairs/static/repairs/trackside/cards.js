/* A card made anew under the eyes and fingers of somebody who works by it. */
"use strict";
window.trackside = window.trackside || {};
trackside.cards = (() => {
  const TAKES = "input, select, textarea, button, summary";
  const KEEPS = "input, select, textarea, details";

  const titleOf = (place) => place.querySelector("h2")?.textContent || "";

  /* A field goes by its label; buttons of one name by the field they stand beside. */
  function nameOf(one) {
    const label = one.closest("label")?.textContent || one.querySelector?.("summary")?.textContent || one.textContent;
    return `${one.tagName} ${label} ${one.closest(".pair")?.querySelector("label")?.textContent || ""}`;
  }

  /* Put a card in the place of the last; true where it is the same step. Then what is being typed,
     what is open and the focus stay; a new step takes the focus to its heading, so that it is read
     out, and `from` is shown under the clock. */
  function renew(place, card, from) {
    const same = card.querySelector("h2")?.textContent === titleOf(place);
    const inside = place.contains(document.activeElement);
    const focus = inside ? nameOf(document.activeElement) : "";
    const kept = [...place.querySelectorAll(KEEPS)].filter((one) => !("sent" in one.dataset));
    place.replaceChildren(card);
    if (same) putBack(place, new Map(kept.map((one) => [nameOf(one), one])));
    const heir = same && inside && [...place.querySelectorAll(TAKES)].find((one) => nameOf(one) === focus && one.checkVisibility());
    if (heir) heir.focus({ preventScroll: true });
    else if (from) top(place, inside, from);
    return same;
  }

  function putBack(place, kept) {
    for (const one of place.querySelectorAll(KEEPS)) {
      const was = kept.get(nameOf(one));
      if (was && one.matches("details")) one.open = was.open;
      else if (was && one.type === "checkbox") one.checked = was.checked;
      else if (was) one.value = was.value;
    }
  }

  function top(place, inside, from) {
    const heading = place.querySelector("h2");
    if (!heading) return;
    heading.tabIndex = -1;
    if (inside) heading.focus({ preventScroll: true });
    if (inside || place.getBoundingClientRect().top < headerPx()) show(from);
  }

  const headerPx = () => document.querySelector(".at-a-glance").offsetHeight;

  /* Scroll to where it begins right under the clock, which stays in sight. */
  function show(from) {
    from.style.scrollMarginTop = `${headerPx()}px`;
    from.scrollIntoView({ block: "start" });
  }

  return { renew, show };
})();
