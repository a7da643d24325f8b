/* The card of the present step: what it is, how long it may take, and the few things to tap. */
"use strict";
window.trackside = window.trackside || {};
trackside.steps = (() => {
  const { words, clock, proof, penetrant } = trackside;
  const { el, button, twice, field } = trackside.parts;
  const { opener } = trackside.mending;
  const MINUTE = 60000;
  const { zoneOf, kindOf } = trackside.state;
  const firstLayer = (stage) => /\.layer-0*1$/.test(stage.key);

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
    const gate = gateOf(at, current, real);
    return el("div", {}, el("h2", {}, current.name), expected(at, current),
      running ? el("p", { class: "timer", "data-since": real.repeated ? real.lastStartedAt : real.startedAt }, "") : lastMoment(at, current),
      gate || el("div", {}, ...tools(at, current, real)),
      gate ? null : running ? doneButton(at, current) : startButton(at, current));
  }

  const expected = (at, one) => el("p", { class: "help" },
    `Usually about ${words.minutes(one.median_min)}; 8 times of 10 within ${words.minutes(at.job.sheet.content.stages.find((each) => each.key === one.key).p80_min)}`
      + (one.hand_back === "never" ? ". The track cannot go back while this goes on." : "."));

  function lastMoment(at, one) {
    const row = at.clock?.stages.find((each) => each.stage === one);
    if (!row || at.state.stages[one.key].state !== "waiting") return null;
    const late = at.now > row.last;
    return el("p", { class: late ? "fault" : "big" },
      late ? `The last moment for this was ${words.clock(row.last)}. Call the supervisor before you start it.`
        : `Not after ${words.clock(row.last)}.`);
  }

  /* What must be said before a stage may begin; nothing where it may begin at once. In a zone that
     was gouged again the residue is to be ground off again. */
  function gateOf(at, one, real = at.state.stages[one.key]) {
    const bead = firstLayer(one) && !bright(at, zoneOf(one));
    if (real.state === "running") return real.repeated && bead ? carbon(at, one) : null;
    if (real.state === "interrupted") return null;
    if (kindOf(one) === "gouging") return guardFirst(at, one) || openCavity(at, one);
    return bead ? carbon(at, one) : null;
  }

  function bright(at, zone) {
    const gouging = at.job.stages.find((each) => zoneOf(each) === zone && kindOf(each) === "gouging");
    const since = gouging ? at.state.stages[gouging.key].lastStartedAt ?? 0 : 0;
    return (at.state.carbon[zone]?.at ?? -1) >= since;
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
      proof.gaged(at, "raised_guard_wear", "Wear of the raised guard, against the limit of the sheet"));
  }

  /* The chance, and what can be done instead where it is too small, stand above the card. */
  function openCavity(at, one) {
    const short = at.clock && at.clock.chance < at.job.set_chance;
    return el("div", { class: "hold" },
      el("p", { class: "big" }, "From the first gouge on the track cannot go back until this zone is welded and ground."),
      button(short ? "Gouge all the same: I was told to" : "Start gouging",
        () => at.tap("stage_started", { stage: one.key }), short ? "danger" : "go"));
  }

  const carbon = (at, one) => el("div", { class: "hold" },
    el("p", { class: "big" }, "Hold point: no bead before every trace of gouging residue is ground off and bright metal shows."),
    button("Ground off, seen by me", () => at.tap("carbon_removed", { zone: zoneOf(one) }), "go"));

  const startButton = (at, one) => button(`${at.state.stages[one.key].state === "interrupted" ? "Go on with" : "Start"}: ${one.name}`,
    () => at.tap("stage_started", { stage: one.key }), "go");

  function doneButton(at, one) {
    const next = nextAfter(at, one);
    return el("div", { class: "after" },
      button(next ? `Done. Next: ${next.name}` : "Done", async () => {
        if (!twice(at, lacking(at, one, next), `done ${one.key}`)) return;
        await at.tap("stage_ended", { stage: one.key, interrupted: false });
        if (next) await at.tap("stage_started", { stage: next.key });
      }, "go"),
      button("Held up", () => at.tap("stage_ended", { stage: one.key, interrupted: true }), "second"));
  }

  /* What begins with the same tap: nothing that waits at a hold point. Work that is done again goes
     through the rest of its zone, and then back to where the test failed. */
  function nextAfter(at, one) {
    const { stages } = at.job;
    const later = (each) => stages.indexOf(each) > stages.indexOf(one);
    if (at.state.stages[one.key].repeated && zoneOf(one)) return stages.find((each) => later(each) && zoneOf(each) === zoneOf(one)) || null;
    const next = at.state.left.find(later);
    const waits = next && at.state.stages[next.key].state === "waiting";
    return waits && kindOf(next) !== "clearing" && !gateOf(at, next) ? next : null;
  }

  /* What the record would lack if this stage were called done now, in a sentence. */
  function lacking(at, one, next) {
    const kind = kindOf(one);
    if (kind === "layer" && next && kindOf(next) === "layer") return hot(at, one);
    if (kind === "penetrant" && !penetrant.proved(at.state, at.job.sheet.content.penetrant)) return "There is no clean penetrant test yet.";
    const missing = kind === "final_measuring" ? proof.missing(at.job, at.state).map(proof.named) : [];
    return missing.length ? `Not written down yet: ${missing.join(", ").toLowerCase()}.` : "";
  }

  function hot(at, one) {
    const rule = at.job.sheet.content.procedure.interpass;
    const last = at.state.passes.filter((each) => each.data.zone === zoneOf(one)).pop();
    if (!rule) return "";
    if (!last || last.at < at.state.stages[one.key].lastStartedAt) return "No temperature was written down since this layer began: measure before the next bead.";
    return last.data.degc > rule.limit_degc ? "The last temperature was too hot for the next bead: wait, and measure again." : "";
  }

  function tools(at, one, real) {
    const kind = kindOf(one);
    if (kind === "layer" && real.state !== "waiting" && at.job.sheet.content.procedure.interpass) return [pass(at, one)];
    if (kind === "penetrant" && real.state !== "waiting") return [penetrant.card(at)];
    if (kind === "final_measuring" && real.state !== "waiting") return [proof.measuring(at)];
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
    return el("div", {}, el("p", {}, `Next bead only at or below ${words.degrees(rule.limit_degc, unit)}, measured ${words.about(rule.place_mm, at.units.length)} from the weld.`),
      el("div", { class: "pair" }, row, keep), last ? el("div", { class: "said" }, verdict(at, one, last, rule, unit), opener(at, last, words.degrees(last.data.degc, unit))) : null);
  }

  /* What the last reading means: go on, or wait until when. The reading decides, not the forecast. */
  function verdict(at, one, last, rule, unit) {
    const said = `${words.degrees(last.data.degc, unit)} at ${words.clock(last.at)}`;
    if (last.data.degc <= rule.limit_degc) {
      return el("p", { class: "verdict within" }, `${said}: the next bead may start.`);
    }
    const wait = clock.waitFrom(at.job.sheet.content.cooling, one, last.data.degc);
    return el("p", { class: "verdict beyond" }, `${said}: too hot, no bead. `,
      wait === null ? "Wait, and measure again." : el("span", { "data-until": last.at + wait * MINUTE, "data-words": "Measure again in", "data-over": "Measure again now." }));
  }

  return { begin, stage };
})();
