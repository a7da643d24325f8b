/* The clock of a job: from real starts to planned times, chances, last moments, and what can still
   be finished. The same sums as the office's (repairs/field/clock.py); a test holds them together. */
"use strict";
window.trackside = window.trackside || {};
trackside.clock = (() => {
  const MINUTE = 60000;
  const LAST_START = 0.95;
  const { zoneOf } = trackside.state;
  const { words } = trackside;

  /* y at x by straight lines between points; beyond the ends the ends hold. */
  function between(x, xs, ys) {
    if (x <= xs[0]) return ys[0];
    for (let n = 1; n < xs.length; n += 1) {
      if (x < xs[n]) return ys[n - 1] + (ys[n] - ys[n - 1]) * (x - xs[n - 1]) / (xs[n] - xs[n - 1]);
    }
    return ys[ys.length - 1];
  }

  /* What is left of each stage by itself, at the sheet's probabilities. */
  function ownMinutes(job, state, now) {
    return new Map(job.stages.map((stage, n) => {
      const after = job.stages[n + 1]?.remaining;
      const taken = takenMin(state.stages[stage.key], now);
      return [stage, stage.remaining.map((left, p) => Math.max(left - (after ? after[p] : 0) - taken, 0))];
    }));
  }

  function takenMin(stage, now) {
    if (stage.state === "running" && !stage.repeated) return Math.max((now - stage.startedAt) / MINUTE, 0);
    return stage.state === "interrupted" ? stage.tookMin : 0;
  }

  const sum = (job, own, stages) => job.probabilities.map(
    (_, p) => stages.reduce((total, stage) => total + own.get(stage)[p], 0),
  );

  const at = (job, minutes, probability) => between(probability, job.probabilities, minutes);

  function chanceOf(job, own, stages, available) {
    if (!stages.length) return available >= 0 ? 1 : 0;
    const minutes = sum(job, own, stages);
    return available < minutes[0] ? 0 : between(available, minutes, job.probabilities);
  }

  /* Where the job stands. `now` and all moments are milliseconds since 1970. */
  function read(job, state, now) {
    const begins = state.started ? now : Math.max(now, Date.parse(job.starts_at));
    const own = ownMinutes(job, state, begins);
    const handBack = Date.parse(job.hand_back_at);
    const minutes = (handBack - begins) / MINUTE;
    const chance = chanceOf(job, own, state.left, minutes);
    const under = chance < job.set_chance;
    return {
      chance,
      under,
      leftMin: (handBack - now) / MINUTE,
      endsAt: begins + at(job, sum(job, own, state.left), 0.5) * MINUTE,
      stages: stageClocks(job, state, own, begins, handBack),
      advice: under ? advice(job, state, chance, ways(job, state, own, minutes)) : "",
    };
  }

  /* For each stage left: when it begins by what is known now, and its last moment. */
  function stageClocks(job, state, own, begins, handBack) {
    let moment = begins;
    return state.left.map((stage, n) => {
      const waiting = state.stages[stage.key].state === "waiting";
      const last = handBack - at(job, sum(job, own, state.left.slice(n)), LAST_START) * MINUTE;
      const row = { stage, begins: waiting ? moment : null, last, late: waiting && moment > last };
      moment += at(job, own.get(stage), 0.5) * MINUTE;
      return row;
    });
  }

  const begunZones = (job, state) => new Set(job.stages
    .filter((stage) => zoneOf(stage) && state.stages[stage.key].state !== "waiting").map(zoneOf));

  /* Ways to end, the most work first: every zone, fewer zones, none; never with an open cavity. */
  function ways(job, state, own, minutes) {
    const begun = begunZones(job, state);
    const zones = [...new Set(state.left.map(zoneOf).filter(Boolean))];
    const untouched = zones.filter((zone) => !begun.has(zone));
    return Array.from({ length: untouched.length + 1 }, (_, n) => way(
      job, state, own, minutes, new Set([...begun, ...untouched.slice(0, untouched.length - n)]), zones,
    ));
  }

  function way(job, state, own, minutes, chosen, zones) {
    const cut = chosen.size > 0;
    const stages = state.left.filter((stage) => {
      const zone = zoneOf(stage);
      return zone ? chosen.has(zone) : cut || stage.key === "clearing";
    });
    const whole = zones.every((zone) => chosen.has(zone));
    const worked = [...new Set(stages.map(zoneOf).filter(Boolean))];
    return { sentence: sentence(job, worked, whole, cut, openZone(job, state)), chance: chanceOf(job, own, stages, minutes) };
  }

  /* Whether the track cannot go back now: a zone was begun and the stage that closes it not ended. */
  function openZone(job, state) {
    return [...begunZones(job, state)].some((zone) => {
      const own = job.stages.filter((stage) => zoneOf(stage) === zone);
      const never = own.findLastIndex((stage) => stage.hand_back === "never");
      const upTo = own.slice(0, never + 1).map((stage) => state.stages[stage.key].state);
      const closing = own[never + 1];
      return upTo.includes("running") || (upTo.some((one) => one !== "waiting")
        && !(closing && state.stages[closing.key].state === "done"));
    });
  }

  function sentence(job, zones, whole, cut, open) {
    if (!cut) return "Cut nothing, clear up and hand the track back as it was found.";
    const said = zones.map((zone) => zone.replace(/^\d+-/, "").replaceAll("_", " ")).join(" and ");
    if (whole) return said ? `Finish ${said}, prove, measure and hand back.` : "Prove, measure, hand back.";
    if (!said) return "Begin no further zone: prove and measure what is done, and hand back at the speed a qualified person sets.";
    return `${open ? "Close the cavity first: finish" : "Finish"} ${said} only; begin no further zone, prove and measure, and hand back at the speed a qualified person sets. The rest becomes a new job.`;
  }

  /* What can still be done at the set level, the most work first; or that nothing can. */
  function advice(job, state, chance, all) {
    const able = all.find((one) => one.chance >= job.set_chance);
    if (able) return `${able.sentence} Chance ${words.percent(able.chance)}. Tell the supervisor.`;
    if (openZone(job, state)) {
      return "A cavity is open and cannot be closed in time for sure. Finish it and tell the employee in charge and the dispatcher now that the track will be late: never hand back with an open cavity.";
    }
    const best = all.reduce((a, b) => (b.chance >= a.chance ? b : a));
    return `Nothing reaches the set chance; the best is: ${best.sentence} Chance ${words.percent(best.chance)}. Begin no cut. Tell the employee in charge and the supervisor now.`;
  }

  /* Minutes from a reading until the next bead may start: the forecast's own cooling after that
     layer, scaled to begin at the reading (repairs/welding/heat/run_result.py). Null: not known. */
  function waitFrom(cooling, stage, degc) {
    if (!cooling || degc <= cooling.limit_degc) return cooling ? 0 : null;
    const layer = Number(stage.key.split("layer-")[1]);
    const found = cooling.layers.find((one) => one.zone === zoneOf(stage) && one.layer === layer);
    if (!found || cooling.limit_degc <= cooling.air_degc) return null;
    const wanted = (cooling.limit_degc - cooling.air_degc) / (degc - cooling.air_degc);
    const { minutes, shares } = found;
    const part = (n, m) => minutes[n] + (minutes[m] - minutes[n]) * Math.log(shares[n] / wanted) / Math.log(shares[n] / shares[m]);
    for (let n = 1; n < minutes.length; n += 1) if (shares[n] <= wanted) return part(n - 1, n);
    return part(minutes.length - 2, minutes.length - 1);
  }

  return { read, openZone, waitFrom };
})();
