"use strict";
/* The columns of pictures, one for each element. A column stays in place while only what it shows changes; a picture is
   painted again only where it differs from the one on the screen. */
const Columns = (() => {
  const $ = (id) => document.getElementById(id);
  const MADE = `<div class="head"><h2></h2><button type="button" class="edit">change</button></div>
    <div class="rule"></div><p class="band"></p><p class="hides"></p><p class="verdict"></p>
    <div class="frame"><canvas role="img"></canvas><i class="hair"></i></div><div class="reasons"></div>
    <div class="whole frame"><canvas aria-hidden="true"></canvas><i class="hair"></i></div>`;

  /* how: why (the server's definitions), explained (makes a thing say what it is), look (colours and type), theme,
     edit (called with a column's number). */
  function show(message, how) {
    const place = $("columns"), many = message.elements.length, small = innerWidth < 800;
    place.classList.toggle("four", many > 3);
    place.style.gridTemplateColumns = `repeat(${small && many > 3 ? 2 : many}, minmax(0, 1fr))`;
    while (place.children.length > many) place.lastChild.remove();
    while (place.children.length < many) {
      const made = document.createElement("article"), index = place.children.length;
      made.className = "column";
      made.innerHTML = MADE;
      made.querySelector(".edit").onclick = () => how.edit(index);
      place.append(made);
    }
    message.elements.forEach((element, i) => words(place.children[i], element, how));
    if (message.zone) paint(place, message, how);
    else place.querySelectorAll("canvas").forEach((canvas) => { canvas.drawn = ""; canvas.across = null; });
  }

  function words(made, element, how) {
    const colour = element.colour[how.theme], put = (selector, text) => { made.querySelector(selector).textContent = text; };
    put("h2", element.name);
    made.querySelector("h2").style.color = colour;
    made.querySelector(".edit").setAttribute("aria-label", `change ${element.name}`);
    const rule = made.querySelector(".rule"), dashes = element.dashes;
    rule.style.borderTopColor = colour;
    rule.style.borderTopStyle = dashes.length === 0 ? "solid" : dashes[0] > 2 ? "dashed" : "dotted";
    put(".band", `${element.band}, ${element.beam}`);
    how.explained(made.querySelector(".band"), "Beam", how.why.beam);
    put(".hides", element.hides);
    made.querySelector(".hides").style.color = colour;
    how.explained(made.querySelector(".hides"), "Hidden at the edge", how.why.edge_height);
    made.querySelector(".verdict").replaceChildren();
    if (element.verdict) {
      const small = document.createElement("small");
      small.textContent = element.chance ? ` separated, ${element.chance}` : " separated";
      made.querySelector(".verdict").append(element.verdict, small);
      how.explained(small, "Separated", `${how.why.in_pass} ${how.why.separated}`);
    }
    made.querySelector("canvas").setAttribute("aria-label", `Echogram of ${element.name}: ${element.verdict || "no single fish"}`);
    made.querySelector(".reasons").replaceChildren(...(element.reasons || []).map((reason) => {
      const row = document.createElement("p"), bold = document.createElement("b"), text = document.createElement("span");
      bold.textContent = reason.fish + ": ";
      text.textContent = reason.text;
      if (reason.why) how.explained(text, "One arch", reason.why);
      row.append(bold, text);
      return row;
    }));
  }

  /* The height at which everything ends above the foot of the page; the same as long as the page has the same parts. */
  let fitted = { key: "", height: 0 };
  function fitting(place, message) {
    const style = getComputedStyle(document.body), type = parseFloat(style.getPropertyValue("--type"));
    const key = [innerWidth, innerHeight, type, message.elements.length, message.title].join();
    if (fitted.key !== key) {
      const low = innerHeight - document.querySelector("footer").offsetHeight, other = place.offsetHeight - place.querySelector("canvas").offsetHeight;
      const after = $("certainty").offsetHeight + $("key").offsetHeight + ($("shares").childElementCount ? 0 : 3.2 * type);
      const free = low - (place.getBoundingClientRect().top + scrollY) - other - after - 24;
      fitted = { key, height: Math.round(Math.max(150, Math.min(620, free))) };
    }
    return fitted.height;
  }

  /* All sizes are read before anything is painted, so the browser lays the page out once. */
  function paint(place, message, how) {
    const large = document.body.classList.contains("large"), small = innerWidth < 800, look = how.look;
    const height = small ? (large ? 260 : 190) : fitting(place, message), unit = message.zone.unit, todo = [];
    message.elements.forEach((element, i) => {
      const [chip, whole] = place.children[i].querySelectorAll("canvas"), named = i === 0 || !small;
      todo.push([chip, element.chip, message.zone, { height, named, marks: element.marks, hidden: element.hidden || 0,
        colour: element.colour[how.theme] }]);
      if (!small) todo.push([whole, element.water, { across: element.water.across, flat: false, unit }, { height: large ? 100 : 80, named }]);
    });
    const widths = todo.map(([canvas]) => canvas.clientWidth || 220);
    todo.forEach(([canvas, picture, zone, options], i) => {
      const key = JSON.stringify([widths[i], devicePixelRatio, look.font, look.panel, zone, { ...picture, cells: 0 }, options]);
      if (canvas.drawn === key && canvas.cells === picture.cells) return;
      Object.assign(canvas, { drawn: key, cells: picture.cells });
      Draw.chip(canvas, picture, zone, look, { ...options, width: widths[i] });
    });
  }

  return { show };
})();
