/* The working page: keeps what is tapped, sends it when there is signal, shows where the job is. */
"use strict";
(() => {
  const root = document.getElementById("trackside");
  if (!root) return;
  const { store, words, state, clock, sender, parts, cards, steps, records, ending } = trackside;
  const { el } = parts;
  const { number, person } = root.dataset;
  const at = { job: null, taps: [], state: null, clock: null, now: Date.now(), offset: 0,
    units: { temperature: root.dataset.temperature, length: root.dataset.length },
    tap, warn };
  const EVERY_MS = 30000;
  const CLOCK_OFF_MS = 120000;
  const REST_MS = 500;
  let signal = { state: "opening" };
  let sending = false;
  let again = false;

  const id = (name) => document.getElementById(name);

  /* Set a line only when it changes, so that it is not read out again and again. */
  function say(where, text) {
    if (where.textContent !== text) where.textContent = text;
  }

  function warn(text) { say(id("warning"), text); }

  /* --- what is known ----------------------------------------------------------------------- */
  const officeNow = () => Date.now() + at.offset;

  function events() {
    const sent = at.job.events.map((one) => ({ ...one, at: Date.parse(one.at) }));
    const has = new Set(sent.map((one) => one.id));
    const kept = at.taps.filter((tap) => tap.state === "kept" && !has.has(tap.id))
      .map((tap) => ({ ...tap, at: Date.parse(tap.phone_at) + at.offset, by: tap.person }));
    return [...sent, ...kept];
  }

  async function take(job) {
    at.job = job;
    at.offset = Date.parse(job.clock.server_now) - Date.now();
    await store.put("sheets", { number, job, offset: at.offset, read_at: Date.now() });
  }

  /* --- tapping and sending ----------------------------------------------------------------- */
  async function tap(kind, data, photo) {
    const made = { sheet: number, kind, data, person, phone_at: new Date().toISOString(), state: "kept" };
    try {
      await store.keepTap(made, photo);
    } catch {
      warn("This phone could not keep that. Write it on the paper sheet, and free some room on the phone.");
      return;
    }
    await reload();
    send();
  }

  async function reload() {
    at.taps = await store.tapsOf(number);
    draw();
  }

  /* One sending at a time; what is tapped meanwhile goes with the next. */
  async function send() {
    again = true;
    if (sending) return;
    sending = true;
    try {
      while (again) {
        again = false;
        signal = await sendOnce();
      }
    } finally {
      sending = false;
      await reload();
    }
  }

  async function sendOnce() {
    const sent = await sender.sendTaps(root.dataset.events, number, person);
    if (sent.state !== "ok") return sent;
    const read = await sender.read(root.dataset.work);
    if (read.state !== "ok") return read;
    await take(read.body);
    const known = new Set(at.job.events.map((one) => one.id));
    const photos = await sender.sendPhotos(root.dataset.events, number, known);
    return photos.state === "ok" ? { state: "ok", at: officeNow() } : photos;
  }

  /* --- showing ----------------------------------------------------------------------------- */
  function draw() {
    if (!at.job) {
      drawSignal();
      return;
    }
    at.now = officeNow();
    at.state = state.of(at.job.stages, events());
    at.clock = at.job.stages[0].remaining ? clock.read(at.job, at.state, at.now) : null;
    drawChance();
    drawStep();
    drawStages();
    if (!id("tools").childElementCount) id("tools").replaceChildren(...records.tools(at));
    drawStop();
    tick();
    drawSignal();
  }

  /* The card and the list are made anew only when the job moved on or the clock changed what they say. */
  let shown = "";
  function drawStep() {
    const refused = at.taps.filter((one) => one.state === "refused").map((one) => one.id);
    const key = JSON.stringify([events().map((one) => one.id), refused, at.job.may_start, at.job.withdrawn, ...moved()]);
    if (key === shown) return;
    const first = !shown;
    shown = key;
    const same = cards.renew(id("step"), card(), first ? null : lookedAt());
    const verdicts = [...id("step").querySelectorAll(".verdict")].map((one) => one.textContent);
    say(id("answer"), same ? verdicts.join(" ") : "");
    rest(id("step"));
    id("log").replaceChildren(...records.log(at, events()));
  }

  /* What the clock alone changes on the card. */
  function moved() {
    const row = at.clock?.stages.find((each) => each.stage === at.state.current);
    return [Boolean(at.clock?.under), Boolean(row && at.now > row.last)];
  }

  /* The second tap of a gloved hand must not fall on the next step's button in the same place. */
  function rest(step) {
    const waiting = [...step.querySelectorAll("button")];
    waiting.forEach(parts.rest);
    setTimeout(() => waiting.forEach(parts.wake), REST_MS);
  }

  function card() {
    if (at.job.withdrawn) return ending.withdrawn(at);
    if (at.state.handedBack) return ending.ended("Handed back", at.state.handedBack);
    if (at.state.brokenOff) return ending.brokenOff(at);
    if (!at.state.started) return steps.begin(at);
    return at.state.current ? steps.stage(at) : ending.handBack(at);
  }

  /* Every second: time left and running timers. Only text is changed. */
  function tick() {
    if (!at.job) return;
    at.now = officeNow();
    const left = (Date.parse(at.job.hand_back_at) - at.now) / 60000;
    const over = left < 0;
    say(id("left"), words.minutes(left));
    say(id("hand-back-day"), words.day(Date.parse(at.job.hand_back_at), at.now));
    say(id("left-words"), over ? "after the time to hand back," : "until hand back at");
    root.querySelector(".at-a-glance").classList.toggle("over", over);
    for (const timer of root.querySelectorAll("[data-since]")) {
      say(timer, `${words.minutes((at.now - Number(timer.dataset.since)) / 60000)} so far`);
    }
    for (const timer of root.querySelectorAll("[data-until]")) {
      const rest = (Number(timer.dataset.until) - at.now) / 1000;
      say(timer, rest > 0 ? `${timer.dataset.words} ${words.seconds(rest)}` : timer.dataset.over || `${timer.dataset.words} time is up`);
    }
  }

  function drawChance() {
    const now = at.state && !at.state.handedBack && !at.state.brokenOff ? at.clock : null;
    root.querySelector(".at-a-glance").classList.toggle("short", Boolean(now?.under));
    say(id("chance"), !now ? "" : `${words.percent(now.chance)} chance to hand back in time`
      + (now.under ? `; ${words.percent(at.job.set_chance)} is set` : ""));
    const first = !id("advice").textContent;
    say(id("advice"), now?.advice || "");
    if (first && now?.advice) {
      cards.show(lookedAt());
      rest(id("step"));
    }
  }

  /* Where eyes belong: on what can still be done, where the time is short; else on the step. */
  const lookedAt = () => (id("advice").textContent ? id("advice") : id("step"));

  function drawSignal() {
    const mine = at.taps.filter((one) => one.state === "kept" && one.person === person).length;
    const others = at.taps.find((one) => one.state === "kept" && one.person !== person);
    const safe = mine ? `${mine} ${mine === 1 ? "entry is" : "entries are"} safe on this phone` : "nothing is waiting";
    const lines = {
      opening: "Opening what this phone has kept…",
      ok: mine ? `Sending: ${safe}.` : `Everything is at the office (${words.clock(signal.at || officeNow())}).`,
      "no-signal": at.job ? `No signal: ${safe} and ${mine ? "go out by themselves" : "the page works on"}.`
        : "No signal, and this sheet was not opened on this phone before. Use the paper sheet.",
      login: `${signal.sentence || "The login ran out."} Log in again to send: ${safe}.`,
      fault: `${signal.sentence || ""} ${safe}; it is tried again.`,
    };
    const whose = others ? ` ${others.person} must log in on this phone to send what they tapped.` : "";
    const off = Math.abs(at.offset) > CLOCK_OFF_MS
      ? ` This phone's clock is ${words.minutes(Math.abs(at.offset) / 60000)} ${at.offset > 0 ? "slow" : "fast"}; times here go by the office's clock.` : "";
    say(id("signal"), lines[signal.state] + whose + off);
    loginLink(signal.state === "login");
  }

  function loginLink(wanted) {
    const present = id("log-in-again");
    if (!wanted && present) present.remove();
    if (wanted && !present) {
      id("signal").after(el("a", { id: "log-in-again", class: "button second", href: `${root.dataset.login}?next=${location.pathname}` }, "Log in again"));
    }
  }

  function drawStages() {
    const times = new Map((at.clock?.stages || []).map((row) => [row.stage, row]));
    id("stages").replaceChildren(...at.job.stages.map((stage) => stageRow({ stage, ...times.get(stage) })));
  }

  function stageRow({ stage, begins, last, late }) {
    const real = at.state.stages[stage.key];
    const present = at.state.current === stage;
    const when = real.startedAt || begins;
    const said = real.state === "done" ? `done ${words.clock(real.endedAt)}${real.interrupted ? ", held up" : ""}`
      : last ? `not after ${words.clock(last)}${late ? ", too late now" : ""}` : "";
    return el("li", { class: `${stage.hand_back}${present ? " now" : ""}${real.state === "done" ? " past" : ""}`, "aria-current": present ? "step" : null },
      el("span", { class: "time" }, when ? words.clock(when) : ""), el("span", { class: "name" }, stage.name), el("span", { class: "last" }, said));
  }

  /* Made anew only when the state of the track changed, so that a reason being typed is safe. */
  let stopKey = null;
  function drawStop() {
    const open = at.state.started && !at.state.handedBack && !at.state.brokenOff;
    const key = open ? records.trackNow(at) : "";
    if (key === stopKey) return;
    stopKey = key;
    id("stop").replaceChildren(...(open ? [records.stopping(at, key)] : []));
  }

  /* --- opening ----------------------------------------------------------------------------- */
  async function open() {
    const kept = await store.get("sheets", number);
    if (kept) {
      at.job = kept.job;
      at.offset = kept.offset;
    }
    await reload();
    await send();
    keepPages();
  }

  /* The worker serves these pages when there is no signal; the first visit is kept by hand. */
  async function keepPages() {
    if (!("serviceWorker" in navigator)) {
      warn("This browser keeps no pages: without signal this page will not open again. Have the paper sheet with you.");
      return;
    }
    await navigator.serviceWorker.register(root.dataset.worker, { scope: "/sheets/" });
    const pages = await caches.open("trackside-pages");
    const answer = await fetch(location.pathname, { redirect: "manual" }).catch(() => null);
    if (answer?.ok) await pages.put(location.href.split("#")[0], answer);
    await navigator.storage?.persist?.();
  }

  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  setInterval(send, EVERY_MS);
  setInterval(tick, 1000);
  open();
})();
