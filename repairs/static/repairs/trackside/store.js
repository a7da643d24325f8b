/* What this phone keeps by itself: sheets once opened, every tap, every photograph.
   A tap is on disk before the page says so; it stays here until the office has taken it. */
"use strict";
window.trackside = window.trackside || {};
trackside.store = (() => {
  let opening = null;

  function open() {
    opening = opening || new Promise((done, fail) => {
      const asked = indexedDB.open("trackside", 1);
      asked.onupgradeneeded = () => {
        const base = asked.result;
        base.createObjectStore("sheets", { keyPath: "number" });
        base.createObjectStore("taps", { keyPath: "id" }).createIndex("sheet", "sheet");
        base.createObjectStore("photos", { keyPath: "id" });
        base.createObjectStore("phone", { keyPath: "name" });
      };
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => fail(asked.error);
    });
    return opening;
  }

  /* Run `work(stores)` in one transaction; done when it is on disk, with what `work` returned. */
  async function within(names, mode, work) {
    const base = await open();
    return new Promise((done, fail) => {
      const change = base.transaction(names, mode, { durability: "strict" });
      const answer = { value: undefined };
      change.oncomplete = () => done(answer.value);
      change.onerror = change.onabort = () => fail(change.error);
      work(names.map((name) => change.objectStore(name)), answer);
    });
  }

  const put = (name, row) => within([name], "readwrite", ([store]) => { store.put(row); });
  const remove = (name, key) => within([name], "readwrite", ([store]) => { store.delete(key); });
  const clear = (name) => within([name], "readwrite", ([store]) => { store.clear(); });
  const get = (name, key) => within([name], "readonly", ([store], answer) => {
    store.get(key).onsuccess = (found) => { answer.value = found.target.result; };
  });
  const all = (name) => within([name], "readonly", ([store], answer) => {
    store.getAll().onsuccess = (found) => { answer.value = found.target.result; };
  });

  /* The taps of one sheet, in the order they were made on this phone. */
  async function tapsOf(sheet) {
    const rows = await within(["taps"], "readonly", ([store], answer) => {
      store.index("sheet").getAll(sheet).onsuccess = (found) => {
        answer.value = found.target.result;
      };
    });
    return rows.sort((a, b) => a.seq - b.seq);
  }

  /* Keep a tap, and the photograph it may carry, with the next number of this phone: all of it is
     written together or not at all. */
  function keepTap(tap, photo) {
    return within(["phone", "taps", "photos"], "readwrite", ([phone, taps, photos], answer) => {
      phone.get("device").onsuccess = (found) => {
        const device = found.target.result || { name: "device", id: crypto.randomUUID(), seq: 0 };
        device.seq += 1;
        phone.put(device);
        answer.value = { ...tap, id: crypto.randomUUID(), device: device.id, seq: device.seq };
        taps.put(answer.value);
        if (photo) photos.put({ id: answer.value.id, sheet: tap.sheet, person: tap.person, blob: photo, name: photo.name });
      };
    });
  }

  return { put, remove, clear, get, all, tapsOf, keepTap };
})();
