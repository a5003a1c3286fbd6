"use strict";
/* The bench: sends what a person changes, draws what comes back. Physics, measures and words are the server's. */
(() => {
  const $ = (id) => document.getElementById(id);
  const view = { hello: null, shown: null, serial: 0, looked: 0, answered: 0, socket: null, sending: null, waiting: null, tries: 0 };
  const kept = (name) => { try { return localStorage.getItem("bench-" + name); } catch { return null; } };
  const keep = (name, value) => { try { localStorage.setItem("bench-" + name, value); } catch { /* private window */ } };

  // ---- the channel -------------------------------------------------------------------------------------------
  function connect() {
    const socket = view.socket = new WebSocket(location.href.replace(/^http/, "ws").replace(/[#?].*$/, "") + "live");
    socket.onopen = () => { view.tries = 0; $("lost").hidden = true; };
    socket.onmessage = (event) => received(JSON.parse(event.data));
    socket.onclose = (event) => {
      $("lost").hidden = false;
      if (event.code !== 1013 && view.tries++ < 60) setTimeout(connect, 1000);
    };
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
    send({ do: "change", set });
  }

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
    explained($("sure"), "Over passes", message.why.pass_separated);
    const list = $("list");
    list.replaceChildren(...message.moments.map((m, i) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = `${i + 1}  ${m.title}`;
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
    $("units").textContent = message.units === "m" ? "m (feet)" : "feet (m)";
    document.title = `${message.title} - Pingwright bench`;
    columns(message);
    Stage.show(message, theme(), change);
    knobs(message);
    moment(message);
  }

  function picture(message) {
    drawn(message);
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

  function columns(message) {
    const place = $("columns"), many = message.elements.length;
    place.style.gridTemplateColumns = `repeat(${innerWidth < 800 && many > 3 ? 2 : many}, minmax(0, 1fr))`;
    place.replaceChildren(...message.elements.map((element, i) => column(element, message, i)));
    const height = document.body.classList.contains("large") ? Math.max(300, innerHeight - 680) : innerWidth < 800 ? 190 : Math.max(200, Math.min(560, innerHeight - 500));
    message.elements.forEach((element, i) => {
      const made = place.children[i], [chip, whole] = made.querySelectorAll("canvas");
      if (!message.zone) return;
      const axis = i === 0 || innerWidth >= 800 ? 34 : 6;
      Draw.chip(chip, element.chip, message.zone, look(), { height, axis, marks: element.marks, hidden: element.hidden || 0,
        colour: element.colour[theme()] });
      const water = { across: element.water.across, flat: false, unit: message.zone.unit };
      Draw.chip(whole, element.water, water, look(), { height: 80, axis });
    });
  }

  function column(element, message, index) {
    const made = document.createElement("article");
    made.className = "column";
    const own = message.own[index], colour = element.colour[theme()];
    made.innerHTML = `<div class="head"><h2></h2><details><summary>change</summary><div class="menu"></div></details></div>
      <div class="rule"></div><p class="band"></p><p class="hides"></p><p class="verdict"></p>
      <div class="frame"><canvas role="img"></canvas><i class="hair"></i></div><div class="reasons"></div><div class="whole frame"><canvas aria-hidden="true"></canvas><i class="hair"></i></div>`;
    const put = (selector, text) => { made.querySelector(selector).textContent = text; };
    put("h2", element.name);
    made.querySelector("h2").style.color = colour;
    const rule = made.querySelector(".rule");
    rule.style.borderTopColor = colour;
    rule.style.borderTopStyle = element.dashes.length === 0 ? "solid" : element.dashes[0] > 2 ? "dashed" : "dotted";
    put(".band", `${element.band}, ${element.beam}`);
    put(".hides", element.hides);
    made.querySelector(".hides").style.color = colour;
    explained(made.querySelector(".band"), "Beam", view.hello.why.beam);
    if (element.hides) explained(made.querySelector(".hides"), "Hidden at the edge", view.hello.why.edge_height);
    if (element.verdict) {
      const verdict = made.querySelector(".verdict"), small = document.createElement("small");
      small.textContent = element.chance ? ` separated, ${element.chance}` : " separated";
      verdict.textContent = element.verdict;
      verdict.appendChild(small);
      explained(small, "Separated", `${view.hello.why.in_pass} ${view.hello.why.separated}`);
    }
    made.querySelector("canvas").setAttribute("aria-label", `Echogram of ${element.name}: ${element.verdict || "no single fish"}`);
    for (const reason of element.reasons || []) {
      const row = document.createElement("p"), bold = document.createElement("b");
      bold.textContent = reason.fish + ": ";
      row.append(bold, reason.text);
      made.querySelector(".reasons").appendChild(row);
    }
    menu(made.querySelector(".menu"), own, message);
    return made;
  }

  function choice(name, values, value, act) {
    const label = document.createElement("label"), select = document.createElement("select");
    label.textContent = name + " ";
    for (const [key, text] of values) select.add(new Option(text, key, false, key === value));
    select.onchange = () => act(select.value);
    label.appendChild(select);
    return label;
  }

  function menu(place, own, message) {
    const key = `element.${own.number}`;
    const entries = view.hello.entries.map((e) => [e.use, e.name]);
    const powers = [...new Set([300, 600, 1000, 2000, own.power])].sort((a, b) => a - b).map((p) => [String(p), `${p} W`]);
    const swap = (use) => change({ [key]: { name: freshName(use.replace(/-/g, " "), message), use } });
    place.append(choice("Element", own.use ? entries : [["", "own"], ...entries], own.use, (use) => use && swap(use)));
    place.append(choice("Power", powers, String(own.power), (p) => change({ [`${key}.power`]: `${p} W` })));
    place.append(choice("Pulse", [["chirp", "chirp"], ["tone", "tone"]], own.tone ? "tone" : "chirp",
      (kind) => change({ [`${key}.pulse`]: kind === "tone" ? { tone: own.tone_at } : null })));
    if (message.own.length > 1) {
      const remove = document.createElement("button");
      remove.type = "button";
      remove.textContent = "Remove";
      remove.onclick = () => change({ [key]: null });
      place.append(remove);
    }
  }

  function freshName(wanted, message) {
    const names = message.own.map((e) => e.name);
    let name = wanted;
    for (let i = 2; names.includes(name); i++) name = `${wanted} ${i}`;
    return name;
  }

  // ---- knobs -------------------------------------------------------------------------------------------------
  const MORE = ["Slope across", "Slope along", "Own noise"];

  function knobs(message) {
    const wanted = [...message.knobs.sliders.map((k) => ["slider", k]), ...message.knobs.choices.map((k) => ["choice", k])];
    const active = document.activeElement;
    for (const place of ["knobs", "others"]) {
      const mine = wanted.filter(([, k]) => MORE.includes(k.name) === (place === "others"));
      const names = mine.map(([, k]) => k.key + k.unit).join();
      if ($(place).dataset.names === names) {
        mine.forEach(([, k], i) => { if (!$(place).children[i].contains(active)) $(place).children[i].update(k); });
        continue;
      }
      $(place).dataset.names = names;
      $(place).replaceChildren(...mine.map(([kind, k]) => (kind === "slider" ? slider(k) : list(k))));
    }
  }

  function named(knob, text) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "name";
    button.textContent = knob.name;
    explained(button, knob.name, text);
    return button;
  }

  /* What it means is shown when a number or its name is pressed, or chosen by key. */
  function explained(place, name, text) {
    place.classList.add("explained");
    if (place.tagName !== "BUTTON") { place.tabIndex = 0; place.setAttribute("role", "button"); }
    place.onclick = () => { $("why").textContent = `${name}: ${text}`; $("why").hidden = false; };
    if (place.tagName !== "BUTTON") place.onkeydown = (event) => {
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      event.stopPropagation();
      place.click();
    };
  }

  function slider(knob) {
    const made = document.createElement("div"), label = document.createElement("label");
    const number = document.createElement("input"), range = document.createElement("input"), unit = document.createElement("span");
    made.className = "knob";
    made.dataset.key = knob.key;
    number.type = "number";
    range.type = "range";
    range.min = 0;
    range.max = 1000;
    number.setAttribute("aria-label", `${knob.name} in ${knob.unit}`);
    range.setAttribute("aria-label", knob.name);
    unit.append(number, " " + knob.unit);
    label.append(named(knob, knob.why), unit);
    made.append(label, range);
    const log = knob.shape === "logarithmic", { low, high, step } = knob;
    const toValue = (p) => { const v = log ? low * (high / low) ** (p / 1000) : low + (high - low) * p / 1000;
      return v < 3 && log ? Math.round(v * 20) / 20 : Math.round(v / step) * step; };
    const toPlace = (v) => Math.round(1000 * (log ? Math.log(Math.max(v, low) / low) / Math.log(high / low) : (v - low) / (high - low)));
    const say = (v) => { number.value = +v.toPrecision(4); range.setAttribute("aria-valuetext", `${+v.toPrecision(4)} ${knob.unit}`); };
    const set = (v) => change({ [knob.key]: `${+v.toPrecision(4)} ${knob.unit}` });
    made.update = (k) => { say(k.value); range.value = toPlace(k.value); };
    range.oninput = () => { say(toValue(+range.value)); set(toValue(+range.value)); };
    range.onkeydown = (event) => {
      const sign = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1 }[event.key];
      if (!sign) return;
      event.preventDefault();
      const v = Math.min(Math.max(+number.value + sign * step * (event.shiftKey ? 10 : 1), low), high);
      say(v);
      range.value = toPlace(v);
      set(v);
    };
    number.onchange = () => { if (number.value !== "") { range.value = toPlace(+number.value); set(+number.value); } };
    made.update(knob);
    return made;
  }

  function list(knob) {
    const made = document.createElement("div"), label = document.createElement("label"), select = document.createElement("select");
    made.className = "knob";
    made.dataset.key = knob.key;
    select.setAttribute("aria-label", knob.name);
    knob.values.forEach((value, i) => select.add(new Option(knob.names[i], value)));
    select.onchange = () => change({ [knob.key]: select.value });
    label.append(named(knob, knob.why));
    made.append(label, select);
    made.update = (k) => { select.value = k.value; };
    made.update(knob);
    return made;
  }

  function refused(message) {
    $("refused").textContent = `${message.text}. Nothing was changed.`;
    $("refused").hidden = false;
    document.querySelectorAll(".column").forEach((c) => c.classList.remove("stale"));
    if (view.shown) { Stage.show(view.shown, theme(), change); knobs(view.shown); }
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

  function runPasses() {
    if ($("run").dataset.running) {
      $("run").dataset.running = "";
      $("run").textContent = "Run 64 passes";
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

  function pressed(event) {
    if (/INPUT|SELECT|TEXTAREA/.test(event.target.tagName) && event.target.type !== "range") return;
    const key = event.key.toLowerCase();
    if ((event.ctrlKey || event.metaKey) && key === "z") send({ do: event.shiftKey ? "redo" : "undo" });
    else if (event.ctrlKey || event.metaKey || event.altKey) return;
    else if (/^[0-9]$/.test(key) && view.hello) toMoment(key === "0" ? 9 : +key - 1);
    else if (key === "b") send({ do: "again" });
    else if (key === "r") runPasses();
    else if (key === " ") Stage.play();
    else if (key === "l") toggled("large");
    else if (key === "d") toggled("dark");
    else if (key === "escape") { folded(); $("why").hidden = true; }
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
    change({ [`element.${view.shown.own.length + 1}`]: { name: freshName(entry.name, view.shown), use: entry.use } });
  };
  $("save").onchange = () => { if ($("save").value) send({ do: "save", what: $("save").value }); $("save").value = ""; };
  $("open").onchange = () => { opened($("open").files[0]); $("open").value = ""; };
  $("play").onclick = () => Stage.play();
  $("run").onclick = runPasses;
  $("large").onclick = () => toggled("large");
  $("dark").onclick = () => toggled("dark");
  document.addEventListener("keydown", pressed);
  let resized = null;
  addEventListener("resize", () => { clearTimeout(resized); resized = setTimeout(() => view.shown && redrawn(), 150); });
  for (const name of ["large", "dark"]) if (kept(name)) { document.body.classList.add(name); $(name).setAttribute("aria-pressed", "true"); }
  connect();
  const waitScale = setInterval(() => { if (view.hello) { Draw.scale($("scale"), look().table); clearInterval(waitScale); } }, 50);
})();
