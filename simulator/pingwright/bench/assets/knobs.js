"use strict";
/* Sliders and lists for what the server says can be changed: those of the scene, or those of one element in their
   place; on a phone one at a time, at the foot of the screen. Also the words that say what a number is. */
const Knobs = (() => {
  const $ = (id) => document.getElementById(id);
  const state = { message: null, entries: [], change: null, element: -1, chosen: "", from: null };

  // ---- what a number is --------------------------------------------------------------------------------------
  /* What it means is shown beside a number or its name when it is pressed, or chosen by key. */
  function explained(place, name, text) {
    place.classList.add("explained");
    if (place.tagName !== "BUTTON") { place.tabIndex = 0; place.setAttribute("role", "button"); }
    place.onclick = () => why(place, `${name}: ${text}`);
    if (place.tagName !== "BUTTON") place.onkeydown = (event) => {
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      event.stopPropagation();
      place.click();
    };
  }

  function why(place, text) {
    const box = $("why"), by = place.getBoundingClientRect();
    box.textContent = text;
    box.hidden = false;
    state.from = place;
    const room = box.getBoundingClientRect(), edge = 8;
    const below = by.bottom + edge + room.height < innerHeight;
    box.style.left = `${Math.max(edge, Math.min(by.left, innerWidth - room.width - edge))}px`;
    box.style.top = `${Math.max(edge, below ? by.bottom + edge : by.top - room.height - edge)}px`;
  }

  function unsaid() { $("why").hidden = true; }

  document.addEventListener("pointerdown", (event) => { if (!event.target.closest("#why, .explained")) unsaid(); });
  addEventListener("scroll", unsaid, { passive: true });

  // ---- the scene's, or an element's ---------------------------------------------------------------------------
  function show(message, entries, change) {
    Object.assign(state, { message, entries, change });
    if (state.element >= message.own.length) state.element = -1;
    const folded = state.element >= 0, own = message.own[state.element];
    $("scene").hidden = folded;
    $("element").hidden = !folded;
    if (folded) {
      $("element-name").textContent = own.name;
      $("remove").hidden = message.own.length < 2;
      const name = { key: `element.${own.number}.name`, name: "Name", value: own.name, text: true,
        why: "Its name in the headline, the pictures and the saved file." };
      const use = { key: `element.${own.number}`, name: "Element", value: own.use, values: entries.map((e) => e.use),
        names: entries.map((e) => e.name), why: "Puts an element of the catalogue in this place. Band, beam, power and pulse can be changed afterwards.",
        set: (value) => swapped(own.number, value) };
      if (!own.use) { use.values = ["", ...use.values]; use.names = ["own", ...use.names]; }
      filled("own", [use, name, ...own.choices, ...own.sliders]);
    } else {
      const { sliders, choices } = message.knobs;
      filled("knobs", [...sliders, ...choices].filter((k) => !k.more));
      filled("others", [...choices, ...sliders].filter((k) => k.more));
    }
    dock();
  }

  function swapped(number, use) {
    if (use) state.change({ [`element.${number}`]: { name: freshName(use.replace(/-/g, " "), number), use } });
  }

  function freshName(wanted, except) {
    const names = state.message.own.filter((e) => e.number !== except).map((e) => e.name);
    let name = wanted;
    for (let i = 2; names.includes(name); i++) name = `${wanted} ${i}`;
    return name;
  }

  function edit(index) {
    state.element = index;
    show(state.message, state.entries, state.change);
    if (index >= 0) $("own").querySelector("select, input").focus({ preventScroll: innerWidth > 800 });
  }

  function filled(place, wanted) {
    const names = wanted.map((k) => k.key + k.unit + k.place + (k.values || "")).join(), active = document.activeElement;
    if ($(place).dataset.names === names) {
      wanted.forEach((k, i) => { if (!$(place).children[i].contains(active) || active.type === "range") $(place).children[i].update(k); });
      return;
    }
    $(place).dataset.names = names;
    $(place).replaceChildren(...wanted.map((k) => (k.values ? list : k.text ? text : slider)(k)));
  }

  // ---- a knob -------------------------------------------------------------------------------------------------
  function knobOf(knob) {
    const made = document.createElement("div"), label = document.createElement("label"), button = document.createElement("button");
    made.className = "knob";
    made.dataset.key = knob.key;
    made.dataset.name = knob.name;
    button.type = "button";
    button.className = "name";
    button.textContent = knob.name;
    explained(button, knob.name, knob.why);
    label.append(button);
    made.append(label);
    return [made, label];
  }

  function slider(first) {
    let knob = first;
    const [made, label] = knobOf(knob), number = document.createElement("input"), range = document.createElement("input");
    const unit = document.createElement("span"), row = document.createElement("div");
    number.type = "number";
    number.step = "any";
    range.type = "range";
    range.min = 0;
    range.max = 1000;
    number.setAttribute("aria-label", `${knob.name} in ${knob.unit}`);
    range.setAttribute("aria-label", knob.name);
    unit.append(number, " " + knob.unit);
    label.append(unit);
    const log = knob.shape === "logarithmic", { low, high, step } = knob;
    const clean = (v) => +v.toPrecision(4), held = (v) => Math.min(Math.max(v, low), high);
    const toValue = (p) => { const v = log ? low * (high / low) ** (p / 1000) : low + (high - low) * p / 1000;
      return v < 3 && log ? Math.round(v * 20) / 20 : held(Math.round(v / step) * step); };
    const toPlace = (v) => Math.round(1000 * (log ? Math.log(held(v) / low) / Math.log(high / low) : (held(v) - low) / (high - low)));
    const say = (v) => { number.value = clean(v); range.setAttribute("aria-valuetext", `${clean(v)} ${knob.unit}`); };
    const set = (v) => {
      const value = `${clean(v)} ${knob.unit}`;
      state.change({ [knob.key]: knob.pair ? knob.pair.map((old, i) => (i === knob.place ? value : old)) : value });
      chips();
    };
    const to = (v) => { say(v); range.value = toPlace(v); set(v); };
    const by = (steps) => to(held(+number.value + steps * (log && +number.value + steps * step < 3 * step ? Math.min(step, 0.1) : step)));
    made.update = (k) => { knob = k; say(k.value); range.value = toPlace(k.value); };
    made.shown = () => knob;
    made.reading = () => `${number.value} ${knob.unit}`;
    range.oninput = () => { say(toValue(+range.value)); set(toValue(+range.value)); };
    range.onkeydown = (event) => {
      const sign = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1 }[event.key];
      if (!sign) return;
      event.preventDefault();
      by(sign * (event.shiftKey ? 10 : 1));
    };
    number.onchange = () => { if (number.value !== "") { range.value = toPlace(+number.value); set(+number.value); } };
    row.className = "row";
    row.append(step_("\u2212", `less ${knob.name}`, () => by(-1)), range, step_("+", `more ${knob.name}`, () => by(1)));
    made.append(row);
    made.update(knob);
    return made;
  }

  function step_(sign, name, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "step";
    made.textContent = sign;
    made.setAttribute("aria-label", name);
    made.onclick = act;
    return made;
  }

  function list(knob) {
    const [made] = knobOf(knob), select = document.createElement("select");
    select.setAttribute("aria-label", knob.name);
    knob.values.forEach((value, i) => select.add(new Option(knob.names[i], value)));
    select.onchange = () => { (knob.set || ((value) => state.change({ [knob.key]: value })))(select.value); chips(); };
    made.append(select);
    made.update = (k) => { knob = k; select.value = k.value; };
    made.reading = () => (select.selectedOptions[0] || { text: "" }).text;
    made.update(knob);
    return made;
  }

  function text(knob) {
    const [made] = knobOf(knob), field = document.createElement("input");
    field.type = "text";
    field.maxLength = 40;
    field.setAttribute("aria-label", knob.name);
    field.onchange = () => { if (field.value.trim()) state.change({ [knob.key]: field.value.trim() }); };
    made.append(field);
    made.update = (k) => { knob = k; field.value = k.value; };
    made.reading = () => field.value;
    made.update(knob);
    return made;
  }

  // ---- one at a time, at the foot of a phone --------------------------------------------------------------------
  const shown = () => [...document.querySelectorAll(state.element >= 0 ? "#own .knob" : "#knobs .knob, #others .knob")];

  function dock() {
    const all = shown(), chosen = all.find((k) => k.dataset.name === state.chosen) || all[0];
    if (!chosen) return;
    state.chosen = chosen.dataset.name;
    document.querySelectorAll(".knob").forEach((k) => k.classList.toggle("chosen", k === chosen));
    const old = [...$("chips").children];
    if (old.map((c) => c.dataset.name).join() !== all.map((k) => k.dataset.name).join()) {
      $("chips").replaceChildren(...all.map((k) => {
        const chip = document.createElement("button");
        chip.type = "button";
        chip.dataset.name = k.dataset.name;
        chip.append(`${k.dataset.name} `, document.createElement("b"));
        chip.onclick = () => { state.chosen = k.dataset.name; dock(); };
        return chip;
      }));
    }
    chips();
  }

  function chips() {
    const all = shown();
    [...$("chips").children].forEach((chip, i) => {
      if (!all[i]) return;
      chip.querySelector("b").textContent = all[i].reading();
      chip.setAttribute("aria-pressed", String(chip.dataset.name === state.chosen));
    });
  }

  return { show, edit, explained, unsaid, freshName, editing: () => state.element >= 0 };
})();
