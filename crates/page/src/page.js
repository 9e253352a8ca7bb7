// The keyboard, marks on lamps, lamps that run by themselves, and news from other tabs. Everything else is
// plain forms and links.
"use strict";
(() => {
  const words = { 0: "dark", 1: "lit", 2: "dim", 3: "flickering", 9: "not looked at" };
  const shapes = { lit: "lit", dark: "dark", dim: "dim", flickering: "flickering", "not looked at": "open" };
  const $ = (what, within = document) => within.querySelector(what);
  const $$ = (what, within = document) => [...within.querySelectorAll(what)];

  // ---- marks -----------------------------------------------------------------------------------------
  const lamps = () => $$("button.lamp-in");
  const field = (lamp) => $("input", lamp);
  function draw(svg, word) {
    const shape = shapes[word] || "none";
    svg.setAttribute("class", "lamp " + shape);
    $("use", svg).setAttribute("href", "#lamp-" + shape);
  }
  function mark(lamp, word) {
    if (word === lamp.dataset.must) word = "";
    field(lamp).value = word;
    lamp.classList.toggle("odd", word !== "");
    draw($(".seen svg", lamp), word);
    const must = lamp.dataset.must;
    $(".word", lamp).textContent = word ? "≠ " + word : must;
    lamp.setAttribute("aria-label", `${lamp.dataset.lamp}: must be ${must}, ${word ? "seen " + word : "not marked"}`);
    tell();
  }
  function tell() {
    const text = $("#take-text");
    if (!text) return;
    const marked = lamps().filter((lamp) => field(lamp).value);
    const said = marked.map((lamp) => lamp.dataset.lamp + " " + field(lamp).value).join(", ");
    text.textContent = said ? `Take: ${said}, rest as expected` : "As expected";
    $("#status").textContent = said ? `Marked: ${said}` : "No lamp marked";
  }
  function tap(lamp) {
    const must = lamp.dataset.must;
    const round = must === "dark" ? ["", "lit", "dim", "flickering"] : must === "lit" ? ["", "dark", "dim", "flickering"]
      : ["", "lit", "dark", "dim"];
    mark(lamp, round[(round.indexOf(field(lamp).value) + 1) % round.length]);
  }
  document.addEventListener("click", (event) => {
    const lamp = event.target.closest("button.lamp-in");
    if (lamp) tap(lamp);
    const rate = event.target.closest("button[data-hertz]");
    if (rate) run(rate);
    if (event.target.closest("#keys")) keysOn(!single());
  });

  // ---- the keyboard ----------------------------------------------------------------------------------
  const single = () => localStorage.getItem("keys") !== "off";
  function keysOn(on) {
    localStorage.setItem("keys", on ? "on" : "off");
    const button = $("#keys");
    button.setAttribute("aria-pressed", String(on));
    button.textContent = on ? "Single keys on" : "Single keys off";
  }
  function move(by) {
    const all = lamps();
    if (!all.length) return false;
    const at = all.indexOf(document.activeElement);
    const to = at < 0 ? (by > 0 ? 0 : all.length - 1) : (at + by + all.length) % all.length;
    all[to].focus();
    return true;
  }
  function row(by) {
    const groups = $$("#look .group");
    const lamp = document.activeElement.closest(".lamp-in");
    if (!lamp || !groups.length) return move(by);
    const at = groups.indexOf(lamp.closest(".group"));
    const to = groups[(at + by + groups.length) % groups.length];
    const place = $$(".lamp-in", groups[at]).indexOf(lamp);
    const there = $$(".lamp-in", to);
    there[Math.min(place, there.length - 1)].focus();
    return true;
  }
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !single()) return;
    const here = event.target;
    if (here.matches("input, textarea, select")) {
      if (event.key === "Escape") here.blur();
      return;
    }
    const lamp = here.closest("button.lamp-in");
    const arrows = { ArrowRight: () => move(1), ArrowLeft: () => move(-1), ArrowDown: () => row(1), ArrowUp: () => row(-1) };
    if (arrows[event.key] && (lamp || event.key === "ArrowRight" || event.key === "ArrowLeft")) {
      if (arrows[event.key]()) event.preventDefault();
      return;
    }
    if (lamp && event.key in words) {
      mark(lamp, words[event.key]);
      event.preventDefault();
      return;
    }
    if (lamp && event.key === "Backspace") {
      mark(lamp, "");
      event.preventDefault();
      return;
    }
    // Space on a link or another button does what it always does.
    if (event.key === " " && !lamp && here.matches("a, button, summary")) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const target = $$("[data-key]").find((one) => one.dataset.key === key);
    if (!target || event.repeat) return;
    event.preventDefault();
    if (target.matches("input")) target.focus();
    else target.click();
  });

  // One press sends once: a held key or a double tap does not send a form again.
  document.addEventListener("submit", (event) => {
    if (event.target.dataset.sent) event.preventDefault();
    event.target.dataset.sent = "1";
  });
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) location.reload();
  });

  // ---- lamps that run by themselves --------------------------------------------------------------------
  let clock = 0;
  function run(button) {
    clearInterval(clock);
    $$("button[data-hertz]").forEach((one) => one.setAttribute("aria-pressed", String(one === button)));
    const hertz = Number(button.dataset.hertz);
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    $("#status").textContent = still && hertz ? "Motion is reduced: the words below the lamps say how often each lights." : "";
    if (!hertz || still || hertz > 15) return;
    const begun = performance.now();
    clock = setInterval(() => {
      const half = Math.floor(((performance.now() - begun) / 1000) * 2 * hertz);
      for (const one of $$("[data-wave]")) {
        const level = one.dataset.wave[half % one.dataset.wave.length];
        draw($("svg", one), level === "1" ? "lit" : level === "0" ? "dark" : "not looked at");
      }
    }, Math.max(20, 250 / hertz));
  }

  // ---- news --------------------------------------------------------------------------------------------
  // A hidden tab lets its connection go, so that many tabs of one browser do not use up its connections.
  let news = null;
  let shown = null;
  // A button that is replaced between press and release is never clicked, so the page waits until it is let go.
  let held = false;
  let waiting = false;
  const hold = () => { held = true; };
  const letGo = () => setTimeout(() => {
    held = false;
    if (waiting) refresh();
    waiting = false;
  });
  for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, hold, true);
  for (const kind of ["pointerup", "pointercancel", "keyup"]) document.addEventListener(kind, letGo, true);
  window.addEventListener("blur", letGo);
  const dirty = (within) => $$("button.lamp-in", within).some((lamp) => field(lamp).value)
    || $$("input:not([type=hidden])", within).some((one) => one.value);
  // A part whose own attributes changed is another part too, such as what is to be said aloud.
  const plain = (one) => one.outerHTML.replace(/name="key" value="[^"]*"/g, "");
  // The advice follows the verdict that it is on: only what changed is put in place of what was there, so that whoever
  // writes, has opened something or stands somewhere else on the page is not disturbed.
  function piecewise(main, next) {
    const parts = $$("[data-part]", main);
    const others = $$("[data-part]", next);
    const named = (all) => all.map((one) => one.dataset.part).join(" ");
    if (!parts.length || named(parts) !== named(others)) return false;
    parts.forEach((part, at) => {
      if (plain(part) === plain(others[at]) || dirty(part) || $("details[open]", part)) return;
      replace(part, others[at]);
    });
    return true;
  }
  function replace(old, fresh) {
    const focus = old.contains(document.activeElement) && document.activeElement.id;
    old.replaceWith(fresh);
    if (focus && document.getElementById(focus)) document.getElementById(focus).focus();
  }
  // A later answer may overtake an earlier one, which is then old.
  let asked = 0;
  async function refresh() {
    const mine = ++asked;
    const answer = await fetch(location.href, { headers: { accept: "text/html" } });
    if (!answer.ok) return;
    const next = $("main", new DOMParser().parseFromString(await answer.text(), "text/html"));
    const main = $("main");
    if (mine !== asked) return;
    if (held) {
      waiting = true;
      return;
    }
    if (!next || plain(next) === plain(main)) return;
    const same = next.dataset.after === main.dataset.after;
    const said = $$("[data-say]", next).map((one) => one.textContent).join(" ") || ($("h1", next) || next).textContent;
    if (!same || !piecewise(main, next)) {
      if (same && (dirty(main) || $("details[open]", main))) return;
      replace(main, next);
    }
    local();
    $("#status").textContent = said;
  }
  function listen() {
    if (document.hidden) {
      if (news) news.close();
      news = null;
      return;
    }
    if (news || !$("main[data-live]")) return;
    news = new EventSource("/live");
    news.onmessage = (event) => {
      if (shown !== event.data) refresh();
      shown = event.data;
    };
    news.onerror = () => { $("#status").textContent = "The program does not answer. What was shown as taken is stored; start it again to go on."; };
    news.onopen = () => { $("#status").textContent = ""; };
  }
  function local() {
    for (const one of $$("time[datetime]")) {
      const at = new Date(one.dateTime);
      if (!isNaN(at)) one.textContent = at.toLocaleString(undefined, { dateStyle: "short", timeStyle: "medium" });
    }
  }
  document.addEventListener("visibilitychange", listen);
  keysOn(single());
  local();
  listen();
})();
