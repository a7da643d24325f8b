/* The penetrant test: its steps with their timers, what makes it worth nothing, what it showed. */
"use strict";
window.trackside = window.trackside || {};
trackside.penetrant = (() => {
  const { words } = trackside;
  const { el, button, field, twice } = trackside.parts;
  const MINUTE = 60000;
  const ROUNDING_MM = 1e-9;
  const NEXT = { applied: ["wiped", "Wiped off"], wiped: ["developed", "Developer is on"] };

  /* Steel that is cold, or was not measured, asks for twice the dwell. */
  const isCold = (round, rules) => round.surface === null || round.surface < rules.penetrant_cold_degc;
  const dwellMin = (round, rules) => rules.penetrant_dwell_min * (isCold(round, rules) ? 2 : 1);

  /* Why a test proves nothing, as the office judges it (repairs/field/penetrant.py). */
  function faults(round, rules, unit) {
    const { applied, wiped, developed, read } = round.steps;
    const short = (from, to, least) => from && to && to - from < least * MINUTE;
    const left = (step) => read && !round.steps[step];
    return [
      round.surface !== null && round.surface < rules.lowest_degc ? `the steel was colder than ${words.degrees(rules.lowest_degc, unit)}` : "",
      round.surface !== null && round.surface > rules.penetrant_hot_degc ? `the steel was hotter than ${words.degrees(rules.penetrant_hot_degc, unit)}` : "",
      short(applied, wiped, dwellMin(round, rules)) ? "the penetrant was not on long enough" : "",
      short(developed, read, rules.developing_min) ? "the developer was not on long enough" : "",
      developed && read && read - developed > rules.read_before_min * MINUTE ? `it was read more than ${rules.read_before_min} min after the developer` : "",
      left("wiped") ? "wiping off was not written down" : "",
      left("developed") ? "the developer was not written down" : "",
    ].filter(Boolean);
  }

  /* The last round, unless the metal was touched after it: then the test begins anew. */
  function present(state) {
    const round = state.rounds[state.rounds.length - 1];
    return round && !(state.cut.begun !== null && round.steps.applied < state.cut.begun) ? round : null;
  }

  /* Whether the sheet accepts an indication, as the office judges it (repairs/field/indications.py):
     none, or by the level set, a line being what is longer than three times its width. */
  function accepted({ data }, rules) {
    if (!rules.accept_mm) return false;
    const line = data.width_mm !== undefined && Number(data.length_mm) > rules.linear_ratio * Number(data.width_mm) + ROUNDING_MM;
    return Number(data.length_mm) <= rules.accept_mm[line ? "linear" : data.shape];
  }

  const beyond = (state, rules) => state.indications.filter((one) => !accepted(one, rules));

  /* Whether the last test was done as it must be and nothing showed that is not accepted. */
  function proved(state, rules) {
    const round = present(state);
    return Boolean(round?.steps.read && state.clean && !beyond(state, rules).length && !faults(round, rules, "degC").length);
  }

  function card(at) {
    const rules = at.job.sheet.content.penetrant;
    const round = present(at.state);
    const done = ["read", "developed", "wiped", "applied"].find((step) => round?.steps[step]);
    const touched = !round && at.state.rounds.length;
    return el("div", {}, touched ? el("p", { class: "fault" }, "The metal was worked on after the last test: test again.") : null,
      ...(done ? timers(round, rules) : []), done && done !== "read" ? invalid(at, round, rules) : null,
      done === "read" || done === "developed" ? readIt(at, done, round, rules) : stepOn(at, done, round, rules),
      el("p", { class: "caution" }, rules.only_open));
  }

  /* A test known to be worth nothing before it is read is begun again at once. */
  function invalid(at, round, rules) {
    const [why] = faults(round, rules, at.units.temperature);
    return why ? el("div", {}, el("p", { class: "verdict beyond" }, `This test proves nothing: ${why}.`), again(at)) : null;
  }

  const again = (at) => button("Test again: penetrant is on", () => at.tap("penetrant", { step: "applied" }), "second");

  /* Penetrant on, with the steel's temperature; then wiped off; then developer on. */
  function stepOn(at, done, round, rules) {
    const [step, label] = done ? NEXT[done] : ["applied", "Penetrant is on"];
    if (!done) return putOn(at, rules, step, label);
    return el("div", {}, button(label, async () => {
      const early = step === "wiped" && at.now < round.steps.applied + dwellMin(round, rules) * MINUTE;
      if (twice(at, early ? "Too early: the dwell time is not up, and the test would prove nothing." : "", `wiped ${round.steps.applied}`)) {
        await at.tap("penetrant", { step });
      }
    }, "go"));
  }

  function putOn(at, rules, step, label) {
    const unit = at.units.temperature;
    const { input, row } = field(`Steel temperature, ${unit === "degF" ? "°F" : "°C"}`, { inputmode: "decimal", autocomplete: "off" });
    const [low, cold, hot] = [rules.lowest_degc, rules.penetrant_cold_degc, rules.penetrant_hot_degc].map((degc) => words.degrees(degc, unit));
    return el("div", {}, row,
      el("p", { class: "help" }, `The test counts from ${low} to ${hot}; below ${cold} the dwell is twice as long. Left empty, the longer dwell counts.`),
      button(label, async () => {
        const degc = words.typedDegrees(input.value, unit);
        if (input.value.trim() && degc === null) { at.warn("Type the temperature as a number, or leave it empty."); return; }
        at.warn("");
        await at.tap("penetrant", degc === null ? { step } : { step, surface_degc: degc });
      }, "go"));
  }

  /* The timers that run. */
  function timers(round, rules) {
    const { applied, wiped, developed, read } = round.steps;
    const timer = (from, minutes, name) => el("p", { class: "timer", "data-until": from + minutes * MINUTE, "data-words": name });
    const why = round.surface === null ? "Dwell, doubled (steel not measured):" : "Dwell, doubled for cold steel:";
    return [
      applied && !wiped && !developed && !read ? timer(applied, dwellMin(round, rules), isCold(round, rules) ? why : "Dwell:") : null,
      developed && !read ? timer(developed, rules.developing_min, "Developing:") : null,
    ];
  }

  function readIt(at, done, round, rules) {
    if (done === "read") {
      const bad = beyond(at.state, rules);
      return el("div", {}, verdict(at, round, rules, bad), allAccepted(at, bad), indicationForm(at, "One more"),
        bad.length ? trackside.proof.repairAgain(at, bad.map((one) => one.data.zone)) : null, again(at));
    }
    return el("div", {}, button("Nothing shows", async () => {
      if (!twice(at, tooEarly(at, round, rules), `read ${round.steps.applied}`)) return;
      await at.tap("penetrant", { step: "read" });
      await at.tap("penetrant_clean", {});
    }, "go"), indicationForm(at, "Something shows"));
  }

  /* Where all that shows is small enough, somebody still says that nothing else does. */
  const allAccepted = (at, bad) => (at.state.indications.length && !bad.length && !at.state.clean
    ? button("Nothing longer shows", () => at.tap("penetrant_clean", {}), "go") : null);

  const tooEarly = (at, round, rules) => (at.now < round.steps.developed + rules.developing_min * MINUTE
    ? "Too early: the developing time is not up, and the test would prove nothing." : "");

  function verdict(at, round, rules, bad) {
    const count = bad.length;
    const [why] = faults(round, rules, at.units.temperature);
    const shows = at.state.indications.length ? `What shows is within level ${rules.accept_level}` : "Nothing showed";
    if (count) {
      return el("p", { class: "verdict beyond" },
        `Failed: ${count} ${count === 1 ? "indication" : "indications"} not accepted. Stop: a qualified person says what comes next.`);
    }
    if (why) return el("p", { class: "verdict beyond" }, `${shows}, but ${why}: it proves nothing. Test again.`);
    if (at.state.clean || at.state.indications.length) return el("p", { class: "verdict within" }, `${shows}.`);
    return el("p", { class: "verdict beyond" }, "The test is not read: what showed was taken back. Test again.");
  }

  function indicationForm(at, title) {
    const unit = at.units.length === "in" ? "in" : "mm";
    const lengths = [
      ["length_mm", `Length, ${unit}`], ["width_mm", `Width, ${unit}, if round`],
      ["x_mm", `Along, from the point, ${unit}`], ["y_mm", `Across, from the gage line, ${unit}`],
    ].map(([name, label]) => ({ name, ...field(label, { autocomplete: "off" }) }));
    const shape = el("select", {}, el("option", { value: "linear" }, "Line"), el("option", { value: "rounded" }, "Round"));
    const zone = el("select", {}, ...at.job.sheet.content.zones.map((one) => el("option", { value: one.key }, one.zone.replaceAll("_", " "))));
    const keep = button("Write the indication down", async () => {
      const typed = lengths.filter(({ input }) => input.value.trim())
        .map(({ name, input }) => [name, words.typedLength(input.value, at.units.length, 2000)]);
      const data = Object.fromEntries(typed);
      if (!data.length_mm || typed.some(([, value]) => value === null)) {
        at.warn("Type the length of the indication, for example 1/8 in or 3.2 mm; the rest only where it is known.");
        return;
      }
      at.warn("");
      if (!present(at.state)?.steps.read) await at.tap("penetrant", { step: "read" });
      await at.tap("indication", { zone: zone.value, shape: shape.value, ...data });
    }, "danger");
    return el("details", {}, el("summary", {}, title),
      el("div", { class: "two" }, el("label", {}, "Where", zone), el("label", {}, "Shape", shape), ...lengths.map(({ row }) => row)), keep);
  }

  return { card, proved, present, accepted };
})();
