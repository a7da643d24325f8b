/* Sending what was kept, in order, one call at a time. A repeat does nothing twice: each tap has
   its own identity, and it leaves this phone only when the office says that it has it. */
"use strict";
window.trackside = window.trackside || {};
trackside.sender = (() => {
  const AT_ONCE = 100;
  const PATIENCE_MS = 20000;
  const PHOTO_PATIENCE_MS = 180000;
  const { store } = trackside;

  const token = () => (document.cookie.match(/(?:^|; )csrftoken=([^;]+)/) || [])[1] || "";

  async function call(address, options = {}, patienceMs = PATIENCE_MS) {
    let answer;
    try {
      answer = await fetch(address, {
        ...options,
        headers: { Accept: "application/json", "X-CSRFToken": token(), ...(options.headers || {}) },
        redirect: "manual",
        cache: "no-store",
        signal: AbortSignal.timeout(patienceMs),
      });
    } catch {
      return { state: "no-signal" };
    }
    const text = await answer.text().catch(() => "");
    const body = parsed(text);
    if (answer.ok && body) return { state: "ok", body };
    if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403) {
      return { state: "login", sentence: sentenceOf(body) };
    }
    return { state: "fault", sentence: sentenceOf(body) || `The office answered ${answer.status}.` };
  }

  function parsed(text) {
    try { return JSON.parse(text); } catch { return null; }
  }

  const sentenceOf = (body) => (body && (body.detail || body.sentence)) || "";

  const read = (address) => call(address);

  /* Send the kept taps of one sheet that this person made. */
  async function sendTaps(address, number, person) {
    const kept = (await store.tapsOf(number)).filter((tap) => tap.state === "kept");
    const own = kept.filter((tap) => tap.person === person);
    let last = { state: "ok", body: null };
    for (let from = 0; from < own.length; from += AT_ONCE) {
      last = await sendSome(address, own.slice(from, from + AT_ONCE));
      if (last.state !== "ok") return last;
    }
    return last;
  }

  async function sendSome(address, taps) {
    const answer = await call(address, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({
        device: taps[0].device,
        phone_now: new Date().toISOString(),
        events: taps.map(({ id, seq, kind, phone_at, data }) => ({ id, seq, kind, phone_at, data })),
      }),
    });
    if (answer.state === "ok") await settle(taps, answer.body);
    return answer;
  }

  /* What the office has goes; what it refused stays, with the reason, for somebody to look at. */
  async function settle(taps, body) {
    const has = new Set([...body.taken, ...body.known]);
    const refused = new Map(body.refused.map((one) => [one.id, one.sentence]));
    for (const tap of taps) {
      if (has.has(tap.id)) await store.remove("taps", tap.id);
      else if (refused.has(tap.id)) {
        await store.put("taps", { ...tap, state: "refused", sentence: refused.get(tap.id) });
      }
    }
  }

  /* Send each photograph whose tap the office has. */
  async function sendPhotos(address, number, known) {
    const photos = (await store.all("photos")).filter((one) => one.sheet === number);
    for (const photo of photos.filter((one) => known.has(one.id))) {
      const form = new FormData();
      form.append("photo", photo.blob, photo.name);
      const answer = await call(`${address}${photo.id}/photo/`, { method: "POST", body: form }, PHOTO_PATIENCE_MS);
      if (answer.state !== "ok") return answer;
      await store.remove("photos", photo.id);
    }
    return { state: "ok" };
  }

  return { read, sendTaps, sendPhotos };
})();
