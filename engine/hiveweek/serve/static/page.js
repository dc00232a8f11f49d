"use strict";
// One small script, twice used: in the page it keeps notes while out of reach and sends them later; as a worker it keeps the pages.

if (typeof document === "undefined") {
  const CACHE = "hiveweek";
  const PATIENCE = 5000;

  self.addEventListener("install", () => self.skipWaiting());
  self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
  self.addEventListener("fetch", (event) => {
    const url = new URL(event.request.url);
    const kept = /^\/($|a\/|h\/|static\/)/.test(url.pathname);
    if (event.request.method !== "GET" || url.origin !== self.location.origin || !kept) return;
    event.respondWith(answer(event.request));
  });

  const answer = async (request) => {
    const cache = await caches.open(CACHE);
    const key = request.url.split("?")[0];
    try {
      const found = await fetch(request, { signal: AbortSignal.timeout(PATIENCE) });
      if (found.ok && !found.redirected) await cache.put(key, found.clone());
      return found;
    } catch (error) {
      const old = await cache.match(key);
      if (old) return old;
      throw error;
    }
  };
} else {
  const KEY = "hiveweek.queue";
  const AGAIN = 15000;
  const PATIENCE = 15000;
  const PHOTO_PATIENCE = 120000;
  const WRITTEN = ["kept", "known"]; // what the page says of a note that is in the record; any other answer may be anybody's
  const box = document.getElementById("waiting");
  const words = box.dataset;
  let token = document.body.dataset.token;
  let sending = null; // the run that sends what waits, while there is one
  const led = new Map(); // where each note that was sent leads to
  let away = false;
  let enter = false;
  let dirty = false;

  // --- the queue, in the phone's own storage
  const queue = () => {
    try {
      return JSON.parse(localStorage.getItem(KEY)) || [];
    } catch {
      return [];
    }
  };
  const keep = (items) => {
    try {
      localStorage.setItem(KEY, JSON.stringify(items));
      return true;
    } catch {
      return false;
    }
  };
  // Photos are too large for the queue: each waits in a store of its own, under the id of its note.
  const photos = (mode, ask) =>
    new Promise((done, failed) => {
      const opening = indexedDB.open("hiveweek", 1);
      opening.onupgradeneeded = () => opening.result.createObjectStore("photos");
      opening.onerror = () => failed(opening.error);
      opening.onsuccess = () => {
        const base = opening.result;
        try {
          const work = base.transaction("photos", mode);
          const asked = ask(work.objectStore("photos"));
          work.oncomplete = () => done(asked.result);
          work.onabort = () => failed(work.error);
        } catch (error) {
          failed(error); // nobody else hears what is thrown here
        } finally {
          base.close(); // once the work is done
        }
      };
    });
  const drop = (item) => {
    change(item.id, () => []);
    if (item.photo) photos("readwrite", (kept) => kept.delete(item.id)).catch(() => {});
  };
  const change = (id, changed) => keep(queue().flatMap((item) => (item.id === id ? changed(item) : [item])));

  const newId = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/(.{8})(.{4})(.{4})(.{4})(.{12})/, "$1-$2-$3-$4-$5");
  };
  const localTime = () => {
    const now = new Date();
    return new Date(now - now.getTimezoneOffset() * 60000).toISOString().slice(0, 19);
  };

  // --- sending
  const post = (item, photo) => {
    const fields = [...item.fields, ["token", token]];
    const body = photo ? new FormData() : new URLSearchParams(fields);
    if (photo) {
      for (const [name, value] of fields) body.append(name, value);
      body.append("photo", new Blob([photo.data], { type: photo.type }), "photo");
    }
    return fetch(item.path, {
      method: "POST",
      headers: { accept: "application/json" },
      body,
      signal: AbortSignal.timeout(photo ? PHOTO_PATIENCE : PATIENCE),
    });
  };
  const alive = async () => {
    const found = await fetch("/alive", { headers: { accept: "application/json" }, cache: "no-store", signal: AbortSignal.timeout(4000) });
    if (found.ok) token = (await found.json()).token;
    return found.status;
  };

  // The phone has lost a photo: what was written with it is still there, and is said to be all that is.
  const wordsAlone = (item, why) => {
    const told = item.fields.some(([name, value]) => name === "text" && value);
    return { ...item, path: "/words", photo: false, state: told ? "asked" : "wrong", why: [why] };
  };

  // Sends what waits, in order; what is added meanwhile is sent by the same run.
  const send = () => {
    sending ??= Promise.resolve().then(sendAll);
    return sending;
  };
  const sendAll = async () => {
    const tried = new Set();
    const key = (one) => `${one.id} ${one.fields.length}`;
    away = enter = false;
    try {
      for (;;) {
        const item = queue().find((one) => !one.state && !tried.has(key(one)));
        if (!item) break;
        tried.add(key(item)); // a phone whose storage fails must not send it for ever
        let photo = null;
        if (item.photo) {
          try {
            photo = await photos("readonly", (kept) => kept.get(item.id));
          } catch {
            away = true; // its store cannot be read now: it waits, and the others go on
            continue;
          }
          if (!photo) {
            change(item.id, (one) => [wordsAlone(one, words.photoGone)]);
            continue;
          }
        }
        let found = await post(item, photo);
        if (found.status === 403 && (await alive()) === 200) found = await post(item, photo);
        const said = (found.headers.get("content-type") || "").includes("json") ? await found.json() : {};
        if (found.ok && WRITTEN.includes(said.state)) {
          drop(item);
          led.set(item.id, said.to || "");
        } else if (found.status === 401) {
          enter = true;
          break;
        } else if (!found.ok && said.state && said.state !== "token") {
          change(item.id, (one) => [{ ...one, state: said.state, why: said.why || [], read: said.read || false }]);
        } else if (found.status === 413) {
          change(item.id, (one) => [{ ...one, state: "wrong", why: [words.large] }]);
        } else {
          away = true; // busy, or not the page at all: kept, and tried again
          break;
        }
      }
    } catch {
      away = true;
    } finally {
      sending = null;
      show();
    }
  };

  // --- what is waiting, in sight
  const element = (name, text, inside = []) => {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    made.append(...inside);
    return made;
  };
  const button = (text, act) => {
    const made = element("button", text);
    made.type = "button";
    made.addEventListener("click", act);
    return made;
  };
  const show = () => {
    const items = queue();
    box.hidden = !items.length;
    box.replaceChildren();
    if (!items.length) return;
    const head = element("p", enter ? words.enter : away ? words.away : words.waiting);
    head.setAttribute("role", "status");
    box.append(head);
    if (enter) {
      const link = element("a", words.enterLink);
      link.className = "button";
      link.href = `/enter?to=${encodeURIComponent(location.pathname)}`;
      box.append(link);
    }
    const list = element("ul");
    for (const item of items) {
      const line = element("li", item.label);
      for (const why of item.why || []) line.append(element("p", why));
      if (item.read) line.append(button(words.read, () => look(item)));
      if (item.state === "asked") line.append(button(words.keep, () => again(item)));
      if (item.state) line.append(button(words.drop, () => { drop(item); show(); }));
      list.append(line);
    }
    box.append(list);
  };
  const again = async (item) => {
    change(item.id, (one) => [{ ...one, state: "", why: [], read: false, fields: [...one.fields, ["sure", "1"]] }]);
    await send();
  };
  const look = (item) => {
    const form = element("form");
    form.method = "post";
    form.action = "/read";
    for (const [name, value] of [...item.fields, ["token", token]]) {
      const field = element("input");
      field.type = "hidden";
      field.name = name;
      field.value = value;
      form.append(field);
    }
    document.body.append(form);
    form.submit();
  };

  // --- forms
  const ready = (form) => {
    form.dataset.busy = "";
    if (!("fixed" in form.dataset)) form.elements.note.value = newId();
  };
  const META = ["note", "at", "hive", "apiary", "next", "sure", "who"];
  // What a note says, in the words of its form.
  const label = (form, fields, photo) => {
    const said = fields.flatMap(([name, value]) => {
      if (!value || META.includes(name)) return [];
      if (name === "action") return [form.closest("details").querySelector("summary").textContent];
      const field = form.querySelector(`[name="${CSS.escape(name)}"]`);
      const head = field.closest("fieldset")?.querySelector("legend") || form.querySelector(`label[for="${field.id}"]`);
      const chosen = form.querySelector(`[name="${CSS.escape(name)}"]:checked + span`);
      return [`${head && field.tagName !== "TEXTAREA" ? `${head.firstChild.textContent.trim()} ` : ""}${chosen ? chosen.textContent : value}`];
    });
    const job = photo ? words.photo : form.closest("article")?.querySelector("h3").textContent;
    return [document.querySelector("h1").textContent, job, said.join(", ")].filter(Boolean).join(": ");
  };
  const said = (form, submitter) => {
    const fields = [...new FormData(form, submitter)].filter(([name, value]) => name !== "token" && typeof value === "string");
    if (!fields.some(([name]) => name === "who")) fields.push(["who", document.body.dataset.who]); // it may be sent when another is here
    return fields;
  };
  // Kept before anything is awaited, and the form is free at once: what is noted while this is sent is a note of its own.
  const take = async (form, submitter, path, more = {}) => {
    const fields = said(form, submitter);
    const told = more.photo || fields.some(([name, value]) => value && name !== "action" && !META.includes(name));
    if (form.dataset.taken && !told) return; // a second tap on what was taken
    const id = form.elements.note.value;
    const waiting = queue().filter((one) => one.id !== id);
    if (!keep([...waiting, { id, path, fields, label: label(form, fields, more.photo), ...more }])) {
      if (more.photo) drop({ id, photo: true });
      tell(words.full);
      return;
    }
    form.dataset.taken = "1";
    form.reset();
    ready(form);
    dirty = false;
    await send();
    const to = led.get(id);
    if (to && !dirty && !queue().length) location.assign(to);
    else if (!to) box.scrollIntoView();
  };
  const tell = (text) => {
    box.hidden = false;
    box.replaceChildren(element("p", text));
    box.scrollIntoView();
  };
  // A photo is in the phone's store before its note is in the queue; where it cannot be, that is said, and the words are kept.
  const takePhoto = async (form) => {
    const file = form.elements.photo.files[0];
    if (file.size > form.dataset.most) {
      tell(words.large);
      return;
    }
    form.dataset.busy = "1";
    try {
      const photo = { data: await file.arrayBuffer(), type: file.type };
      await photos("readwrite", (kept) => kept.put(photo, form.elements.note.value));
    } catch {
      await withoutStore(form);
      return;
    }
    form.dataset.busy = "";
    await take(form, null, form.getAttribute("action"), { photo: true });
  };
  const withoutStore = async (form) => {
    if ((await alive().catch(() => 0)) === 200) {
      form.elements.token.value = token;
      form.submit(); // in reach it goes at once
      return;
    }
    form.dataset.busy = "";
    if (form.elements.text.value) {
      const id = form.elements.note.value;
      const fields = said(form);
      const item = { id, path: "/words", fields, label: label(form, fields), why: [words.photoLost] };
      if (keep([...queue(), item])) {
        form.elements.text.value = "";
        ready(form);
        away = true;
        show();
        box.scrollIntoView();
        return;
      }
    }
    tell(words.photoLost); // the photo stays chosen in the form
  };
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.getAttribute("action") === "/leave" && window.caches) caches.delete("hiveweek");
    if (!form.matches("form.queued, form.words")) return;
    event.preventDefault();
    if (form.dataset.busy) return; // it is being asked whether the page is in reach
    const submitter = event.submitter;
    if (!form.elements.at.value || !("fixed" in form.dataset)) form.elements.at.value = localTime();
    if (form.matches("form.photo")) {
      await takePhoto(form);
      return;
    }
    if (!form.matches("form.words")) {
      await take(form, submitter, form.getAttribute("action"));
      return;
    }
    form.dataset.busy = "1";
    if ((await alive().catch(() => 0)) === 200) {
      form.elements.token.value = token;
      form.submit();
    } else {
      form.dataset.busy = "";
      await take(form, submitter, form.dataset.later);
    }
  });
  document.addEventListener("input", () => (dirty = true));

  for (const step of document.querySelectorAll(".step")) {
    const field = step.querySelector("input");
    for (const key of step.querySelectorAll("button")) {
      key.hidden = false;
      key.addEventListener("click", () => {
        dirty = true;
        if (field.value === "") {
          field.value = step.dataset.last || (key.dataset.by > 0 ? step.dataset.step : "0");
          return;
        }
        const next = Number(field.value) + key.dataset.by * step.dataset.step;
        const low = field.min === "" ? -Infinity : Number(field.min);
        const high = field.max === "" ? Infinity : Number(field.max);
        field.value = String(Math.min(high, Math.max(low, Math.round(next * 100) / 100)));
      });
    }
  }

  window.addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form.queued, form.words")) ready(form);
    show();
    send();
  });
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
  setInterval(() => queue().some((item) => !item.state) && send(), AGAIN);

  // A newer answer is fetched where nothing is being written, nor about to be.
  const busy = () => dirty || document.querySelector("details[open], input:focus, textarea:focus, select:focus");
  if (document.querySelector(".fresh")) {
    const timer = setInterval(() => {
      if (busy()) return;
      clearInterval(timer);
      location.replace(location.pathname + location.search);
    }, 2500);
  }
  if (window.isSecureContext && navigator.serviceWorker) {
    navigator.serviceWorker.register("/static/page.js", { scope: "/" }).catch(() => {});
  }
}
