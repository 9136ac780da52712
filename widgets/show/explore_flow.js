// Stands behind canvas.js: figures, arrows and moving water on the drawing that stands.
// Marks of moving water are round beads with a dark rim, larger than the pipe, so that nobody takes them for the dashes of a return.
const NS = "http://www.w3.org/2000/svg", GAP = 30, PIXELS_A_METRE = 45, MOST = 110, LEAST = 5;

function svgNode(kind, attributes) {
  const node = document.createElementNS(NS, kind);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  return node;
}

function renderFlowing({ model, el }) {
  const stop = render({ model, el });
  const reduce = window.matchMedia("(prefers-reduced-motion: reduce)");
  let moving = model.get("motion") && !reduce.matches;
  let rows = new Map(), last = 0, frameId = 0;

  const row = make("label", "lb-motion"), box = make("input");
  box.type = "checkbox";
  row.append(box, " Moving water: beads go where the water goes, and as fast");
  el.querySelector(".lb-below").after(row);
  // What the reader switches holds for the drawing beside this one, too.
  box.addEventListener("change", () => {
    moving = box.checked;
    water();
    send(model, { motion: moving });
  });
  const switched = () => { moving = model.get("motion"); water(); };
  const wished = () => { if (reduce.matches) { moving = false; water(); } };
  reduce.addEventListener("change", wished);

  function lay() {
    const svg = el.querySelector(".lb-frame svg");
    rows = new Map();
    if (!svg) return;
    svg.querySelectorAll(".lb-laid").forEach(old => old.remove());
    const ground = svg.querySelector(".layer-tints")?.parentNode ?? svg;
    const beads = svgNode("g", { class: "lb-laid lb-beads", "aria-hidden": "true" });
    const figures = svgNode("g", { class: "lb-laid layer-figures" });
    const warm = svgNode("g", { class: "lb-laid layer-temperatures" });
    for (const [name, spot] of Object.entries(model.get("spots"))) {
      const now = { spot, lines: [], at: 0, speed: 0 };
      for (const { d, along } of spot.paths) {
        const two = [svgNode("path", { d, class: "lb-bead-rim" }), svgNode("path", { d, class: "lb-bead" })];
        beads.append(...two);
        now.lines.push({ two, way: along ? 1 : -1 });
      }
      if (spot.arrow) {
        now.arrow = svgNode("path", { class: "b lb-arrow", d: "M-6 -5L7 0L-6 5Z" });
        figures.append(now.arrow);
      }
      if (spot.fits) {
        now.text = svgNode("text", { class: "fig", x: spot.x, y: spot.y, "text-anchor": "middle", "font-size": 11 });
        now.text.dataset.figure = name;
        (spot.arrow ? figures : warm).append(now.text);
      }
      rows.set(name, now);
    }
    ground.append(beads, figures, warm);
    patch();
  }

  function patch() {
    for (const [name, { text, still, speed }] of Object.entries(model.get("patch"))) {
      const now = rows.get(name);
      if (!now) continue;
      now.speed = speed ?? 0;
      if (now.text && now.text.textContent !== text) now.text.textContent = text;
      if (now.arrow) {
        const [x, y] = now.spot.arrow;
        now.arrow.setAttribute("transform", `translate(${x} ${y}) rotate(${now.spot.turn + (now.speed < 0 ? 180 : 0)})`);
        now.arrow.style.display = still ? "none" : "";
      }
    }
    water();
  }

  function water() {
    box.checked = moving;
    const svg = el.querySelector(".lb-frame svg");
    if (svg) svg.dataset.moving = moving ? "yes" : "no";
    for (const now of rows.values()) {
      const show = moving && now.speed !== 0 ? "" : "none";
      for (const { two } of now.lines) for (const path of two) path.style.display = show;
    }
    if (moving && !frameId) { last = 0; frameId = requestAnimationFrame(step); }
  }

  function step(time) {
    frameId = 0;
    if (!moving || !el.isConnected) return;
    const seconds = last ? Math.min((time - last) / 1000, 0.1) : 0;
    last = time;
    for (const now of rows.values()) {
      if (!now.speed) continue;
      const pace = Math.sign(now.speed) * Math.max(LEAST, Math.min(MOST, Math.abs(now.speed) * PIXELS_A_METRE));
      now.at = (now.at - pace * seconds) % GAP;
      for (const { two, way } of now.lines) for (const path of two) path.style.strokeDashoffset = now.at * way;
    }
    frameId = requestAnimationFrame(step);
  }

  const unfollow = follow(model, [[lay, "svg spots"], [patch, "patch"], [switched, "motion"]]);
  lay();
  return () => {
    moving = false;
    cancelAnimationFrame(frameId);
    reduce.removeEventListener("change", wished);
    unfollow();
    stop();
  };
}

export default { render: renderFlowing };
