// The bar at a lesson's top, and what it does to the page: figures in the chosen units, and the glossary under the words.
// Nothing here is needed to read a lesson; without it the words stand unexplained by hover.
const HOMES = ".jp-RenderedMarkdown, .lb-says, .lb-note";
const LEAVE = "a, button, code, pre, summary, h1, h2, h3, h4, legend, label, svg, em, strong, [data-tone=caution], .lb-word, .lb-tip, [aria-live]";

function matcher(words) {
  const terms = Object.keys(words).sort((a, b) => b.length - a.length);
  if (!terms.length) return null;
  const shape = term => {
    const safe = term.replace(/[.*+?^${}()|[\]\\]/g, "\\$&").replace(/ /g, "\\s+");
    const [a, b] = [term[0], term.slice(0, 2)];
    return b === b.toUpperCase() ? safe : `[${a.toUpperCase()}${a.toLowerCase()}]${safe.slice(1)}`;
  };
  return new RegExp(`(?<![\\w-])(?:${terms.map(term => `(${shape(term)})`).join("|")})(?:e?s)?(?![\\w-])`, "g");
}

// Explain each word of the glossary where it first stands in each cell.
function decorate(root, words, pattern) {
  const terms = Object.keys(words).sort((a, b) => b.length - a.length);
  for (const home of root.querySelectorAll(HOMES)) {
    const cell = home.closest(".jp-Cell, .lb-exercise") ?? home;
    const done = new Set([...cell.querySelectorAll(".lb-word")].map(node => node.dataset.word));
    const walk = document.createTreeWalker(home, NodeFilter.SHOW_TEXT, {
      acceptNode: node => node.parentElement.closest(LEAVE) ? NodeFilter.FILTER_REJECT : NodeFilter.FILTER_ACCEPT });
    const texts = [];
    while (walk.nextNode()) texts.push(walk.currentNode);
    for (const text of texts) {
      const pieces = [];
      let at = 0;
      for (const hit of text.data.matchAll(pattern)) {
        const term = terms[hit.slice(1).findIndex(group => group !== undefined)];
        if (done.has(term)) continue;
        done.add(term);
        const word = make("span", "lb-word", hit[0]);
        word.tabIndex = 0;
        word.dataset.word = term;
        pieces.push(text.data.slice(at, hit.index), word);
        at = hit.index + hit[0].length;
      }
      if (pieces.length) text.replaceWith(...pieces, text.data.slice(at));
    }
  }
}

// One tooltip for the page: it stays while the pointer is on it, and Escape takes it away.
function tips(root, words, stop) {
  const tip = make("div", "lb-tip");
  tip.id = fresh("tip");
  tip.setAttribute("role", "tooltip");
  tip.hidden = true;
  document.body.append(tip);
  let word = null, timer = 0;
  function show(node) {
    clearTimeout(timer);
    word?.removeAttribute("aria-describedby");
    word = node;
    tip.replaceChildren(make("b", "", `${node.dataset.word}: `), words()[node.dataset.word] ?? "");
    tip.hidden = false;
    node.setAttribute("aria-describedby", tip.id);
    place();
  }
  function place() {
    const box = word.getBoundingClientRect(), wide = tip.offsetWidth, high = tip.offsetHeight;
    tip.style.left = `${Math.max(8, Math.min(box.left, window.innerWidth - wide - 8))}px`;
    tip.style.top = `${box.bottom + high + 8 > window.innerHeight ? Math.max(8, box.top - high - 2) : box.bottom + 2}px`;
  }
  function hide() {
    clearTimeout(timer);
    word?.removeAttribute("aria-describedby");
    word = null;
    tip.hidden = true;
  }
  const soon = () => { clearTimeout(timer); timer = setTimeout(hide, 200); };
  const on = (node, event, act) => node.addEventListener(event, act, { signal: stop });
  const found = event => event.target.closest?.(".lb-word");
  on(root, "mouseover", event => { if (found(event)) show(found(event)); });
  on(root, "mouseout", event => { if (found(event)) soon(); });
  on(root, "focusin", event => { if (found(event)) show(found(event)); });
  on(root, "focusout", event => { if (found(event)) hide(); });
  on(root, "scroll", event => {       // focus itself may scroll the word into view: then the tip goes along
    if (tip.hidden) return;
    if (word === document.activeElement) place(); else hide();
  });
  on(tip, "mouseenter", () => clearTimeout(timer));
  on(tip, "mouseleave", soon);
  on(document, "keydown", event => { if (event.key === "Escape" && !tip.hidden) { hide(); event.stopPropagation(); } });
  stop.addEventListener("abort", () => tip.remove());
}

function ask(model, name, legend, pairs) {
  const set = make("fieldset", "lb-choice"), id = fresh("workbook");
  set.append(make("legend", "", legend));
  for (const [value, label] of pairs) {
    const row = make("label", "lb-option"), box = make("input");
    Object.assign(box, { type: "radio", name: id, value });
    box.addEventListener("change", () => send(model, { [name]: value }));
    ownKeys(box);
    row.append(box, make("span", "", label));
    set.append(row);
  }
  return set;
}

function render({ model, el }) {
  el.classList.add("loopbook", "lb-workbook");
  const keep = ask(model, "keep", "Keep my answers", [["yes", "yes"], ["no", "no"]]);
  const units = ask(model, "units", "Units", [["si", "°C, kW, L/s"], ["us", "°F, Btu/h, gpm"]]);
  const number = make("label", "lb-number", "Class number "), typed = make("input");
  Object.assign(typed, { inputMode: "numeric", maxLength: 6, autocomplete: "off" });
  typed.addEventListener("change", () => send(model, { number: typed.value.trim() }));
  ownKeys(typed);
  number.append(typed);
  const says = make("p", "lb-told");
  says.setAttribute("role", "status");
  el.append(keep, units, number, says);
  const root = el.closest(".jp-Notebook") ?? document.body;
  const stop = new AbortController();
  tips(root, () => model.get("words"), stop.signal);
  const pattern = matcher(model.get("words"));
  function paint() {
    const us = model.get("units") === "us";
    for (const node of root.querySelectorAll(".lb-si")) node.hidden = us;
    for (const node of root.querySelectorAll(".lb-us")) node.hidden = !us;
    if (pattern) decorate(root, model.get("words"), pattern);
  }
  function bar() {
    for (const box of keep.querySelectorAll("input")) {
      box.checked = box.value === model.get("keep");
      box.disabled = model.get("fixed");
    }
    for (const box of units.querySelectorAll("input")) box.checked = box.value === model.get("units");
    if (document.activeElement !== typed) typed.value = model.get("number");
    says.textContent = model.get("says");
    el.dataset.asks = String(!model.get("keep"));
    paint();
  }
  let waiting = 0;
  const watch = new MutationObserver(() => { clearTimeout(waiting); waiting = setTimeout(paint, 150); });
  const unfollow = follow(model, [[bar, "keep units number says fixed"]]);
  bar();
  watch.observe(root, { subtree: true, childList: true, characterData: true });
  return () => {
    clearTimeout(waiting);
    watch.disconnect();
    stop.abort();
    unfollow();
  };
}

export default { render };
