/* Where a job stands, worked out from its events: the same rules as the office's own record
   (repairs/field). Events of two phones are put together by time; a correction takes the place of
   what it corrects; a stage begun again after its end is under way again. */
"use strict";
window.trackside = window.trackside || {};
trackside.state = (() => {
  const MINUTE = 60000;
  const inOrder = (a, b) => a.at - b.at || (a.device < b.device ? -1 : a.device > b.device ? 1 : 0) || a.seq - b.seq;

  /* Corrections laid over what they correct; of several the last counts. One struck out is gone. */
  function counted(events) {
    const row = [...new Map(events.map((one) => [one.id, one])).values()].sort(inOrder);
    const holds = new Map();
    for (const one of row) if (one.kind === "correction") holds.set(one.data.of, one.data);
    return row
      .filter((one) => one.kind !== "correction" && !(holds.has(one.id) && holds.get(one.id).data === null))
      .map((one) => {
        const change = holds.get(one.id);
        return change ? { ...one, data: change.data, at: change.at ? Date.parse(change.at) : one.at } : one;
      })
      .sort(inOrder);
  }

  /* One stage from its starts and ends. */
  function stageState(marks) {
    const made = { state: "waiting", startedAt: null, endedAt: null, tookMin: 0, lastStartedAt: null, repeated: false, interrupted: false };
    let since = null;
    let finished = false;
    for (const mark of marks) {
      if (mark.kind === "stage_started") {
        made.startedAt = made.startedAt ?? mark.at;
        made.lastStartedAt = mark.at;
        made.repeated = made.repeated || finished;
        since = since ?? mark.at;
        made.state = "running";
      } else {
        if (since !== null) made.tookMin += (mark.at - since) / MINUTE;
        else if (made.endedAt !== null && made.tookMin) made.tookMin += (mark.at - made.endedAt) / MINUTE;
        since = null;
        made.endedAt = mark.at;
        made.interrupted = made.interrupted || Boolean(mark.data.interrupted);
        finished = !mark.data.interrupted;
        made.state = finished ? "done" : "interrupted";
      }
    }
    return made;
  }

  /* Rounds of the penetrant test: each begins when penetrant goes on again. What an earlier round
     showed was ground out and is tested anew; only the last round says how it is now. */
  function penetrantRounds(events) {
    const rounds = [];
    for (const one of events.filter((event) => event.kind === "penetrant")) {
      if (one.data.step === "applied") rounds.push({ steps: {}, surface: null });
      const round = rounds[rounds.length - 1];
      if (!round) continue;
      round.steps[one.data.step] = round.steps[one.data.step] ?? one.at;
      round.surface = round.surface ?? one.data.surface_degc ?? null;
    }
    return rounds;
  }

  /* When the metal was last touched (repairs/field/proof.py): what was tested or measured before
     says nothing of it. Where no cutting was recorded, the final measuring stands for it. */
  function lastCut(stages, marks) {
    const zoned = new Set(stages.filter(zoneOf).map((stage) => stage.key));
    const times = (kind, counts) => marks.filter((one) => one.kind === kind && counts(one.data.stage)).map((one) => one.at);
    const last = (moments) => (moments.length ? Math.max(...moments) : null);
    const begun = last(times("stage_started", (key) => zoned.has(key)));
    const ended = last(times("stage_ended", (key) => zoned.has(key)));
    if (begun !== null) return { begun, ended: ended !== null && ended >= begun ? ended : null };
    const measuring = times("stage_started", (key) => key === "final_measuring");
    return { begun: ended ?? (measuring.length ? Math.min(...measuring) : null), ended };
  }

  const kindOf = (stage) => stage.key.split(".").pop().split("-")[0];
  const zoneOf = (stage) => (stage.key.includes(".") ? stage.key.slice(0, stage.key.lastIndexOf(".")) : "");

  function of(stages, events) {
    const row = counted(events);
    const all = (kind) => row.filter((one) => one.kind === kind);
    const first = (kind) => all(kind)[0] || null;
    const lastByZone = (kind) => Object.fromEntries(all(kind).map((one) => [one.data.zone, one]));
    const rounds = penetrantRounds(row);
    const marks = row.filter((one) => one.kind === "stage_started" || one.kind === "stage_ended");
    const cut = lastCut(stages, marks);
    const since = Math.max(rounds.length ? rounds[rounds.length - 1].steps.applied : 0, cut.begun ?? 0);
    const now = {
      started: first("started"), briefing: first("briefing"),
      stages: Object.fromEntries(stages.map((stage) => [stage.key, stageState(marks.filter((one) => one.data.stage === stage.key))])),
      carbon: lastByZone("carbon_removed"), guardFace: lastByZone("guard_face_restored"),
      passes: all("pass_temperature"), rounds, cut,
      clean: all("penetrant_clean").find((one) => one.at >= since) || null,
      indications: all("indication").filter((one) => one.at >= since), measured: all("measurement"),
      handedBack: first("handed_back"), brokenOff: first("broken_off"),
    };
    now.left = leftStages(stages, now);
    now.current = now.left.find((stage) => ["running", "interrupted"].includes(now.stages[stage.key].state)) || now.left[0] || null;
    return now;
  }

  /* Stages not done yet. One that nobody recorded counts as done when a later one of the same zone
     is done, or, where it belongs to no zone, any later one. */
  function leftStages(stages, now) {
    const done = (stage) => now.stages[stage.key].state === "done";
    return stages.filter((stage, n) => !done(stage) && !(
      now.stages[stage.key].state === "waiting"
      && stages.slice(n + 1).some((later) => done(later) && (zoneOf(later) === zoneOf(stage) || !zoneOf(stage)))
    ));
  }

  return { of, zoneOf, kindOf };
})();
