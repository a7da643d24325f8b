/* What the cards of the working page are made of: elements, buttons for gloved hands, fields. */
"use strict";
window.trackside = window.trackside || {};
trackside.parts = (() => {
  /* An element with attributes and children; text goes in as text, never as markup. */
  function el(name, attributes = {}, ...children) {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) {
      if (key === "on") for (const [what, then] of Object.entries(value)) made.addEventListener(what, then);
      else if (value === true) made.setAttribute(key, "");
      else if (value !== false && value != null) made.setAttribute(key, value);
    }
    made.append(...children.filter((child) => child != null));
    return made;
  }

  const button = (label, then, kind = "") => el("button", {
    type: "button", class: kind || null, on: { click: (event) => once(event, then) },
  }, label);

  /* A resting button keeps the focus of whoever works by key or by ear; it only does nothing. */
  const resting = (one) => one.getAttribute("aria-disabled") === "true";
  const rest = (one) => one.setAttribute("aria-disabled", "true");
  const wake = (one) => one.removeAttribute("aria-disabled");

  /* Two taps of a gloved hand are one: the button rests until the first is kept. What was typed
     beside it is being written down, so a card made anew meanwhile does not carry it over. */
  async function once(event, then) {
    const pressed = event.currentTarget;
    if (resting(pressed)) return;
    const typed = [...pressed.parentElement.querySelectorAll("input, textarea")];
    rest(pressed);
    for (const one of typed) one.dataset.sent = "";
    try { await then(); } finally {
      wake(pressed);
      for (const one of typed) delete one.dataset.sent;
    }
  }

  /* What would make the record say that something went wrong is said first, and done at a second
     tap soon after. */
  const SOON_MS = 20000;
  let warned = { key: "", until: 0 };
  function twice(at, sentence, key) {
    const again = warned.key === key && Date.now() < warned.until;
    warned = sentence && !again ? { key, until: Date.now() + SOON_MS } : { key: "", until: 0 };
    at.warn(sentence && !again ? `${sentence} Tap again if it was done all the same.` : "");
    return !sentence || again;
  }

  function field(label, attributes) {
    const input = el("input", attributes);
    return { input, row: el("label", {}, el("span", {}, label), input) };
  }

  return { el, button, field, rest, wake, twice };
})();
