// What is wrong, and where: two lists to choose from, what was said so far, and 'nothing is wrong here'.
const VERDICT = { found: "✓ Found", half: "◐ Half found", "false alarm": "✗ False alarm", noted: "○ Not counted", again: "= Said already",
  shown: "→ Answer", "": "" };

function chooser(id, words, first, pick) {
  const row = make("div", "lb-choose"), label = make("label", "", words), select = make("select");
  select.id = label.htmlFor = id;
  select.addEventListener("change", () => pick(select.value));
  row.append(label, select);
  const fill = (options, value) => {
    select.replaceChildren(new Option(first, ""));
    let group = null;
    for (const option of options) {
      if (option.group && group?.label !== option.group) {
        group = make("optgroup");
        group.label = option.group;
        select.append(group);
      }
      (option.group ? group : select).append(new Option(option.label, option.value));
    }
    select.value = value;
  };
  return { row, select, fill };
}

function render({ model, el }) {
  const id = fresh("claims");
  el.classList.add("loopbook", "lb-claims");
  const set = make("fieldset"), legend = make("legend"), state = make("span", "lb-state"), says = make("p", "lb-says");
  legend.append(make("span", "", "What is wrong, and where? "), state);
  const where = chooser(`${id}-where`, "Where", "Click the drawing, or choose here", value => send(model, { place: value }));
  const told = make("p", "lb-told"), what = chooser(`${id}-what`, "What is wrong there", "Choose", value => send(model, { word: value }));
  // The lists are cleared here and not by the kernel, whose answer could come after the next choice and undo it.
  const add = button("lb-button", "Add", () => {
    const asked = [model.get("place"), model.get("word")];
    press(model, "add_pressed", asked.every(one => one) ? { asked, place: "", word: "" } : { asked });
  });
  const list = make("ol", "lb-said"), none = make("label", "lb-option"), box = make("input");
  box.type = "checkbox";
  told.id = `${id}-told`;
  where.select.setAttribute("aria-describedby", told.id);
  says.setAttribute("aria-live", "polite");
  list.setAttribute("aria-label", "What you said");
  none.append(box, make("span", "", model.get("nothing_label")));
  set.append(legend, where.row, told, what.row, add, list, none, says);
  el.append(set);

  function claims() {
    list.replaceChildren(...model.get("claims").map((claim, at) => {
      const item = make("li"), look = button("lb-line", "", () => press(model, "look_pressed", { at }));
      item.dataset.verdict = claim.state;
      look.append(make("strong", "", claim.place), make("span", "", `: ${claim.label}`));
      if (claim.state) item.append(make("span", "lb-verdict", VERDICT[claim.state]));
      item.append(look);
      if (claim.says) item.append(make("p", "", claim.says));
      if (claim.removable) {
        const away = button("lb-button lb-away", "Remove", () => { where.select.focus(); press(model, "remove_pressed", { at }); });
        away.setAttribute("aria-label", `Remove ${claim.place}: ${claim.label}`);
        item.append(away);
      }
      return item;
    }));
    list.hidden = model.get("claims").length === 0;
  }

  function words() {
    const locked = model.get("locked");
    set.dataset.state = model.get("state");
    state.textContent = STATES[model.get("state")] ?? "";
    told.textContent = model.get("told");
    told.hidden = !model.get("told");
    says.textContent = model.get("says");
    says.hidden = !model.get("says");
    box.checked = model.get("nothing");
    for (const part of [where.select, what.select, add, box]) part.disabled = locked;
    for (const part of [where.row, what.row, add]) part.hidden = locked;
    if (locked) told.hidden = true;
    none.hidden = locked && !model.get("nothing");
  }

  function lists() {
    where.fill(model.get("places"), model.get("place"));
    what.fill(model.get("words"), model.get("word"));
  }

  box.addEventListener("change", () => send(model, { nothing: box.checked }));
  ownKeys(set);

  const chosen = () => { where.select.value = model.get("place"); what.select.value = model.get("word"); };
  lists();
  claims();
  words();
  return follow(model, [[lists, "places words"], [chosen, "place word"], [claims, "claims"],
    [words, "told says nothing locked state"]]);
}

export default { render };
