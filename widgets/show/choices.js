// One question: a real fieldset with a legend, and real radio buttons or check boxes.
function render({ model, el }) {
  const id = fresh("choices");
  el.classList.add("loopbook", "lb-choices");
  const set = make("fieldset");
  const legend = make("legend");
  const state = make("span", "lb-state");
  const list = make("div", "lb-options");
  const says = make("p", "lb-says");
  const hints = make("ol", "lb-hints");
  const tools = make("div", "lb-tools");
  const hint = button("lb-button", "Hint", () => press(model, "hint_pressed"));
  const look = button("lb-button", "Show on the drawing", () => press(model, "look_pressed"));
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
    state.textContent = STATES[now] ?? "";
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
    send(model, { value: [...list.querySelectorAll("input:checked")].map(box => box.value) });
  });
  ownKeys(list);
  options();
  words();
  return follow(model, [[options, "options many"], [chosen, "value shown_key"],
    [words, "locked legend state says hints hints_left can_look"]]);
}

export default { render };
