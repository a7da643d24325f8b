/* The card of the present step: what it is, how long it may take, and the few things to tap. */
"use strict";
window.trackside = window.trackside || {};
trackside.steps = (() => {
  const { words, clock } = trackside;
  const MINUTE = 60000;

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

  /* Two taps of a gloved hand are one: the button rests until the first is kept. */
  async function once(event, then) {
    const pressed = event.currentTarget;
    if (pressed.disabled) return;
    pressed.disabled = true;
    try { await then(); } finally { pressed.disabled = false; }
  }

  const kindOf = (stage) => stage.key.split(".").pop().split("-")[0];
  const { zoneOf } = trackside.state;
  const firstLayer = (stage) => /\.layer-0*1$/.test(stage.key);

  function field(label, attributes) {
    const input = el("input", attributes);
    return { input, row: el("label", {}, label, input) };
  }

  /* --- before the job has begun ------------------------------------------------------------ */
  function begin(at) {
    const { content } = at.job.sheet;
    const points = content.briefing.map((point, n) => {
      const box = el("input", { type: "checkbox", value: n + 1 });
      return { box, row: el("label", { class: "tick" }, box, el("span", {}, point.text)) };
    });
    const may = at.job.may_start;
    const said = el("p", { class: may.yes ? "help" : "fault" }, may.sentence);
    const start = button("Everybody has understood: start", async () => {
      const ticked = points.filter(({ box }) => box.checked).map(({ box }) => Number(box.value));
      if (!ticked.length) { at.warn("Tick the points that were gone through; the briefing comes before the work."); return; }
      at.warn("");
      await at.tap("briefing", { points: ticked });
      await at.tap("started", {});
      await at.tap("stage_started", { stage: at.job.stages[0].key });
    }, "go");
    return el("div", {}, el("h2", {}, "Briefing"),
      el("p", { class: "help" }, "The railway's own rules and form come first. Tick what was gone through."),
      ...points.map(({ row }) => row), said, may.yes ? start : null);
  }

  /* --- a stage ----------------------------------------------------------------------------- */
  function stage(at) {
    const { current } = at.state;
    const real = at.state.stages[current.key];
    const running = real.state === "running";
    const gate = running ? null : gateOf(at, current);
    return el("div", {}, el("h2", {}, current.name), expected(at, current),
      running ? el("p", { class: "timer", "data-since": real.startedAt }, "") : lastMoment(at, current),
      gate || el("div", {}, ...tools(at, current, running)),
      gate ? null : running ? doneButton(at, current) : startButton(at, current));
  }

  const expected = (at, one) => el("p", { class: "help" },
    `${words.minutes(one.median_min)} in the middle, 80 of 100 within ${words.minutes(at.job.sheet.content.stages.find((each) => each.key === one.key).p80_min)}`
      + (one.hand_back === "never" ? ". The track cannot go back while this goes on." : "."));

  function lastMoment(at, one) {
    const row = at.clock?.stages.find((each) => each.stage === one);
    if (!row || at.state.stages[one.key].state !== "waiting") return null;
    const late = at.now > row.last;
    return el("p", { class: late ? "fault" : "big" },
      late ? `The last moment for this was ${words.clock(row.last)}. Call before you start it.`
        : `Not after ${words.clock(row.last)}.`);
  }

  /* What must be said before a stage may begin; nothing where it may begin at once. */
  function gateOf(at, one) {
    if (at.state.stages[one.key].state === "interrupted") return null;
    if (kindOf(one) === "gouging") return guardFirst(at, one) || openCavity(at, one);
    if (firstLayer(one) && !at.state.carbon[zoneOf(one)]) return carbon(at, one);
    return null;
  }

  /* On a self-guarded frog the guarding face comes before the point (49 CFR 213.141(b)). */
  function guardFirst(at, one) {
    const { component, zones } = at.job.sheet.content;
    if (component.design !== "self_guarded_manganese" || !zoneOf(one).endsWith("-point")) return null;
    const face = zones.find((zone) => zone.zone === "guard_face" && !at.state.guardFace[zone.key]);
    if (face) {
      return el("div", { class: "hold" }, el("p", { class: "big" }, "Hold point: the guarding face is restored before the point is opened (49 CFR 213.141(b))."),
        button("Restored, seen by me", () => at.tap("guard_face_restored", { zone: face.key }), "go"));
    }
    const worked = zones.some((zone) => zone.zone === "guard_face");
    const gaged = at.state.measured.some((each) => each.data.quantity === "raised_guard_wear");
    if (worked || gaged) return null;
    return el("div", { class: "hold" }, el("p", { class: "big" }, "Hold point: gage the raised guard before the point is opened."),
      oneReading(at, { title: "Wear of the raised guard", limit: "as the sheet says", quantity: "raised_guard_wear" }));
  }

  function openCavity(at, one) {
    const short = at.clock && at.clock.chance < at.job.set_chance;
    return el("div", { class: "hold" },
      el("p", {}, "From the first gouge on the track cannot go back until this zone is welded and ground."),
      el("p", { class: "big" }, `Chance to hand back in time from here: ${at.clock ? words.percent(at.clock.chance) : "not known"}.`),
      short ? el("p", {}, `That is under the ${words.percent(at.job.set_chance)} set. ${at.clock.advice}`) : null,
      button(short ? "Gouge all the same: I was told to" : "Start gouging",
        () => at.tap("stage_started", { stage: one.key }), short ? "danger" : "go"));
  }

  const carbon = (at, one) => el("div", { class: "hold" },
    el("p", { class: "big" }, "Hold point: no bead before every trace of gouging residue is ground off and bright metal shows."),
    button("Ground off, seen by me", () => at.tap("carbon_removed", { zone: zoneOf(one) }), "go"));

  const startButton = (at, one) => button(`${at.state.stages[one.key].state === "interrupted" ? "Go on with" : "Start"}: ${one.name}`,
    () => at.tap("stage_started", { stage: one.key }), "go");

  function doneButton(at, one) {
    const next = at.job.stages[at.job.stages.indexOf(one) + 1];
    const straight = next && !gateOf(at, next) && kindOf(next) !== "clearing";
    return el("div", { class: "after" },
      button(straight ? `Done. Next: ${next.name}` : "Done", async () => {
        await at.tap("stage_ended", { stage: one.key, interrupted: false });
        if (straight) await at.tap("stage_started", { stage: next.key });
      }, "go"),
      button("Held up", () => at.tap("stage_ended", { stage: one.key, interrupted: true }), "second"));
  }

  function tools(at, one, running) {
    const kind = kindOf(one);
    if (kind === "layer" && running) return [pass(at, one)];
    if (kind === "penetrant") return [penetrant(at)];
    if (kind === "final_measuring") return [measuring(at)];
    return [];
  }

  /* --- the temperature before the next bead ------------------------------------------------ */
  function pass(at, one) {
    const rule = at.job.sheet.content.procedure.interpass;
    const unit = at.units.temperature;
    const last = at.state.passes.filter((each) => each.data.zone === zoneOf(one)).pop();
    const { input, row } = field(`Temperature before the next bead, ${unit === "degF" ? "°F" : "°C"}`,
      { inputmode: "decimal", autocomplete: "off", enterkeyhint: "done" });
    const keep = button("Write down", async () => {
      const degc = words.typedDegrees(input.value, unit);
      if (degc === null) { at.warn("Type the temperature as a number, for example 480."); return; }
      at.warn("");
      await at.tap("pass_temperature", { zone: zoneOf(one), degc, place_mm: rule.place_mm });
    }, "small");
    return el("div", {}, el("p", {}, `Next bead only at or below ${words.degrees(rule.limit_degc, unit)}, measured where the sheet says.`),
      el("div", { class: "pair" }, row, keep), last ? verdict(at, one, last, rule, unit) : null);
  }

  /* What the last reading means: go on, or wait until when. The reading decides, not the forecast. */
  function verdict(at, one, last, rule, unit) {
    const said = `${words.degrees(last.data.degc, unit)} at ${words.clock(last.at)}`;
    if (last.data.degc <= rule.limit_degc) {
      return el("p", { class: "verdict within" }, `${said}: the next bead may start.`);
    }
    const wait = clock.waitFrom(at.job.sheet.content.cooling, one, last.data.degc);
    return el("p", { class: "verdict beyond" }, `${said}: too hot. `,
      wait === null ? "Wait, and measure again." : el("span", { "data-until": last.at + wait * MINUTE, "data-words": "Measure again in" }));
  }

  /* --- penetrant --------------------------------------------------------------------------- */
  const NEXT = { applied: ["wiped", "Wiped off"], wiped: ["developed", "Developer is on"] };

  function penetrant(at) {
    const rules = at.job.sheet.content.penetrant;
    const round = at.state.rounds[at.state.rounds.length - 1];
    const done = ["read", "developed", "wiped", "applied"].find((step) => round?.steps[step]);
    return el("div", {}, ...(done ? timers(round, rules) : []),
      done === "read" || done === "developed" ? readIt(at, done, round, rules) : stepOn(at, done),
      el("p", { class: "caution" }, rules.only_open));
  }

  /* Penetrant on, with the steel's temperature; then wiped off; then developer on. */
  function stepOn(at, done) {
    const unit = at.units.temperature;
    const { input, row } = field(`Steel temperature, ${unit === "degF" ? "°F" : "°C"}`, { inputmode: "decimal", autocomplete: "off" });
    const [step, label] = done ? NEXT[done] : ["applied", "Penetrant is on"];
    return el("div", {}, done ? null : row, done ? null : el("p", { class: "help" }, "Left empty, the longer dwell for cold steel counts."),
      button(label, async () => {
        const degc = words.typedDegrees(input.value, unit);
        if (!done && input.value.trim() && degc === null) { at.warn("Type the temperature as a number, or leave it empty."); return; }
        at.warn("");
        await at.tap("penetrant", degc === null ? { step } : { step, surface_degc: degc });
      }, "go"));
  }

  /* Steel that is cold, or was not measured, asks for twice the dwell. */
  const isCold = (round, rules) => round.surface === null || round.surface < rules.penetrant_cold_degc;
  const dwellMin = (round, rules) => rules.penetrant_dwell_min * (isCold(round, rules) ? 2 : 1);

  /* Whether penetrant and developer were each left on as long as they must be. */
  function longEnough(round, rules) {
    const { applied, wiped, developed, read } = round.steps;
    return wiped - applied >= dwellMin(round, rules) * MINUTE && read - developed >= rules.developing_min * MINUTE;
  }

  /* The timers that run. */
  function timers(round, rules) {
    const cold = isCold(round, rules);
    const { applied, wiped, developed, read } = round.steps;
    const timer = (from, minutes, name) => el("p", { class: "timer", "data-until": from + minutes * MINUTE, "data-words": name });
    return [
      applied && !wiped ? timer(applied, dwellMin(round, rules), cold ? "Dwell, doubled for cold steel:" : "Dwell:") : null,
      developed && !read ? timer(developed, rules.developing_min, "Developing:") : null,
    ];
  }

  function readIt(at, done, round, rules) {
    const shown = at.state.indications.length;
    const again = button("Test again: penetrant is on", () => at.tap("penetrant", { step: "applied" }), "second");
    if (done === "read") {
      const well = at.state.clean && !shown;
      const short = well && !longEnough(round, rules);
      return el("div", {}, el("p", { class: `verdict ${well && !short ? "within" : "beyond"}` },
        short ? "Nothing showed, but penetrant or developer was not on long enough: it proves nothing. Test again."
        : well ? "Nothing showed."
        : `${shown} ${shown === 1 ? "indication" : "indications"} written down. Stop: a qualified person says what comes next.`), indicationForm(at, "One more"), again);
    }
    return el("div", {}, button("Nothing shows", async () => {
      await at.tap("penetrant", { step: "read" });
      await at.tap("penetrant_clean", {});
    }, "go"), indicationForm(at, "Something shows"));
  }

  function indicationForm(at, title) {
    const size = field("Length", { autocomplete: "off" });
    const wide = field("Width, if round", { autocomplete: "off" });
    const shape = el("select", {}, el("option", { value: "linear" }, "Line"), el("option", { value: "rounded" }, "Round"));
    const zone = el("select", {}, ...at.job.sheet.content.zones.map((one) => el("option", { value: one.key }, one.zone.replaceAll("_", " "))));
    const keep = button("Write the indication down", async () => {
      const length_mm = words.typedLength(size.input.value, at.units.length, 2000);
      const width_mm = words.typedLength(wide.input.value, at.units.length, 2000);
      if (length_mm === null) { at.warn("Type the length of the indication, for example 1/8 in or 3.2 mm."); return; }
      at.warn("");
      await at.tap("penetrant", { step: "read" });
      await at.tap("indication", { zone: zone.value, shape: shape.value, length_mm, ...(width_mm === null ? {} : { width_mm }) });
    }, "danger");
    return el("details", {}, el("summary", {}, title), el("div", { class: "two" }, el("label", {}, "Where", zone), el("label", {}, "Shape", shape), size.row, wide.row), keep);
  }

  /* --- final readings ---------------------------------------------------------------------- */
  function measuring(at) {
    const asked = at.job.sheet.content.acceptance.filter((one) => one.quantity);
    return el("div", {}, ...asked.map((limit) => oneReading(at, limit)));
  }

  function oneReading(at, limit) {
    const taken = at.state.measured.filter((one) => one.data.quantity === limit.quantity).pop();
    const { input, row } = field(`${limit.title}, ${limit.limit}`, { autocomplete: "off" });
    const keep = button("Write down", async () => {
      const value_mm = words.typedLength(input.value, at.units.length);
      if (value_mm === null) { at.warn("Type the reading, for example 4 ft 6 3/8 in, 1 7/8 in or 47.6 mm."); return; }
      at.warn("");
      await at.tap("measurement", { quantity: limit.quantity, value_mm });
    }, "small");
    return el("div", {}, el("div", { class: "pair" }, row, keep), taken ? judged(limit, Number(taken.data.value_mm)) : null);
  }

  const MEETS = {
    "not_more_than": (value, limit) => value <= limit,
    "not_less_than": (value, limit) => value >= limit,
    "less_than": (value, limit) => value < limit,
  };

  /* Whether a reading is within its limit; null where the sheet does not say how it compares. */
  function within(limit, value) {
    const meets = MEETS[limit.compare];
    return meets ? meets(value, Number(limit.limit_mm)) : null;
  }

  function judged(limit, value) {
    const well = within(limit, value);
    if (well === null) return null;
    return el("p", { class: `verdict ${well ? "within" : "beyond"}` },
      well ? `${value} mm: within.` : `${value} mm: past the limit. A qualified person says what traffic may do.`);
  }

  return { el, button, field, begin, stage, within, longEnough };
})();
