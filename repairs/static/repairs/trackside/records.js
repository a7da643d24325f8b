/* Notes, material, photographs, breaking off; and the list of what was written down. */
"use strict";
window.trackside = window.trackside || {};
trackside.records = (() => {
  const { words, proof } = trackside;
  const { el, button, field } = trackside.parts;

  const SAID = {
    started: () => "Job started", briefing: (d) => `Briefing: ${d.points.length} points`,
    stage_started: (d, at) => `Start: ${nameOf(at, d.stage)}`, stage_ended: (d, at) => `${d.interrupted ? "Held up" : "Done"}: ${nameOf(at, d.stage)}`,
    pass_temperature: (d, at) => `${words.degrees(d.degc, at.units.temperature)} before the next bead`,
    carbon_removed: () => "Gouging residue ground off", guard_face_restored: () => "Guard face restored",
    penetrant: (d) => `Penetrant ${d.step}`, penetrant_clean: () => "Penetrant: nothing showed",
    indication: (d, at) => `Indication, ${d.shape === "linear" ? "line" : "round"}, ${words.length(d.length_mm, at.units.length)}`,
    measurement: (d, at) => `${proof.named(d.quantity)}: ${words.length(d.value_mm, at.units.length)}`,
    material_used: (d) => `Used: ${d.quantity} ${d.key.replaceAll("_", " ")}`, photo: (d) => `Photograph ${d.caption || ""}`,
    handed_back: () => "Track handed back", broken_off: (d) => `Broken off: ${d.reason}`, note: (d) => d.text,
    correction: (d) => `Taken back or put right: ${d.reason}`,
  };

  const nameOf = (at, key) => at.job.stages.find((stage) => stage.key === key)?.name || key;

  /* What was written down, the newest first; each can be put right or struck out. */
  function log(at, events) {
    const gone = new Set(events.filter((one) => one.kind === "correction").map((one) => one.data.of));
    const rows = [...events].sort((a, b) => b.at - a.at || b.seq - a.seq).map((one) => el("li", {},
      el("span", {}, words.clock(one.at)), el("span", {}, SAID[one.kind]?.(one.data, at) || one.kind, gone.has(one.id) ? " (corrected)" : ""),
      one.kind === "correction" ? el("span", {}) : trackside.mending.opener(at, one, SAID[one.kind]?.(one.data, at) || one.kind)));
    const refused = at.taps.filter((one) => one.state === "refused").map((one) => el("li", { class: "refused" },
      el("span", {}, words.clock(Date.parse(one.phone_at))), el("span", {}, `Not taken: ${one.sentence}`), el("span", {})));
    return [...refused, ...rows];
  }

  function note(at) {
    const text = el("textarea", { rows: "2", maxlength: 2000, "aria-label": "Note" });
    return el("details", {}, el("summary", {}, "Note"), text, button("Write down", async () => {
      if (!text.value.trim()) return;
      await at.tap("note", { text: text.value.trim() });
      text.value = "";
    }, "small"));
  }

  function material(at) {
    const what = el("select", {}, ...at.job.sheet.content.materials.map((one) => el("option", { value: one.key }, `${one.name} (${one.unit})`)));
    const much = field("How much was used", { inputmode: "decimal", autocomplete: "off" });
    return el("details", {}, el("summary", {}, "Material used"), el("label", {}, "Material", what), much.row, button("Write down", async () => {
      const quantity = Number(much.input.value.replace(",", "."));
      if (!(quantity > 0 && quantity <= 100000)) { at.warn("Type how much was used, as a number above zero."); return; }
      at.warn("");
      await at.tap("material_used", { key: what.value, quantity });
      much.input.value = "";
    }, "small"));
  }

  /* A picture as large as anybody looks at, so that it goes out over a weak signal and many find room
     on the phone; one that this browser cannot draw stays as it is. */
  const SIDE_PX = 2000;
  async function smaller(file) {
    const picture = await createImageBitmap(file).catch(() => null);
    if (!picture) return file;
    const scale = Math.min(1, SIDE_PX / Math.max(picture.width, picture.height));
    const sheet = Object.assign(document.createElement("canvas"), { width: Math.round(picture.width * scale), height: Math.round(picture.height * scale) });
    sheet.getContext("2d").drawImage(picture, 0, 0, sheet.width, sheet.height);
    picture.close();
    const blob = await new Promise((done) => { sheet.toBlob(done, "image/jpeg", 0.85); });
    return blob && blob.size < file.size ? new File([blob], "photograph.jpg", { type: "image/jpeg" }) : file;
  }

  function photo(at) {
    const file = field("Take or choose a photograph", { type: "file", accept: "image/jpeg,image/png", capture: "environment" });
    const caption = field("What it shows", { autocomplete: "off", maxlength: 120 });
    return el("details", {}, el("summary", {}, "Photograph"), file.row, caption.row, button("Keep", async () => {
      const [chosen] = file.input.files;
      if (!chosen) { at.warn("Take or choose a photograph first."); return; }
      at.warn("");
      await at.tap("photo", { caption: caption.input.value.trim() }, await smaller(chosen));
      file.input.value = caption.input.value = "";
    }, "small"));
  }

  const TRACK = { as_found: "as_found", never: "open", closed: "closed", restored: "restored" };

  /* The state the track is in if work ends now, in the words of the sheet. */
  function trackNow(at) {
    if (trackside.clock.openZone(at.job, at.state)) return "never";
    const zones = at.job.stages.filter((stage) => trackside.state.zoneOf(stage));
    if (zones.every((stage) => at.state.stages[stage.key].state === "waiting")) return "as_found";
    return at.state.left.every((stage) => stage.hand_back === "restored") && proof.passes(at.job, at.state) ? "restored" : "closed";
  }

  function stopping(at, track) {
    const says = at.job.sheet.content.states.find((one) => one.state === track)?.says || "";
    const why = el("textarea", { rows: "2", maxlength: 500, "aria-label": "Why work stops" });
    return el("details", {}, el("summary", {}, "Work has to stop"), el("p", { class: track === "never" ? "fault" : "caution" }, says),
      why, button("Break the job off", async () => {
        if (!why.value.trim()) { at.warn("Write why work stops; the next crew reads it."); return; }
        at.warn("");
        await at.tap("broken_off", { reason: why.value.trim(), state: TRACK[track] });
      }, "danger"));
  }

  const tools = (at) => [note(at), material(at), photo(at)];

  return { log, tools, trackNow, stopping, TRACK };
})();
