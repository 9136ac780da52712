// Steps to put in order: a real fieldset, a real list, real buttons; dragging besides.
const WORDS = { ...STATES, part: "◐ Partly right" };

function render({ model, el }) {
  const id = fresh("arrange");
  el.classList.add("loopbook", "lb-choices", "lb-arrange");
  const set = make("fieldset"), legend = make("legend"), state = make("span", "lb-state");
  const how = make("p", "lb-how", "Move a step with its buttons ↑ and ↓, with the arrow keys while one of them has the focus, or drag it.");
  const list = make("ol", "lb-steps"), said = make("p", "lb-moved"), says = make("p", "lb-says"), hints = make("ol", "lb-hints");
  const tools = make("div", "lb-tools");
  const hint = button("lb-button", "Hint", () => press(model, "hint_pressed"));
  list.setAttribute("role", "list");      // some readers take a list without marks of its own for none
  how.id = `${id}-how`;
  says.id = `${id}-says`;
  said.setAttribute("role", "status");
  hints.setAttribute("aria-live", "polite");
  set.setAttribute("aria-describedby", `${how.id} ${says.id}`);
  tools.append(hint);
  set.append(legend, how, list, said, says, hints, tools);
  el.append(set);

  const order = () => {
    const all = model.get("options").map(option => option.value), value = model.get("value");
    return value.length === all.length ? [...value] : all;
  };

  function place(value, to) {
    const now = order(), from = now.indexOf(value);
    if (model.get("locked") || from < 0 || to < 0 || to >= now.length || to === from) return;
    now.splice(to, 0, ...now.splice(from, 1));
    send(model, { value: now });
    steps();
    const label = model.get("options").find(option => option.value === value).label;
    said.textContent = `${label}: now ${to + 1} of ${now.length}.`;
  }

  function mover(value, label, way) {
    const node = button("lb-button", way < 0 ? "↑" : "↓", () => move(value, way, way));
    node.dataset.step = value;
    node.dataset.way = way;
    node.setAttribute("aria-label", `${way < 0 ? "Move up" : "Move down"}: ${label}`);
    return node;
  }

  function move(value, way, focus) {
    place(value, order().indexOf(value) + way);
    const able = list.querySelector(`button[data-step="${CSS.escape(value)}"][data-way="${focus}"]:not([aria-disabled=true])`)
      ?? list.querySelector(`button[data-step="${CSS.escape(value)}"]:not([aria-disabled=true])`);
    able?.focus();      // it stays on the step that was moved
  }

  function steps() {
    const locked = model.get("locked"), key = model.get("shown_key"), now = order();
    const labels = new Map(model.get("options").map(option => [option.value, option.label]));
    list.replaceChildren(...now.map((value, n) => {
      const row = make("li", "lb-step"), words = make("span", "lb-step-text", labels.get(value));
      row.dataset.step = value;
      row.draggable = !locked;
      row.append(words);
      if (locked && key.length) row.append(make("span", "lb-step-key", `belongs at ${key.indexOf(value) + 1}`));
      if (!locked) {
        const up = mover(value, labels.get(value), -1), down = mover(value, labels.get(value), 1);
        if (n === 0) up.setAttribute("aria-disabled", "true");
        if (n === now.length - 1) down.setAttribute("aria-disabled", "true");
        const both = make("span", "lb-step-buttons");
        both.append(up, down);
        row.append(both);
      }
      return row;
    }));
  }

  function words() {
    legend.replaceChildren(make("span", "", model.get("legend") + " "), state);
    const now = model.get("state");
    set.dataset.state = now;
    state.textContent = WORDS[now] ?? "";
    says.textContent = model.get("says");
    says.hidden = !model.get("says");
    how.hidden = model.get("locked");
    hints.replaceChildren(...model.get("hints").map(text => make("li", "", text)));
    hints.hidden = model.get("hints").length === 0;
    const left = document.activeElement === hint;
    hint.hidden = model.get("hints_left") <= 0 || model.get("locked");
    hint.setAttribute("aria-label", `Hint: ${model.get("legend")}`);
    tools.hidden = hint.hidden;
    if (left && hint.hidden) list.querySelector("button")?.focus();
  }

  let dragged = "";
  list.addEventListener("dragstart", event => {
    dragged = event.target.closest("li")?.dataset.step ?? "";
    event.dataTransfer?.setData("text/plain", "");
    event.stopPropagation();
  });
  list.addEventListener("dragover", event => { if (dragged) event.preventDefault(); });
  list.addEventListener("drop", event => {
    const over = event.target.closest("li")?.dataset.step;
    if (dragged && over) place(dragged, order().indexOf(over));
    dragged = "";
    event.preventDefault();
    event.stopPropagation();
  });
  list.addEventListener("dragend", () => { dragged = ""; });
  list.addEventListener("keydown", event => {
    const at = event.target.closest("button");
    if (at && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
      event.preventDefault();
      move(at.dataset.step, event.key === "ArrowUp" ? -1 : 1, at.dataset.way);
    }
  });
  ownKeys(list);

  const told = () => { steps(); words(); };
  const fromKernel = () => {
    const rows = [...list.children].map(row => row.dataset.step);
    if (rows.join("\n") !== order().join("\n")) steps();        // a list that stands already keeps the focus
  };
  told();
  return follow(model, [[steps, "options"], [fromKernel, "value"], [told, "locked shown_key"],
    [words, "legend state says hints hints_left"]]);
}

export default { render };
