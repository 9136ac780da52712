// One question: a real fieldset with a legend, and real radio buttons or check boxes. All text is set as text.
let count = 0;
const WORDS = { right: "✓ Right", part: "◐ Partly right: once more", again: "✗ Not yet: once more", shown: "→ Answer shown" };

function make(tag, css, text) {
  const node = document.createElement(tag);
  if (css) node.className = css;
  if (text !== undefined) node.textContent = text;
  return node;
}

function render({ model, el }) {
  const id = `lb-choices-${++count}-${Math.random().toString(36).slice(2, 8)}`;
  el.classList.add("loopbook", "lb-choices");
  const set = make("fieldset");
  const legend = make("legend");
  const state = make("span", "lb-state");
  const list = make("div", "lb-options");
  const says = make("p", "lb-says");
  const hints = make("ol", "lb-hints");
  const tools = make("div", "lb-tools");
  const hint = make("button", "lb-button", "Hint");
  const look = make("button", "lb-button", "Show on the drawing");
  for (const button of [hint, look]) button.type = "button";
  says.id = `${id}-says`;
  hints.id = `${id}-hints`;
  set.setAttribute("aria-describedby", `${says.id} ${hints.id}`);
  hints.setAttribute("aria-live", "polite");
  tools.append(hint, look);
  set.append(legend, list, says, hints, tools);
  el.append(set);

  function options() {
    list.replaceChildren();
    const many = model.get("many");
    for (const { value, label } of model.get("options")) {
      const row = make("label", "lb-option");
      const box = make("input");
      box.type = many ? "checkbox" : "radio";
      box.name = id;
      box.value = value;
      row.append(box, make("span", "", label));
      list.append(row);
    }
    chosen();
  }

  function chosen() {
    const value = model.get("value"), key = model.get("shown_key");
    for (const row of list.children) {
      const box = row.firstChild;
      box.checked = value.includes(box.value);
      box.disabled = model.get("locked");
      row.classList.toggle("lb-key", key.includes(box.value));
    }
  }

  function words() {
    legend.replaceChildren(make("span", "", model.get("legend") + " "), state);
    const now = model.get("state");
    set.dataset.state = now;
    state.textContent = WORDS[now] ?? "";
    says.textContent = model.get("says");
    says.hidden = !model.get("says");
    hints.replaceChildren(...model.get("hints").map(text => make("li", "", text)));
    hints.hidden = model.get("hints").length === 0;
    const left = document.activeElement === hint;
    hint.hidden = model.get("hints_left") <= 0 || model.get("locked");
    hint.setAttribute("aria-label", `Hint: ${model.get("legend")}`);
    look.hidden = !model.get("can_look");
    look.setAttribute("aria-label", `Show on the drawing: ${model.get("legend")}`);
    tools.hidden = hint.hidden && look.hidden;
    if (left && hint.hidden) list.querySelector("input:checked, input")?.focus();   // or the keyboard falls to the page's top
    chosen();
  }

  list.addEventListener("change", () => {
    model.set("value", [...list.querySelectorAll("input:checked")].map(box => box.value));
    model.save_changes();
  });
  // JupyterLab takes some keys for itself when a cell is selected; inside a question they are the question's.
  list.addEventListener("keydown", event => { if (event.key !== "Tab" && event.key !== "Escape") event.stopPropagation(); });
  const press = name => () => { model.set(name, model.get(name) + 1); model.save_changes(); };
  hint.addEventListener("click", press("hint_pressed"));
  look.addEventListener("click", press("look_pressed"));

  const news = [["change:options", options], ["change:many", options], ["change:value", chosen], ["change:locked", words],
    ["change:shown_key", chosen], ["change:legend", words], ["change:state", words], ["change:says", words],
    ["change:hints", words], ["change:hints_left", words], ["change:can_look", words]];
  for (const [event, act] of news) model.on(event, act);
  options();
  words();
  return () => { for (const [event, act] of news) model.off(event, act); };
}

export default { render };
