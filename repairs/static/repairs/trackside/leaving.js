/* Logging out on a phone: what was tapped and not sent is never lost, and is said; pages and sheets
   kept for no signal are taken away, once the office has logged the person out. */
"use strict";
(() => {
  const PAGES = "trackside-pages";
  const form = document.querySelector("form[data-leaving]");
  const waiting = document.querySelector("[data-waiting]");

  const el = (name, words) => Object.assign(document.createElement(name), { textContent: words });
  const plural = (count, one, many) => `${count} ${count === 1 ? one : many}`;

  /* The store as it is; a phone on which no sheet was ever opened gets none made. */
  async function kept() {
    const known = await indexedDB.databases?.();
    if (known && !known.some((base) => base.name === "trackside")) return { taps: [], photos: [] };
    const taps = await trackside.store.all("taps");
    return { taps, photos: await trackside.store.all("photos") };
  }

  const left = ({ taps, photos }, person) => ({
    entries: taps.filter((tap) => tap.person === person).length,
    pictures: photos.filter((photo) => photo.person === person).length,
  });

  const said = ({ entries, pictures }) => [
    entries ? plural(entries, "entry", "entries") : "", pictures ? plural(pictures, "photograph", "photographs") : "",
  ].filter(Boolean).join(" and ");

  function asked(words, yes, no) {
    return new Promise((done) => {
      const dialog = document.createElement("dialog");
      dialog.className = "leaving";
      const buttons = Object.assign(document.createElement("div"), { className: "stack" });
      const answer = (button, value) => { button.type = "button"; button.onclick = () => { dialog.close(); done(value); }; return button; };
      buttons.append(answer(el("button", no), false));
      if (yes) buttons.append(answer(Object.assign(el("button", yes), { className: "second" }), true));
      dialog.append(...words.map((one) => el("p", one)), buttons);
      dialog.addEventListener("close", () => { dialog.remove(); done(false); });
      document.body.append(dialog);
      dialog.showModal();
    });
  }

  /* Logged out only when the office has answered; with no signal everything stays as it is. */
  async function leave() {
    let answer;
    try {
      answer = await fetch(form.action, { method: "POST", body: new FormData(form), redirect: "manual" });
    } catch {
      await asked(["No signal: you are still logged in, and everything on this phone is as it was. Log out when there is signal."], "", "Go on");
      return;
    }
    if (answer.ok || answer.type === "opaqueredirect") {
      await caches.delete(PAGES);
      if ((await indexedDB.databases?.())?.some((base) => base.name === "trackside")) await trackside.store.clear("sheets");
    }
    location.assign(form.dataset.leaving);
  }

  async function leaving(event) {
    event.preventDefault();
    const unsent = left(await kept(), form.dataset.person);
    if (unsent.entries + unsent.pictures) {
      const one = unsent.entries + unsent.pictures === 1;
      const go = await asked([
        `${said(unsent)} of yours ${one ? "is" : "are"} still only on this phone. The office does not have ${one ? "it" : "them"}.`,
        "If there is signal, open the job sheet and wait until it says that everything is at the office.",
        `Should you log out all the same, ${one ? "it stays" : "they stay"} on this phone under your name, to be sent when you log in on it again and open the sheet.`,
      ], `Log out, leave ${one ? "it" : "them"} here`, "Stay logged in");
      if (!go) return;
    }
    await leave();
  }

  /* Where people log in: whose entries wait on this phone. */
  async function sayWaiting() {
    const { taps } = await kept();
    const by = new Map();
    for (const tap of taps) by.set(tap.person, (by.get(tap.person) || 0) + 1);
    const lines = [...by].map(([person, count]) => `${plural(count, "entry", "entries")} of ${person} ${count === 1 ? "waits" : "wait"} on this phone; ${person} must log in here and open the sheet to send.`);
    waiting.textContent = lines.join(" ");
    waiting.hidden = lines.length === 0;
  }

  if (form && "indexedDB" in window && "caches" in window) form.addEventListener("submit", leaving);
  if (waiting && "indexedDB" in window) sayWaiting();
})();
