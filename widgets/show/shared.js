// Stands before every front end of ours, in one module with it: `script` in pieces.py joins them, for what is bundled for a page
// cannot fetch a second file. All text is set as text.
let views = 0;

function make(tag, css, text) {
  const node = document.createElement(tag);
  if (css) node.className = css;
  if (text !== undefined) node.textContent = text;
  return node;
}

function button(css, text, press) {
  const node = make("button", css, text);
  node.type = "button";
  if (press) node.addEventListener("click", press);
  return node;
}

// A name that nothing else on the page has, even where another copy of this file stands on it.
const fresh = stem => `lb-${stem}-${++views}-${Math.random().toString(36).slice(2, 8)}`;

// JupyterLab takes some keys for itself when a cell is selected; inside this node they are the node's own.
function ownKeys(node) {
  node.addEventListener("keydown", event => { if (event.key !== "Tab" && event.key !== "Escape") event.stopPropagation(); });
}

// Traits are set and sent to the kernel at once.
function send(model, values) {
  for (const [name, value] of Object.entries(values)) model.set(name, value);
  model.save_changes();
}

// A press is a count that goes up, so that a second press of the same thing is news as well. more: what goes with it.
const press = (model, name, more = {}) => send(model, { ...more, [name]: model.get(name) + 1 });

// Each act is called when one of its traits changes: [[act, "trait trait"], …]. What comes back ends that: a view gives it back.
function follow(model, news) {
  const each = act => news.forEach(([does, traits]) => traits.split(" ").forEach(trait => act(`change:${trait}`, does)));
  each((event, does) => model.on(event, does));
  return () => each((event, does) => model.off(event, does));
}

const STATES = { right: "✓ Right", part: "◐ Partly right: once more", again: "✗ Not yet: once more", shown: "→ Answer shown" };
