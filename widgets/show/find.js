// What is wrong, and where: two lists to choose from, what was said so far, and 'nothing is wrong here'. All text is set as text.
let count = 0;
const STATE = { right: "✓ Right", part: "◐ Partly right: once more", again: "✗ Not yet: once more", shown: "→ Answer shown" };
const VERDICT = { found: "✓ Found", half: "◐ Half found", "false alarm": "✗ False alarm", noted: "○ Not counted", again: "= Said already",
  shown: "→ Answer", "": "" };

function make(tag, css, text) {
  const node = document.createElement(tag);
  if (css) node.className = css;
  if (text !== undefined) node.textContent = text;
  return node;
}

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
  const id = `lb-claims-${++count}-${Math.random().toString(36).slice(2, 8)}`;
  el.classList.add("loopbook", "lb-claims");
  const send = values => { for (const [name, value] of Object.entries(values)) model.set(name, value); model.save_changes(); };
  const press = (name, more = {}) => send({ ...more, [name]: model.get(name) + 1 });
  const set = make("fieldset"), legend = make("legend"), state = make("span", "lb-state"), says = make("p", "lb-says");
  legend.append(make("span", "", "What is wrong, and where? "), state);
  const where = chooser(`${id}-where`, "Where", "Click the drawing, or choose here", value => send({ place: value }));
  const told = make("p", "lb-told"), what = chooser(`${id}-what`, "What is wrong there", "Choose", value => send({ word: value }));
  const add = make("button", "lb-button", "Add");
  const list = make("ol", "lb-said"), none = make("label", "lb-option"), box = make("input");
  add.type = "button";
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
      const item = make("li"), look = make("button", "lb-line");
      item.dataset.verdict = claim.state;
      look.type = "button";
      look.append(make("strong", "", claim.place), make("span", "", `: ${claim.label}`));
      look.addEventListener("click", () => press("look_pressed", { at }));
      if (claim.state) item.append(make("span", "lb-verdict", VERDICT[claim.state]));
      item.append(look);
      if (claim.says) item.append(make("p", "", claim.says));
      if (claim.removable) {
        const away = make("button", "lb-button lb-away", "Remove");
        away.type = "button";
        away.setAttribute("aria-label", `Remove ${claim.place}: ${claim.label}`);
        away.addEventListener("click", () => { where.select.focus(); press("remove_pressed", { at }); });
        item.append(away);
      }
      return item;
    }));
    list.hidden = model.get("claims").length === 0;
  }

  function words() {
    const locked = model.get("locked");
    set.dataset.state = model.get("state");
    state.textContent = STATE[model.get("state")] ?? "";
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

  // The lists are cleared here and not by the kernel, whose answer could come after the next choice and undo it.
  add.addEventListener("click", () => {
    const asked = [model.get("place"), model.get("word")];
    press("add_pressed", asked.every(one => one) ? { asked, place: "", word: "" } : { asked });
  });
  box.addEventListener("change", () => send({ nothing: box.checked }));
  // JupyterLab takes some keys for itself when a cell is selected; in here they are the form's.
  set.addEventListener("keydown", event => { if (event.key !== "Tab" && event.key !== "Escape") event.stopPropagation(); });

  const chosen = () => { where.select.value = model.get("place"); what.select.value = model.get("word"); };
  const news = [["change:places", lists], ["change:words", lists], ["change:place", chosen], ["change:word", chosen],
    ["change:claims", claims], ["change:told", words], ["change:says", words], ["change:nothing", words], ["change:locked", words],
    ["change:state", words]];
  for (const [event, act] of news) model.on(event, act);
  lists();
  claims();
  words();
  return () => { for (const [event, act] of news) model.off(event, act); };
}

export default { render };
