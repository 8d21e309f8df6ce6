// What is entered is kept in this browser until the computer with the notebook has taken it, and sent again until then.
// Each entry carries a uid of its own: sending it twice does it once. What is refused stays, with its reason.
"use strict";
(() => {
  const bar = document.getElementById("outbox");
  if (!bar) return;
  const say = bar.dataset;
  const STEM = `chalaza.${say.notebook}.`;
  const EVERY_MS = 20000, PATIENCE_MS = 15000, QUIET_MS = 3000, BEGAN = Date.now();
  let token = "", sending = null, onItsWay = "", timer = 0, glance = 0, away = false;

  // Where it is kept ---------------------------------------------------------------------------------------------
  const memory = new Map();
  let lasting = true;
  try {
    window.localStorage.setItem(`${STEM}try`, "1");
    window.localStorage.removeItem(`${STEM}try`);
  } catch {
    lasting = false;
  }
  const names = () => {
    if (!lasting) return [...memory.keys()];
    return Object.keys(window.localStorage).filter((name) => name.startsWith(STEM));
  };
  const get = (name) => {
    try {
      return JSON.parse(lasting ? window.localStorage.getItem(name) : memory.get(name));
    } catch {
      return null;
    }
  };
  const put = (entry) => {
    const text = JSON.stringify(entry);
    if (lasting) {
      try {
        window.localStorage.setItem(entry.name, text);
        return;
      } catch {
        lasting = false;
      }
    }
    memory.set(entry.name, text);
  };
  const drop = (entry) => {
    memory.delete(entry.name);
    if (lasting) window.localStorage.removeItem(entry.name);
  };
  const all = () => names().sort().map(get).filter((entry) => entry && entry.url && entry.uid);

  const uid = () => [...window.crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
  let count = 0;
  const stamp = () => `${String(Date.now()).padStart(15, "0")}.${String(count++).padStart(6, "0")}`;

  // Sending ------------------------------------------------------------------------------------------------------
  const ask = async (url, options) => {
    const stop = new AbortController();
    const late = window.setTimeout(() => stop.abort(), PATIENCE_MS);
    try {
      return await window.fetch(url, { ...options, credentials: "same-origin", cache: "no-store", signal: stop.signal });
    } finally {
      window.clearTimeout(late);
    }
  };
  const fresh = async () => {
    const answer = await ask("/form-token/", { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error("no token");
    token = (await answer.json()).token;
  };
  const post = async (entry) => {
    const body = new URLSearchParams(entry.fields);
    body.set("uid", entry.uid);
    body.set("csrfmiddlewaretoken", token);
    return ask(entry.url, { method: "POST", body, headers: { Outbox: "1", Accept: "application/json" } });
  };
  // One entry: "stored", "refused" or "waiting". Only an answer we can read takes an entry out of the box.
  const deliver = async (entry) => {
    try {
      if (!token) await fresh();
      let answer = await post(entry);
      if (answer.status === 403) {
        await fresh();
        answer = await post(entry);
      }
      const word = (answer.headers.get("Content-Type") || "").startsWith("application/json") ? await answer.json() : null;
      away = false;
      if (answer.ok && word && word.done) return { state: "stored", word };
      if (answer.status === 422 && word) return { state: "refused", word };
      if (answer.status === 404 || answer.status === 405) return { state: "refused", word: { refused: [say.gone], ways: [] } };
      return { state: "waiting", word: null };
    } catch {
      away = true;
      return { state: "waiting", word: null };
    }
  };
  const tell = (kind, entry, word) =>
    document.body.dispatchEvent(new CustomEvent(kind, { bubbles: true, detail: { uid: entry.uid, entry, word } }));
  const run = async () => {
    for (const entry of all()) {
      if (entry.refused) continue;
      onItsWay = entry.uid;
      const { state, word } = await deliver(entry);
      onItsWay = "";
      if (state === "waiting") break;
      const now = get(entry.name);
      if (!now) continue; // taken back meanwhile
      if (state === "stored") drop(entry);
      else put({ ...entry, refused: word });
      show();
      tell(state, entry, word);
    }
  };
  const flush = async () => {
    if (sending) {
      await sending;
      return all().some((entry) => !entry.refused) && !away ? flush() : undefined;
    }
    sending = run();
    try {
      await sending;
    } finally {
      sending = null;
    }
    show();
    return undefined;
  };

  // For the pages ------------------------------------------------------------------------------------------------
  const state = (entry) => {
    const now = get(entry.name);
    return now ? { state: now.refused ? "refused" : "waiting", word: now.refused || null } : { state: "stored", word: null };
  };
  const send = async ({ url, fields, label, uid: given }) => {
    const entry = { name: `${STEM}${stamp()}`, uid: given || uid(), url, fields, label, refused: null };
    put(entry);
    await flush();
    return { entry, ...state(entry) };
  };
  const again = async (entry, more) => {
    put({ ...entry, fields: [...entry.fields, ...(more || [])], refused: null });
    await flush();
    return { entry, ...state(entry) };
  };
  // Taken back before it was taken: true. What is on its way may arrive, so its answer is waited for.
  const back = async (id) => {
    if (onItsWay === id && sending) await sending;
    const entry = all().find((one) => one.uid === id);
    if (entry) drop(entry);
    show();
    return Boolean(entry);
  };
  // What a page shows in a place of its own is not shown in the bar as well.
  const held = new Set();
  const hold = (id) => { held.add(id); show(); };
  const release = (id) => { held.delete(id); show(); };

  // The bar ------------------------------------------------------------------------------------------------------
  const element = (kind, text, set) => Object.assign(document.createElement(kind), { textContent: text }, set || {});
  const refusal = (entry) => {
    const box = element("div", "", { className: "refused-entry" });
    box.append(element("p", say.refused.replace("{entry}", entry.label || "")));
    for (const text of entry.refused.refused || []) box.append(element("p", text));
    const acts = element("p", "", { className: "choices" });
    for (const way of entry.refused.ways || []) {
      acts.append(element("button", way.label, { type: "button", className: "press quiet", onclick: () => again(entry, [[way.name, way.value]]) }));
    }
    acts.append(element("button", say.again, { type: "button", className: "press quiet", onclick: () => again(entry) }));
    acts.append(element("button", say.discard, { type: "button", className: "say", onclick: () => back(entry.uid) }));
    box.append(acts);
    return box;
  };
  let shown = "";
  const show = () => {
    const here = all();
    const waiting = here.filter((entry) => !entry.refused);
    const refused = here.filter((entry) => entry.refused && !held.has(entry.uid));
    // What was entered on this page just now is on its way and no news.
    const made = (entry) => Number(entry.name.slice(STEM.length).split(".")[0]);
    const old = waiting.some((entry) => made(entry) < BEGAN || Date.now() - made(entry) > QUIET_MS);
    const line = !(away || old) || !waiting.length ? "" : (waiting.length === 1 ? say.one : say.many).replace("{n}", waiting.length);
    const text = line && !lasting ? `${line} ${say.fleeting}` : line;
    const look = JSON.stringify([text, refused]);
    window.clearTimeout(timer);
    window.clearTimeout(glance);
    if (waiting.length) timer = window.setTimeout(flush, EVERY_MS);
    if (waiting.length && !line) glance = window.setTimeout(show, QUIET_MS);
    if (look === shown) return;
    shown = look;
    bar.replaceChildren();
    if (text) bar.append(element("p", text, { className: "waiting" }));
    for (const entry of refused) bar.append(refusal(entry));
    bar.hidden = !bar.childElementCount;
  };

  // Plain forms of entry pages: sent as ever; kept and sent later where nobody answers. -----------------------------
  const fieldsOf = (form, button) => {
    const data = [...new FormData(form).entries()].filter(([name, value]) => name !== "csrfmiddlewaretoken" && typeof value === "string");
    if (button && button.name) data.push([button.name, button.value]);
    return data;
  };
  const swap = async (answer) => {
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    document.getElementById("main").replaceWith(document.adoptNode(page.getElementById("main")));
    ready();
    const first = document.querySelector("#main .wrong input, #main .ask button, #main [role=alert]");
    if (first) first.focus();
    window.scrollTo(0, 0);
  };
  const submit = async (event) => {
    const form = event.target;
    event.preventDefault();
    const fields = fieldsOf(form, event.submitter);
    const own = fields.find(([name]) => name === "uid");
    const body = new URLSearchParams(fields);
    body.set("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
    let answer = null;
    try {
      answer = await ask(form.action, { method: "POST", body });
    } catch {
      away = true;
    }
    if (answer && answer.redirected) window.location.assign(answer.url);
    else if (answer && (answer.status === 422 || answer.status === 409)) await swap(answer);
    else if (answer && answer.status < 500 && answer.status !== 403) window.location.reload();
    else {
      const rest = fields.filter(([name]) => name !== "uid");
      await send({ url: form.action, fields: rest, label: form.dataset.outbox, uid: own && own[1] });
      form.reset();
      if (form.elements.uid) form.elements.uid.value = uid();
    }
  };
  const ready = () => {
    for (const form of document.querySelectorAll("form[data-outbox]")) {
      if (form.dataset.kept) continue;
      form.dataset.kept = "yes";
      form.addEventListener("submit", submit);
    }
  };

  window.chalazaOutbox = { send, again, back, hold, release, uid, entries: all };
  window.addEventListener("online", flush);
  window.addEventListener("storage", show);
  ready();
  show();
  if (all().some((entry) => !entry.refused)) flush();
})();
