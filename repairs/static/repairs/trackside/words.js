/* Times, temperatures and lengths as the person reads and types them. */
"use strict";
window.trackside = window.trackside || {};
trackside.words = (() => {
  const two = (number) => String(number).padStart(2, "0");
  const zone = document.querySelector("[data-time-zone]")?.dataset.timeZone;
  const shown = new Intl.DateTimeFormat("en-GB", {
    hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: zone,
  });

  const dayShown = new Intl.DateTimeFormat("en-GB", {
    weekday: "short", day: "numeric", month: "short", timeZone: zone,
  });

  const clock = (moment) => shown.format(moment);

  /* The day, where it is not today. */
  const day = (moment, now) => (dayShown.format(moment) === dayShown.format(now) ? "" : dayShown.format(moment));

  function minutes(count) {
    const whole = Math.round(Math.abs(count));
    const said = whole < 60 ? `${whole} min` : `${Math.floor(whole / 60)} h ${two(whole % 60)} min`;
    return count < 0 && whole > 0 ? `${said} over` : said;
  }

  const seconds = (left) => `${Math.floor(left / 60)}:${two(Math.floor(left % 60))}`;

  /* A chance in whole per cent, never rounded up to certainty. */
  const percent = (share) => `${Math.min(99, Math.floor(share * 100))} %`;

  /* To a tenth, so that a reading just past a limit does not read like the limit. */
  const tenth = (number) => String(Math.round(number * 10) / 10);
  const degrees = (degc, unit) => (unit === "degF"
    ? `${tenth(degc * 9 / 5 + 32)} °F` : `${tenth(degc)} °C`);

  /* What was typed as a temperature, in degC to two places; null where it is none. */
  function typedDegrees(text, unit) {
    const number = Number(text.trim().replace(",", "."));
    if (text.trim() === "" || !Number.isFinite(number)) return null;
    const degc = unit === "degF" ? (number - 32) * 5 / 9 : number;
    return degc < -50 || degc > 1600 ? null : Math.round(degc * 100) / 100;
  }

  const FEET = /^(\d+) ?(?:'|ft\.?) ?(.*)$/;
  const MIXED = /^(?:(\d+)[ -])?(\d+)\/(\d+)$/;

  /* Inches as typed, "54 3/8" or "2.5"; NaN where it is no number. */
  function inches(text) {
    const mixed = MIXED.exec(text);
    if (mixed) return Number(mixed[1] || 0) + Number(mixed[2]) / Number(mixed[3]);
    return /^\d+(\.\d+)?$/.test(text) ? Number(text) : NaN;
  }

  /* A length as typed, "4 ft 6 3/8 in", "1 3/8" or "34.9 mm", in mm as the office stores it: seven
     places hold every 1/128 in. Null where it is none, or more than the office takes; a number alone
     is in the person's unit. */
  function typedLength(text, unit, most = 10000) {
    const bare = text.trim().replace(",", ".").replace(/\s+/g, " ");
    const metric = /mm$/.test(bare) || (unit === "mm" && !/("|in\.?|')/.test(bare) && !/ft/.test(bare));
    const number = bare.replace(/ ?("|in\.?|mm)$/, "");
    const feet = FEET.exec(number);
    const counted = feet ? Number(feet[1]) * 12 + (feet[2] ? inches(feet[2]) : 0) : inches(number);
    const mm = metric ? counted : counted * 25.4;
    return Number.isFinite(mm) && mm <= most ? mm.toFixed(7) : null;
  }

  /* A whole number of parts of an inch, in lowest terms: "1 3/8". */
  function fraction(parts, of) {
    let [over, under] = [parts % of, of];
    while (over && over % 2 === 0) [over, under] = [over / 2, under / 2];
    const whole = Math.floor(parts / of);
    return [whole || !over ? whole : "", over ? `${over}/${under}` : ""].filter((part) => part !== "").join(" ");
  }

  const plain = (mm) => `${Number(Number(mm).toFixed(3))} mm`;

  /* From a yard on, as gages are, said in feet and inches. */
  const GAGES_MM = 914.4;

  /* A measured length in the person's unit: inches as a fraction where it is one to 1/64, else in
     thousandths; the millimetres of the record beside it. */
  function length(mm, unit) {
    if (unit !== "in") return plain(mm);
    const parts = Math.round(mm / 25.4 * 64);
    const exact = Math.abs(parts * 25.4 / 64 - mm) < 0.0001;
    const feet = mm >= GAGES_MM ? Math.floor(mm / 304.8) : 0;
    const rest = exact ? fraction(parts - feet * 768, 64) : (mm / 25.4 - feet * 12).toFixed(3);
    return `${feet ? `${feet} ft ` : ""}${rest} in (${plain(mm)})`;
  }

  /* A length that is only roughly meant. */
  const about = (mm, unit) => (unit === "in" ? `about ${fraction(Math.round(mm / 25.4 * 8), 8)} in (${plain(mm)})` : plain(mm));

  return { clock, day, minutes, seconds, percent, degrees, length, about, typedDegrees, typedLength };
})();
