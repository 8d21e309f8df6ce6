// A session on one screen: the egg at hand, big keys, the tray as a map. Each entry is sent as soon as it is made; what is
// not taken waits in the outbox. Every word comes from the page.
"use strict";
(() => {
  const root = document.querySelector("[data-session]");
  const box = window.chalazaOutbox;
  if (!root || !box) return;
  const say = root.dataset, form = root.querySelector("form.entry"), pad = root.querySelector(".pad");
  const figures = say.session === "figures";
  const fill = (text, holes) => text.replace(/\{(\w+)\}/g, (all, name) => (name in holes ? holes[name] : all));
  const $ = (selector) => root.querySelector(selector);

  const eggs = [...root.querySelectorAll("[data-lines] [data-egg]")].map((line) => ({
    uid: line.dataset.egg, label: line.dataset.label, name: line.dataset.name, value: line.dataset.value, word: line.dataset.value,
    low: line.dataset.low ? Number(line.dataset.low) : NaN, high: line.dataset.high ? Number(line.dataset.high) : NaN,
    group: "group" in line.dataset, line, cell: root.querySelector(`[data-tray] [data-egg="${CSS.escape(line.dataset.egg)}"]`),
  }));
  if (!eggs.length) return;
  const past = []; // what was entered here, to be undone: {egg, before, uid}
  let at = Math.max(0, eggs.findIndex((egg) => !egg.value)), typed = "", question = null;
  const began = Date.now(), PATIENCE_MS = 3000;

  // What is sent with every entry: the setting of the session, and the moment, if the keeper wrote none. ------------
  const setting = () => {
    const found = [];
    for (const [name, value] of new FormData(form).entries()) {
      if (typeof value === "string" && !["uid", "csrfmiddlewaretoken", "at_s"].includes(name) && !/^[fg]-/.test(name)) found.push([name, value]);
    }
    const hour = form.elements.at;
    if (hour && hour.value === hour.defaultValue) {
      found.push(["at_s", String(Number(say.now) + Math.floor((Date.now() - began) / 1000))]);
    }
    return found;
  };

  // The egg at hand and the map ---------------------------------------------------------------------------------------
  const here = () => eggs[at];
  const draw = () => {
    eggs.forEach((egg, i) => {
      if (!egg.cell) return;
      egg.cell.classList.toggle("yet", !egg.value);
      egg.cell.classList.toggle("here", i === at);
      egg.cell.firstElementChild.toggleAttribute("aria-current", i === at);
      if (i === at) egg.cell.firstElementChild.setAttribute("aria-current", "step");
      const use = egg.cell.querySelector("use"), word = egg.cell.querySelector("b");
      const made = root.querySelector(`[data-mark="${CSS.escape(egg.value || "-")}"]`);
      if (use) use.setAttribute("href", `#egg-${i === at && !egg.value ? "at_hand" : (made && made.dataset.drawing) || "not_looked"}`);
      if (word) word.textContent = figures ? (i === at && typed ? shown(typed) : egg.value) || "–" : (made ? made.dataset.short : egg.value) || "–";
      if (!figures) {
        const said = made ? made.dataset.word : egg.value || say.sayYet;
        egg.cell.firstElementChild.setAttribute("aria-label", fill(say.sayLabel, { egg: egg.label, value: said }));
      }
    });
    $("[data-done]").textContent = String(eggs.filter((egg) => egg.value && !(question && question.egg === egg)).length);
    $("[data-at-hand]").textContent = here().label;
    const last = past[past.length - 1], undo = $("[data-undo]");
    undo.hidden = !last;
    if (last) undo.textContent = fill(say.sayUndo, { egg: last.egg.label, value: last.word });
  };
  const go = (i) => {
    if (question) close(false);
    at = i;
    typed = "";
    if (figures) {
      const facts = here().line.querySelector(".facts");
      $("[data-facts]").replaceChildren(...(facts ? facts.cloneNode(true).childNodes : []));
      $("[data-typed-label]").textContent = here().label;
      write();
    } else {
      for (const egg of eggs) egg.line.hidden = !(egg.group && egg === here());
      pad.querySelector(".marks").hidden = here().group;
    }
    draw();
  };
  const onward = () => {
    const next = [...eggs.keys()].map((i) => (at + 1 + i) % eggs.length).find((i) => !eggs[i].value);
    go(next === undefined ? at : next);
    if (next === undefined) $("[data-at-hand]").textContent = say.sayAll;
  };

  // Entering ------------------------------------------------------------------------------------------------------------
  const asked = new Set(); // entries for whose answer the keeper waits at the egg
  const pause = (ms) => new Promise((done) => { window.setTimeout(() => done(null), ms); });
  // `wait`: stay at the egg until it is taken, or until it is clear that nobody answers now.
  const enter = async (egg, fields, value, word, wait) => {
    if (question) close(true);
    const mine = { egg, before: { value: egg.value, word: egg.word }, uid: box.uid(), word, value };
    egg.value = value;
    egg.word = word;
    past.push(mine);
    if (wait) {
      asked.add(mine.uid);
      box.hold(mine.uid);
    }
    const sending = box.send({ url: say.send, fields: [...setting(), ...fields], label: fill("{egg}: {value}", { egg: egg.label, value: word }), uid: mine.uid });
    if (!wait) {
      onward();
      return;
    }
    draw();
    settle(mine, await Promise.race([sending, pause(PATIENCE_MS)]));
  };
  const settle = (mine, result) => {
    if (!asked.has(mine.uid)) return;
    if (result && result.state === "stored") {
      leave(mine);
      if (mine.egg === here()) onward();
    } else if (result && result.state === "refused") open({ ...mine, entry: result.entry, word: result.word });
    else if (figures && mine.egg === here()) {
      const keep = { name: `keep_${mine.egg.name}`, value: mine.value, label: fill(say.sayKeep, { typed: mine.value }) };
      open({ ...mine, word: { refused: [fill(say.sayOdd, { typed: mine.value })], ways: [keep] } });
    } else leave(mine);
  };
  const leave = (mine) => {
    asked.delete(mine.uid);
    box.release(mine.uid);
  };
  const forget = (mine) => {
    const i = past.findIndex((one) => one.uid === mine.uid);
    if (i >= 0) past.splice(i, 1);
    mine.egg.value = mine.before.value;
    mine.egg.word = mine.before.word;
  };
  const button = (text, name, press) => {
    const made = document.createElement("button");
    made.type = "button";
    made.className = name;
    made.textContent = text;
    made.addEventListener("click", press);
    return made;
  };
  // A question about the egg at hand: what is odd, the likely one first, weigh again, keep.
  const mark = () => {
    $("#ask").hidden = !question;
    if (!question) $("#ask").replaceChildren();
    if (!figures) return;
    $(".typed").classList.toggle("wrong", Boolean(question));
    if (question) $("#typed").setAttribute("aria-invalid", "true");
    else $("#typed").removeAttribute("aria-invalid");
    $("[data-key=next]").disabled = Boolean(question) || !typed;
  };
  const open = (found) => {
    question = found;
    const [odd, ...rest] = found.word.refused;
    const lines = [["odd", odd], ["", rest.join(" ")]].filter(([, text]) => text).map(([className, textContent]) => Object.assign(document.createElement("p"), { textContent, className }));
    const ways = document.createElement("div");
    ways.className = "choices";
    const again = () => { close(true); typed = ""; if (figures) write(); draw(); };
    const offered = found.word.ways.map((way) => [way, button(way.label, way.name.startsWith("keep_") ? "press quiet" : "press", () => answer(way))]);
    ways.append(...offered.filter(([way]) => !way.name.startsWith("keep_")).map(([, made]) => made));
    if (say.sayAgain) ways.append(button(say.sayAgain, "press quiet", again));
    ways.append(...offered.filter(([way]) => way.name.startsWith("keep_")).map(([, made]) => made));
    $("#ask").replaceChildren(...lines, ways);
    mark();
  };
  const answer = (way) => {
    const mine = question;
    question = null;
    mark();
    const value = /^answer_[fg]-/.test(way.name) ? way.value : mine.value;
    mine.egg.value = mine.egg.word = value;
    const kept = past.find((one) => one.uid === mine.uid);
    if (kept) kept.word = value;
    const entry = box.entries().find((one) => one.uid === mine.uid); // none where it was taken while the question stood
    if (entry) box.again(entry, [[way.name, way.value]]);
    leave(mine);
    onward();
  };
  // `drop`: it is to be written again; else it stays in the bar, with its reason.
  const close = (drop) => {
    const mine = question;
    question = null;
    asked.delete(mine.uid);
    if (drop || mine.entry) forget(mine);
    if (drop) box.back(mine.uid);
    box.release(mine.uid);
    mark();
  };

  // The last one taken back: out of the outbox if it still waits there, else undone.
  const undo = async () => {
    const last = past.pop();
    if (!last) return;
    if (question && question.uid === last.uid) {
      question = null;
      asked.delete(last.uid);
      mark();
    }
    last.egg.value = last.before.value;
    last.egg.word = last.before.word;
    go(eggs.indexOf(last.egg));
    if (await box.back(last.uid)) return;
    await box.send({ url: `/undo/${last.uid}/`, fields: [], label: fill(say.sayUndo, { egg: last.egg.label, value: last.word }) });
  };

  // Figures ---------------------------------------------------------------------------------------------------------------
  const decimals = Number(say.decimals || 0);
  const shown = (text) => {
    if (!/^\d+$/.test(text) || !decimals) return text.replace(",", ".");
    const full = text.padStart(decimals + 1, "0");
    return `${full.slice(0, -decimals)}.${full.slice(-decimals)}`;
  };
  const write = () => {
    const field = $("#typed");
    field.value = typed ? shown(typed) : "";
    $("[data-key=next]").disabled = !typed || Boolean(question);
  };
  const key = (name) => {
    if (question) close(true);
    if (name === "back") typed = typed.slice(0, -1);
    else if (name === "next") {
      if (typed) store();
      return;
    } else if (typed.length < 7) typed += name;
    write();
    draw();
  };
  const store = () => {
    const egg = here(), value = shown(typed), tare = Number((form.elements.tare && form.elements.tare.value.replace(",", ".")) || 0);
    const net = Number(value) - tare;
    // Within what is expected nothing will be asked: on to the next egg without waiting for an answer.
    const usual = net >= egg.low && net <= egg.high;
    enter(egg, [[egg.name, value]], value, value, !usual);
  };

  // Listening -------------------------------------------------------------------------------------------------------------
  root.classList.add("live");
  pad.hidden = false;
  root.querySelector("[data-lines]").classList.add("behind");
  for (const cell of root.querySelectorAll("[data-jump]")) {
    cell.addEventListener("click", () => go(eggs.findIndex((egg) => egg.uid === cell.dataset.jump)));
  }
  $("[data-undo]").addEventListener("click", undo);
  form.addEventListener("submit", (event) => event.preventDefault());
  if (figures) {
    for (const one of root.querySelectorAll("[data-key]")) one.addEventListener("click", () => key(one.dataset.key));
    $("#typed").addEventListener("keydown", (event) => {
      const name = event.key === "Enter" ? "next" : event.key === "Backspace" ? "back" : event.key;
      if (/^\d$/.test(name) || name === "next" || name === "back") key(name);
      else if (/^[.,]$/.test(name) && typed && !/[.,]/.test(typed)) { typed += "."; write(); draw(); }
      else if (event.key.length > 1) return;
      event.preventDefault();
    });
    const scale = form.elements.scale;
    if (scale) scale.addEventListener("change", () => window.location.assign(`${say.send}?scale=${encodeURIComponent(scale.value)}`));
  } else {
    for (const one of root.querySelectorAll("[data-mark]")) {
      one.addEventListener("click", () => enter(here(), [[here().name, one.dataset.mark]], one.dataset.mark, one.dataset.word, false));
    }
    for (const one of root.querySelectorAll("[data-group-next]")) {
      one.hidden = false;
      one.addEventListener("click", () => {
        const fields = [...here().line.querySelectorAll("input")].map((input) => [input.name, input.value || "0"]);
        const word = fields.map(([, value]) => value).join(" ");
        enter(here(), fields, word, word, true);
      });
    }
  }
  document.body.addEventListener("refused", (event) => {
    const mine = past.find((one) => one.uid === event.detail.uid);
    if (mine && !asked.has(mine.uid)) forget(mine);
    draw();
  });
  if (say.lastAct) {
    const egg = eggs.find((one) => one.uid === say.lastEgg);
    const made = egg && root.querySelector(`[data-mark="${CSS.escape(egg.value || "-")}"]`);
    if (egg) past.push({ egg, before: { value: "", word: "" }, uid: say.lastAct, word: made ? made.dataset.word : egg.value });
  }
  // Loading this page again goes on with the session it began.
  if (new URLSearchParams(window.location.search).has("new")) window.history.replaceState(null, "", window.location.pathname);
  go(at);
  if (eggs.every((egg) => egg.value)) $("[data-at-hand]").textContent = say.sayAll;
})();
