// A drawing that can be pointed at. The SVG is put in once; highlights are patched onto it.
const STYLES = ["look", "right", "wrong"];

function nameOf(group) { return group.dataset.tag ?? group.dataset.run ?? group.dataset.for; }

// What can run or fetch has no place in a drawing, whoever made it.
function clean(svg) {
  for (const node of [svg, ...svg.querySelectorAll("*")]) {
    if (["script", "foreignobject", "iframe", "image"].includes(node.localName.toLowerCase())) { node.remove(); continue; }
    for (const { name, value } of [...node.attributes]) {
      const key = name.toLowerCase();
      if (key.startsWith("on") || (key.endsWith("href") && !value.startsWith("#"))) node.removeAttribute(name);
    }
  }
}

function render({ model, el }) {
  el.classList.add("loopbook", "lb-canvas");
  const frame = make("div", "lb-frame"), caption = make("div", "lb-caption");
  caption.setAttribute("aria-live", "polite");
  const words = make("details", "lb-words"), told = make("p");
  words.append(make("summary", "", "The drawing in words"), told);
  const zoom = button("lb-button lb-zoom", "", () => { large = !large; size(); light(); });
  const below = make("div", "lb-below");
  below.append(caption, zoom);
  el.append(frame, below, words);
  let natural = 800, large = window.innerWidth <= 480;
  let svg = null, names = [], first = new Map();

  const groups = () => (svg ? [...svg.querySelectorAll("[data-tag],[data-run]")] : []);

  function draw() {
    frame.replaceChildren();
    svg = null; names = []; first = new Map();
    const text = model.get("svg");
    if (!text) return;
    const parsed = new DOMParser().parseFromString(text, "image/svg+xml");
    if (parsed.querySelector("parsererror") || parsed.documentElement.localName !== "svg") {
      frame.textContent = "The drawing cannot be shown here; its description stands below.";
      return;
    }
    svg = document.importNode(parsed.documentElement, true);
    clean(svg);
    const box = svg.viewBox.baseVal;
    const width = (box && box.width) || parseFloat(svg.getAttribute("width")) || 800;
    const height = (box && box.height) || parseFloat(svg.getAttribute("height")) || 500;
    if (!svg.hasAttribute("viewBox")) svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    svg.removeAttribute("width"); svg.removeAttribute("height");
    natural = width;
    size();
    frame.append(svg);
    for (const group of groups()) if (!first.has(nameOf(group))) first.set(nameOf(group), group);
    names = [...first.keys()];
    focusable();
    tell();
    hide();
    light();
  }

  // A wide plant on a narrow screen scrolls inside its frame rather than shrink past reading: tags keep 8 px; larger, and
  // at first on a phone, no text is under 11 px; projected, capitals of tags are a fiftieth of the frame's width.
  function size() {
    if (!svg) return;
    const projected = model.get("projected") && frame.clientWidth > 0;
    const scale = projected ? frame.clientWidth / 50 / (13 * 0.716) : large ? 1.15 : 0.62;
    svg.style.minWidth = `${Math.ceil(natural * scale)}px`;
    svg.style.maxWidth = projected ? "none" : `${Math.round(natural * 1.6)}px`;
    svg.classList.toggle("lb-large", large || projected);
    zoom.textContent = large ? "Whole drawing" : "Larger drawing";
    zoom.hidden = projected;
  }

  function focusable() {
    const pickable = model.get("pickable");
    frame.toggleAttribute("data-pickable", pickable);
    if (!svg) return;
    svg.setAttribute("role", pickable ? "group" : "img");
    for (const group of groups()) {
      const lead = first.get(nameOf(group)) === group;
      if (!pickable) { group.removeAttribute("tabindex"); continue; }
      group.setAttribute("role", lead ? "button" : "presentation");
      if (lead) {
        group.setAttribute("tabindex", nameOf(group) === names[0] ? "0" : "-1");
        group.setAttribute("aria-label", group.querySelector("title")?.textContent || nameOf(group));
      } else group.removeAttribute("tabindex");
    }
    // Something inside the frame may scroll, so the frame can be reached where nothing else in it can.
    if (pickable) frame.removeAttribute("tabindex"); else frame.setAttribute("tabindex", "0");
    frame.setAttribute("role", "group");
    frame.setAttribute("aria-label", "Drawing");
  }

  // The drawing carries its own look for each mark; here only the class is put on and taken off.
  function light() {
    caption.textContent = model.get("caption");
    if (!svg) return;
    const marks = model.get("marks");
    let seen = null;
    for (const group of groups()) {
      const style = marks[nameOf(group)];
      for (const each of STYLES) group.classList.toggle(each, each === style);
      if (style) seen ??= group;
    }
    const dimmed = new Set(model.get("dimmed"));
    for (const each of svg.querySelectorAll("[data-tag],[data-run],[data-for],[data-band]")) {
      each.classList.toggle("dim", dimmed.has(nameOf(each) ?? each.dataset.band));
      if (each.dataset.for) for (const one of STYLES) each.classList.toggle(one, one === marks[nameOf(each)]);
    }
    if (seen && frame.scrollWidth > frame.clientWidth + 4) {
      const part = seen.getBoundingClientRect(), view = frame.getBoundingClientRect();
      if (part.left < view.left || part.right > view.right)
        frame.scrollLeft += part.left + part.width / 2 - view.left - view.width / 2;
    }
  }

  function come() { frame.scrollIntoView({ block: "nearest" }); }

  function hide() { if (svg) svg.dataset.hide = model.get("hide").join(" "); }

  function tell() {
    words.hidden = !model.get("description");
    told.textContent = model.get("description");
    if (svg) svg.setAttribute("aria-label", model.get("description").split("\n")[0] || "Drawing of the plant");
  }

  function pick(group) {
    press(model, "n", { picked: nameOf(group) });
  }

  function go(name) {
    for (const each of names) first.get(each).setAttribute("tabindex", each === name ? "0" : "-1");
    first.get(name).focus();
  }

  frame.addEventListener("click", event => {
    const group = event.target.closest("[data-tag],[data-run],[data-for]");
    if (!group || !model.get("pickable")) return;
    if (first.has(nameOf(group))) go(nameOf(group));
    pick(group);
  });
  frame.addEventListener("keydown", event => {
    const group = event.target.closest("[data-tag],[data-run]");
    if (!group || !model.get("pickable")) return;
    const at = names.indexOf(nameOf(group));
    const to = { ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1, Home: 0, End: names.length - 1 }[event.key];
    if (event.key === "Enter" || event.key === " ") pick(group);
    else if (to !== undefined) go(names[(to + names.length) % names.length]);
    else return;
    event.preventDefault(); event.stopPropagation();
  });

  draw();
  focusable();
  tell();
  return follow(model, [[draw, "svg"], [focusable, "pickable"], [tell, "description"], [light, "marks dimmed caption"],
    [hide, "hide"], [size, "projected"], [come, "come_into_view"]]);
}

export default { render };
