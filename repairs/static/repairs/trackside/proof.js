/* Final readings against the limits of the sheet, and the way back into the work when one fails. */
"use strict";
window.trackside = window.trackside || {};
trackside.proof = (() => {
  const { words, penetrant } = trackside;
  const { zoneOf, kindOf } = trackside.state;
  const { el, button, field } = trackside.parts;
  const { opener } = trackside.mending;

  const MEETS = {
    "not_more_than": (value, limit) => value <= limit,
    "not_less_than": (value, limit) => value >= limit,
    "less_than": (value, limit) => value < limit,
  };

  const asked = (job) => job.sheet.content.acceptance.filter((limit) => limit.quantity);
  const limitsOf = (job, quantity) => asked(job).filter((limit) => limit.quantity === quantity);
  const quantities = (job) => [...new Set(asked(job).map((limit) => limit.quantity))];

  /* Whether a reading meets each of its limits; null where the sheet does not say how it compares. */
  function within(limits, value) {
    const judged = limits.filter((limit) => MEETS[limit.compare]);
    return judged.length ? judged.every((limit) => MEETS[limit.compare](value, Number(limit.limit_mm))) : null;
  }

  /* How far inside its limits a reading lies, in mm; below 0 outside. */
  const margin = (limits, value) => Math.min(...limits.map((limit) => (
    limit.compare === "not_less_than" ? value - Number(limit.limit_mm) : Number(limit.limit_mm) - value)));

  /* The reading that counts: of those taken since the metal was last worked on, the worst. */
  function governing(job, state, quantity) {
    const { begun, ended } = state.cut;
    const final = state.measured.filter((one) => one.data.quantity === quantity && begun !== null && one.at >= begun);
    const after = ended === null ? [] : final.filter((one) => one.at >= ended);
    const limits = limitsOf(job, quantity);
    return (after.length ? after : final).reduce((worst, one) => (
      worst && margin(limits, Number(worst.data.value_mm)) < margin(limits, Number(one.data.value_mm)) ? worst : one), null);
  }

  const missing = (job, state) => quantities(job).filter((quantity) => !governing(job, state, quantity));

  function readingsPass(job, state) {
    return quantities(job).every((quantity) => {
      const counts = governing(job, state, quantity);
      return counts && within(limitsOf(job, quantity), Number(counts.data.value_mm)) !== false;
    });
  }

  const tested = (job) => job.stages.some((stage) => stage.key === "penetrant");

  /* Whether the penetrant test is long enough and clean, and every reading asked for is there and within. */
  function passes(job, state) {
    return readingsPass(job, state) && (!tested(job) || penetrant.proved(state, job.sheet.content.penetrant));
  }

  const named = (quantity) => quantity[0].toUpperCase() + quantity.slice(1).replaceAll("_", " ");

  /* Metal worked on after the test is tested again before it is measured. */
  function measuring(at) {
    const { job, state } = at;
    const anew = tested(job) && state.rounds.length && !penetrant.proved(state, job.sheet.content.penetrant);
    return el("div", {}, anew ? penetrant.card(at) : null, ...quantities(job).map((quantity) => oneReading(at, quantity)),
      quantities(job).some((quantity) => fails(at, quantity)) ? repairAgain(at, job.stages.map(zoneOf).filter(Boolean)) : null);
  }

  function fails(at, quantity) {
    const counts = governing(at.job, at.state, quantity);
    return Boolean(counts) && within(limitsOf(at.job, quantity), Number(counts.data.value_mm)) === false;
  }

  function oneReading(at, quantity) {
    const limits = limitsOf(at.job, quantity);
    const title = limits.length === 1 ? limits[0].title : named(quantity);
    const { input, row } = field(`${title}, ${limits.map((limit) => limit.limit).join(" and ")}`, { autocomplete: "off" });
    return el("div", {}, el("div", { class: "pair" }, row, writeDown(at, quantity, input)), judged(at, quantity, limits));
  }

  const writeDown = (at, quantity, input) => button("Write down", async () => {
    const value_mm = words.typedLength(input.value, at.units.length);
    if (value_mm === null) { at.warn("Type the reading, for example 4 ft 6 3/8 in, 1 7/8 in or 47.6 mm."); return; }
    at.warn("");
    await at.tap("measurement", { quantity, value_mm });
  }, "small");

  function judged(at, quantity, limits) {
    const counts = governing(at.job, at.state, quantity);
    if (!counts) return null;
    const value = Number(counts.data.value_mm);
    const said = words.length(value, at.units.length);
    const well = within(limits, value);
    const verdict = well === null ? "written down." : well ? "within." : "past the limit. A qualified person says what traffic may do.";
    return el("div", { class: "said" }, el("p", { class: `verdict ${well === false ? "beyond" : "within"}` }, `${said}: ${verdict}`), opener(at, counts, said));
  }

  /* A reading taken on the way, as the raised guard before the point is opened. */
  function gaged(at, quantity, title) {
    const { input, row } = field(title, { autocomplete: "off" });
    return el("div", { class: "pair" }, row, writeDown(at, quantity, input));
  }

  /* A failed test opens the work again: ground a little deeper, or gouged and welded anew. */
  function repairAgain(at, zones) {
    const places = [...new Set(zones)];
    return el("details", {}, el("summary", {}, "Repair it again"),
      el("p", { class: "help" }, "Only as a qualified person says. Gouging opens the cavity: the track cannot go back until it is welded and ground again."),
      ...places.flatMap((zone) => {
        const own = at.job.stages.filter((stage) => zoneOf(stage) === zone);
        const grinding = own.filter((stage) => kindOf(stage).endsWith("grinding") && stage.hand_back !== "never").pop();
        return [grinding, own.find((stage) => kindOf(stage) === "gouging")].filter(Boolean)
          .map((stage) => button(`Back to: ${stage.name}`, () => at.tap("stage_started", { stage: stage.key }), "second"));
      }));
  }

  return { measuring, gaged, missing, passes, repairAgain, named };
})();
