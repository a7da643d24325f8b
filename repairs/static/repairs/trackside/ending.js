/* How the work ends: the track handed back, the job broken off, the sheet withdrawn meanwhile. */
"use strict";
window.trackside = window.trackside || {};
trackside.ending = (() => {
  const { words, records } = trackside;
  const { el, button, field } = trackside.parts;

  function withdrawn(at) {
    const other = at.job.superseded_by;
    return el("div", { class: "fault" }, el("p", {}, "This sheet was withdrawn. Do not work by it; what was written down is kept."),
      other ? el("a", { class: "button", href: `../../${other}/work/` }, `Open sheet ${other}`) : null);
  }

  const ended = (title, one) => el("div", {}, el("h2", {}, `${title} at ${words.clock(one.at)}`),
    el("p", {}, "What is still to be written down can be added below. The record is signed in the office or where there is signal."));

  /* Work has stopped, and the track still has to go back, unless it is open. */
  const brokenOff = (at) => el("div", {}, ended("Broken off", at.state.brokenOff),
    records.trackNow(at) === "never"
      ? el("p", { class: "fault" }, "The track is open and cannot go back: it stays closed to traffic. Call the supervisor.")
      : handBack(at));

  function handBack(at) {
    const speed = field("Speed over the turnout, as the qualified person set it: 10 mph, 16 km/h or class speed", { autocomplete: "off" });
    const who = field("Qualified person who said so", { autocomplete: "off", maxlength: 120 });
    const atClassSpeed = button("Class speed", async () => { speed.input.value = "class speed"; }, "small second");
    const whole = ["restored", "as_found"].includes(records.trackNow(at));
    return el("div", {}, el("h2", {}, "Hand the track back"),
      whole ? null : el("p", { class: "fault" }, "Not proved: a reading is missing or past its limit, or the penetrant test is not clean or was too short. The track goes back only at the speed a qualified person sets."),
      el("p", { class: "help" }, "Everything clear, protection removed by the railway's own rules, and a qualified person has said at what speed."),
      whole ? el("div", { class: "pair" }, speed.row, atClassSpeed) : speed.row, who.row, button("Handed back now", async () => {
        const set = typedSpeed(speed.input.value);
        if (set !== null && !whole && !set.speed_kmh) {
          at.warn("Not proved, so not at class speed: type the speed the qualified person set, for example 10 mph.");
          return;
        }
        if (set === null || !who.input.value.trim()) {
          at.warn("Type the speed with its unit, for example 10 mph or 16 km/h, or class speed; and who set it.");
          return;
        }
        at.warn("");
        await at.tap("handed_back", { state: records.TRACK[records.trackNow(at)], ...set, qualified_person: who.input.value.trim() });
      }, "go"));
  }

  /* The speed as the record holds it; class speed is said by leaving the number out. */
  function typedSpeed(text) {
    if (/^class( speed)?$/.test(text.trim().toLowerCase())) return {};
    const found = /^(\d+(?:\.\d+)?) ?(mph|km\/h|kmh)$/.exec(text.trim().toLowerCase());
    if (!found) return null;
    const kmh = Number(found[1]) * (found[2] === "mph" ? 1.609344 : 1);
    return kmh <= 400 ? { speed_kmh: kmh.toFixed(7) } : null;
  }

  return { withdrawn, ended, brokenOff, handBack };
})();
