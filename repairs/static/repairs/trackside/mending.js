/* Putting one entry right at the trackside: what is right is typed, and a tap on the reason keeps it.
   What was entered first stays beside it in the record. */
"use strict";
window.trackside = window.trackside || {};
trackside.mending = (() => {
  const { words } = trackside;
  const { el, button, field } = trackside.parts;
  const REASONS = ["Mistyped", "Read wrong", "Meant for something else"];
  const BY_MISTAKE = "Tapped by mistake";

  /* What holds of an entry by what this phone knows: of several corrections the last counts. */
  function standing(at, one) {
    const when = (each) => Date.parse(each.at || each.phone_at);
    const made = [...at.job.events, ...at.taps].filter((each) => each.kind === "correction" && each.data.of === one.id && each.state !== "refused");
    const last = made.sort((a, b) => when(a) - when(b)).pop();
    const first = [...at.job.events, ...at.taps].find((each) => each.id === one.id) || one;
    return { data: last?.data.data || first.data, moved: last?.data.at };
  }

  const typed = (label, value, read, attributes = {}) => {
    const made = field(label, { autocomplete: "off", value, ...attributes });
    return { row: made.row, changed: () => made.input.value.trim() !== value, read: () => read(made.input.value.trim()) };
  };

  const number = (text) => (Number(text.replace(",", ".")) > 0 ? Number(text.replace(",", ".")) : null);
  const lengthBox = (at, label, name, data, most) => typed(label, words.length(data[name], at.units.length).split(" (")[0],
    (text) => words.typedLength(text, at.units.length, most), { "data-name": name });

  /* The box of what an entry says, and which field of it that is; none where it is right or not at all. */
  const BOXES = {
    pass_temperature: (at, data) => ["degc", typed(`Temperature, ${at.units.temperature === "degF" ? "°F" : "°C"}`,
      words.degrees(data.degc, at.units.temperature).split(" ")[0], (text) => words.typedDegrees(text, at.units.temperature), { inputmode: "decimal" })],
    measurement: (at, data) => ["value_mm", lengthBox(at, "Reading", "value_mm", data, 10000)],
    indication: (at, data) => ["length_mm", lengthBox(at, "Length", "length_mm", data, 2000)],
    material_used: (at, data) => ["quantity", typed("How much was used", String(data.quantity), number, { inputmode: "decimal" })],
    note: (at, data) => ["text", typed("Note", data.text, (text) => text || null, { maxlength: 2000 })],
    photo: (at, data) => ["caption", typed("What it shows", data.caption || "", (text) => text || null, { maxlength: 120 })],
  };

  function open(at, one, said) {
    const now = standing(at, one);
    const [name, box] = BOXES[one.kind]?.(at, now.data) || [null, null];
    const fault = el("p", { role: "alert" });
    const why = field("Another reason", { autocomplete: "off", maxlength: 300 });
    const dialog = el("dialog", { class: "mend", "aria-label": "Put right" });
    const close = () => { dialog.close(); dialog.remove(); };
    const refuse = (text) => { fault.className = "fault"; fault.textContent = text; };
    const tap = (data, reason) => {
      close();
      return at.tap("correction", { of: one.id, data, reason, ...(data && now.moved ? { at: now.moved } : {}) });
    };
    const keep = (reason) => {
      if (!reason) return refuse("Type why, or tap one of the reasons.");
      if (!box.changed()) return refuse("Nothing is changed: type what is right, or strike the entry out.");
      const value = box.read();
      return value === null ? refuse("Type it as before, for example 480 or 1 7/8 in.") : tap({ ...now.data, [name]: value }, reason);
    };
    dialog.append(el("h2", {}, "Put right"), el("p", {}, `${words.clock(one.at)}: ${said}. Both stay in the record.`), fault);
    if (box) {
      dialog.append(box.row, el("p", { class: "help" }, "Type what is right; the reason you tap keeps it."),
        ...REASONS.map((reason) => button(reason, () => keep(reason), "go")),
        el("details", {}, el("summary", {}, "Another reason"), why.row, button("Keep", () => keep(why.input.value.trim()), "go")));
    }
    dialog.append(button("It did not happen: strike it out", () => tap(null, BY_MISTAKE), "danger"), button("Leave it as it is", close, "second"));
    dialog.addEventListener("close", () => dialog.remove());
    document.getElementById("trackside").append(dialog);
    dialog.showModal();
    return null;
  }

  const opener = (at, one, said) => button("Put right", () => open(at, one, said), "small second");

  return { opener };
})();
