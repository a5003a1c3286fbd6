"use strict";
/* The bench: sends what a person changes, draws what comes back. Physics, measures and words are the server's. */
(() => {
  const $ = (id) => document.getElementById(id);
  const view = { hello: null, shown: null, serial: 0, gesture: 0, looked: 0, answered: 0, socket: null, sending: null, waiting: null, tries: 0 };
  const kept = (name) => { try { return localStorage.getItem("bench-" + name); } catch { return null; } };
  const keep = (name, value) => { try { localStorage.setItem("bench-" + name, value); } catch { /* private window */ } };

  // ---- the channel -------------------------------------------------------------------------------------------
  /* A reload, or a connection that comes back, continues with this tab's scene; an address typed anew begins afresh. */
  function tab() {
    const [visit] = performance.getEntriesByType("navigation");
    let name = null;
    try {
      name = visit && visit.type !== "navigate" ? sessionStorage.getItem("bench-tab") : null;
      name = name || Array.from(crypto.getRandomValues(new Uint32Array(4)), (n) => n.toString(36)).join("");
      sessionStorage.setItem("bench-tab", name);
    } catch { /* private window */ }
    return name || "";
  }

  function connect() {
    view.tab = view.tab || tab();
    const address = location.href.replace(/^http/, "ws").replace(/[#?].*$/, "");
    const socket = view.socket = new WebSocket(`${address}live?tab=${view.tab}`);
    socket.onopen = () => { view.tries = 0; };
    socket.onmessage = (event) => received(JSON.parse(event.data));
    socket.onclose = (event) => lost(event.code === 1013 ? event.reason : "");
  }

  function lost(reason) {
    $("lost").textContent = reason || "The bench does not answer. You see the last pictures. Trying again."
      + (view.tries > 10 ? " Is it stopped? Start it again: pingwright bench" : "");
    $("lost").hidden = false;
    $("water").inert = true;
    view.waiting = null;
    view.answered = view.serial;
    clearTimeout(view.sending);
    $("busy").classList.remove("on");
    if (!reason && view.tries++ < 600) setTimeout(connect, 1000);
  }

  function send(message) {
    if (view.socket.readyState !== WebSocket.OPEN) return;
    message.serial = ++view.serial;
    view.socket.send(JSON.stringify(message));
    if (!["passes", "stop", "save"].includes(message.do)) stale();
    clearTimeout(view.sending);
    view.sending = setTimeout(() => $("busy").classList.add("on"), 300);
  }

  /* Until a change has a first look or an answer, only the newest of the next ones is kept. */
  function change(set) {
    if (view.serial > Math.max(view.answered, view.looked)) { view.waiting = { ...view.waiting, ...set }; return; }
    send({ do: "change", set, gesture: view.gesture });
  }

  const choose = (entry) => send({ do: "group", entry });

  /* What was true before a change is grey until the answer to it is there. */
  function stale() {
    document.querySelectorAll(".column").forEach((c) => c.classList.add("stale"));
    $("certainty").querySelectorAll(".share").forEach((s) => s.remove());
  }

  function settled(serial) {
    view.answered = Math.max(view.answered, serial || 0);
    if (view.answered < view.serial) return;
    clearTimeout(view.sending);
    $("busy").classList.remove("on");
    next();
  }

  function next() {
    if (view.waiting) { const set = view.waiting; view.waiting = null; change(set); }
  }

  /* Some pings of a changed scene, before all of them: drawn, but nothing is counted yet, so all of it stays grey. */
  function glimpse(message) {
    drawn(message);
    stale();
    view.looked = message.serial;
    document.body.dataset.looked = message.serial;
    if (message.every) document.body.dataset.drawn = message.serial;
    next();
  }

  const redrawn = () => (view.shown.kind === "look" ? glimpse : picture)({ ...view.shown });

  function received(message) {
    if (message.kind === "hello") hello(message);
    else if (message.kind === "look") glimpse(message);
    else if (message.kind === "picture") picture(message);
    else if (message.kind === "certainty") certainty(message);
    else if (message.kind === "refused") { refused(message); settled(message.serial); }
    else if (message.kind === "file") { download(message); settled(message.serial); }
  }

  function hello(message) {
    view.hello = message;
    $("caution").textContent = message.caution;
    $("lost").hidden = true;
    $("water").inert = false;
    const { why } = message, explained = Knobs.explained;
    explained($("sure"), "Over passes", why.pass_separated);
    explained($("key-separated"), "Separated", why.separated);
    explained($("key-merged"), "Merged", why.merged);
    explained($("key-not-shown"), "Not shown", `Not detected in its pass; the line under the picture says why. ${why.in_pass}`);
    explained($("key-hidden"), "Hidden at the edge", why.edge_height);
    explained($("key-echo"), "Echo", `The colours run from ${message.tables.limits.join(" to ")} dB re 1 m2 of echo strength. Weaker echoes stay blank.`);
    const list = $("list");
    list.replaceChildren(...message.moments.map((m, i) => {
      const button = document.createElement("button");
      button.type = "button";
      const title = document.createElement("b"), line = document.createElement("span");
      title.textContent = `${i + 1}  ${m.title}`;
      line.textContent = `Try: ${m.try}`;
      button.append(title, line);
      button.onclick = () => { toMoment(i); folded(); };
      return button;
    }));
  }

  // ---- what is shown -----------------------------------------------------------------------------------------
  const dark = () => document.body.classList.contains("dark");
  const theme = () => (dark() ? "dark" : "light");

  function look() {
    const style = getComputedStyle(document.body), get = (name) => style.getPropertyValue(name).trim();
    return { table: view.hello.tables[theme()], panel: get("--panel"), ink: get("--ink"), halo: get("--paper"),
      font: `${parseFloat(get("--least"))}px system-ui, "DejaVu Sans", sans-serif` };
  }

  function drawn(message) {
    view.shown = message;
    $("refused").hidden = true;
    $("answer").replaceChildren(...message.answer.map((run) => {
      const span = document.createElement("span");
      span.textContent = run.text;
      if (run.element !== null) span.style.color = message.elements[run.element].colour[theme()];
      return span;
    }));
    $("line").textContent = `${message.title}, ${message.line}`;
    const notes = message.warnings;
    $("notes").hidden = !notes.length;
    $("notes").textContent = `${notes.length} ${notes.length === 1 ? "note" : "notes"}`;
    Knobs.explained($("notes"), "Of this scene", notes.join(" "));
    $("key-hidden").hidden = !(message.zone && message.zone.flat);
    $("units").textContent = message.units === "m" ? "m (feet)" : "feet (m)";
    document.title = `${message.title} - Pingwright bench`;
    Columns.show(message, { why: view.hello.why, explained: Knobs.explained, look: look(), theme: theme(), edit: Knobs.edit });
    Stage.show(message, theme(), change, choose);
    Knobs.show(message, view.hello.entries, change);
    $("add").disabled = message.own.length >= 4;
    moment(message);
  }

  function picture(message) {
    drawn(message);
    document.querySelectorAll(".column").forEach((c) => c.classList.remove("stale"));
    clearTimeout(view.speaking);
    view.speaking = setTimeout(() => { $("spoken").textContent = $("answer").textContent; }, 600);
    $("certainty").hidden = !(message.zone && message.zone.group);
    $("run").disabled = false;
    $("run").textContent = "Run 64 passes";
    $("sure").textContent = "Fish separated from the bottom: one pass shown";
    $("shares").replaceChildren();
    settled(message.serial);
    if (view.answered < view.serial) stale(); // a newer change is under way
    document.body.dataset.ready = "yes";
    document.body.dataset.serial = message.serial;
  }

  function refused(message) {
    if ($("run").dataset.running) unrun();
    $("refused").textContent = `${message.text}. Nothing was changed.`;
    $("refused").hidden = false;
    document.querySelectorAll(".column").forEach((c) => c.classList.remove("stale"));
    if (view.shown) { Stage.show(view.shown, theme(), change, choose); Knobs.show(view.shown, view.hello.entries, change); }
  }

  // ---- passes ------------------------------------------------------------------------------------------------
  function certainty(message) {
    if (!view.shown || message.serial < view.answered) return;
    const place = $("shares"), elements = view.shown.elements, done = message.done >= message.of;
    view.answered = Math.max(view.answered, message.serial);
    clearTimeout(view.sending);
    $("busy").classList.remove("on");
    $("sure").textContent = `Fish separated from the bottom, over passes: ${message.done} of ${message.of}${done ? "" : " so far"}, 95 % interval`;
    $("run").textContent = done ? "Run 256 passes" : "Stop";
    $("run").dataset.running = done ? "" : "yes";
    place.style.gridTemplateColumns = `repeat(${elements.length}, minmax(0, 1fr))`;
    place.replaceChildren(...message.elements.map((share, i) => {
      const made = document.createElement("div"), words = document.createElement("p"), bar = document.createElement("div");
      const colour = elements[i].colour[theme()], bold = document.createElement("b");
      made.className = "share";
      bold.textContent = share.text || "";
      Knobs.explained(bold, "Over passes", view.hello.why.pass_separated);
      words.append(bold, ` ${share.hits} of ${share.fish}`);
      bar.className = "whisker";
      if (share.text) {
        const span = document.createElement("i"), dot = document.createElement("b");
        span.style.left = `${100 * share.low}%`;
        span.style.width = `${100 * (share.high - share.low)}%`;
        span.style.background = dot.style.background = colour;
        dot.style.left = `${100 * share.value}%`;
        bar.append(span, dot);
      }
      made.append(words, bar);
      return made;
    }));
    document.body.dataset.passes = message.done;
  }

  function unrun() {
    $("run").dataset.running = "";
    $("run").textContent = "Run 64 passes";
  }

  function runPasses() {
    if ($("certainty").hidden) return;
    if ($("run").dataset.running) {
      unrun();
      send({ do: "stop" });
      settled(view.serial);
      return;
    }
    const count = $("run").textContent.includes("256") ? 256 : 64;
    $("run").dataset.running = "yes";
    $("run").textContent = "Stop";
    send({ do: "passes", count });
  }

  // ---- moments, files, keys ----------------------------------------------------------------------------------
  function moment(message) {
    const all = view.hello.moments, here = message.moment, shown = all[here];
    $("which").textContent = here < 0 ? "your scene" : `${here + 1} of ${all.length}${message.changed ? " \u2022" : ""}`;
    $("again").hidden = !message.changed;
    $("moment").replaceChildren();
    if (!shown) return;
    const title = document.createElement("b"), hint = document.createElement("b");
    title.textContent = shown.title + ". ";
    hint.textContent = " Try: ";
    $("moment").append(title, shown.text, hint, shown.try);
  }

  function toMoment(number) {
    const all = view.hello.moments.length;
    send({ do: "moment", number: (number + all) % all });
  }

  function folded() { $("list").hidden = true; $("all").setAttribute("aria-expanded", "false"); }

  function download(message) {
    const text = atob(message.data), bytes = Uint8Array.from(text, (c) => c.charCodeAt(0));
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([bytes], { type: message.mime }));
    link.download = message.name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    document.body.dataset.saved = message.name;
  }

  async function opened(file) {
    if (!file) return;
    if (file.size > view.hello.largest) {
      refused({ text: `${file.name} is too large to be sent to the bench. Start the bench with it: pingwright bench ${file.name}` });
      return;
    }
    const bytes = new Uint8Array(await file.arrayBuffer());
    let text = "";
    for (let i = 0; i < bytes.length; i += 8192) text += String.fromCharCode(...bytes.subarray(i, i + 8192));
    send({ do: "open", name: file.name, data: btoa(text) });
  }

  function toggled(name) {
    const on = document.body.classList.toggle(name);
    $(name).setAttribute("aria-pressed", String(on));
    keep(name, on ? "yes" : "");
    if (view.shown) { Draw.scale($("scale"), look().table); redrawn(); }
  }

  /* Esc closes what is open, the topmost first. */
  function escaped() {
    if (!$("why").hidden) Knobs.unsaid();
    else if (!$("list").hidden) folded();
    else if (Knobs.editing()) Knobs.edit(-1);
    else $("more").open = false;
  }

  function pressed(event) {
    if (/INPUT|SELECT|TEXTAREA/.test(event.target.tagName) && event.target.type !== "range") return;
    if (event.key === " " && event.target.closest("button, summary, label, [role=button]")) return;
    const key = event.key.toLowerCase();
    if ((event.ctrlKey || event.metaKey) && key === "z") send({ do: event.shiftKey ? "redo" : "undo" });
    else if (event.ctrlKey || event.metaKey || event.altKey) return;
    else if (/^[0-9]$/.test(key) && view.hello) toMoment(key === "0" ? 9 : +key - 1);
    else if (key === "b") send({ do: "again" });
    else if (key === "r") runPasses();
    else if (key === " ") Stage.play();
    else if (key === "l") toggled("large");
    else if (key === "d") toggled("dark");
    else if (key === "escape") escaped();
    else return;
    event.preventDefault();
  }

  $("back").onclick = () => toMoment((view.shown ? view.shown.moment : 0) - 1);
  $("next").onclick = () => toMoment((view.shown ? view.shown.moment : 0) + 1);
  $("again").onclick = () => send({ do: "again" });
  $("all").onclick = () => { $("list").hidden = !$("list").hidden; $("all").setAttribute("aria-expanded", String(!$("list").hidden)); };
  $("units").onclick = () => { const units = view.shown.units === "m" ? "ft" : "m"; keep("units", units); send({ do: "units", units }); };
  $("add").onclick = () => {
    if (!view.shown || view.shown.own.length >= 4) return;
    const used = view.shown.own.map((e) => e.use), entry = view.hello.entries.find((e) => !used.includes(e.use)) || view.hello.entries[0];
    change({ [`element.${view.shown.own.length + 1}`]: { name: Knobs.freshName(entry.name), use: entry.use } });
  };
  $("done").onclick = () => Knobs.edit(-1);
  $("remove").onclick = () => { const number = $("own").querySelector(".knob").dataset.key.split(".")[1]; Knobs.edit(-1); change({ [`element.${number}`]: null }); };
  $("menu").onclick = () => { const open = document.body.classList.toggle("menu"); $("menu").setAttribute("aria-expanded", String(open)); };
  $("save").onchange = () => { if ($("save").value) send({ do: "save", what: $("save").value }); $("save").value = ""; };
  $("open").onchange = () => { opened($("open").files[0]); $("open").value = ""; };
  $("play").onclick = () => Stage.play();
  $("single").onclick = () => Stage.oneByOne();
  $("run").onclick = runPasses;
  $("large").onclick = () => toggled("large");
  $("dark").onclick = () => toggled("dark");
  document.addEventListener("keydown", pressed);
  /* All changes of one drag, or of one press of a key, are one step back. */
  document.addEventListener("pointerdown", () => { view.gesture++; }, true);
  document.addEventListener("keydown", (event) => { if (!event.repeat) view.gesture++; }, true);
  let resized = null;
  addEventListener("resize", () => { clearTimeout(resized); resized = setTimeout(() => view.shown && redrawn(), 150); });
  for (const name of ["large", "dark"]) if (kept(name)) { document.body.classList.add(name); $(name).setAttribute("aria-pressed", "true"); }
  $("key").open = innerWidth >= 800;
  connect();
  const waitScale = setInterval(() => { if (view.hello) { Draw.scale($("scale"), look().table); clearInterval(waitScale); } }, 50);
})();
