// Sliders, switches and choices as the page's own form controls. One change at a time is on its way to the kernel;
// what is turned meanwhile goes with the next.
const WAIT_MS = 3000;

function render({ model, el }) {
  el.classList.add("loopbook", "lb-controls");
  const id = fresh("controls");
  let rows = new Map(), turned = new Map(), touched = "", busy = 0;

  function build() {
    el.replaceChildren();
    rows = new Map();
    model.get("groups").forEach(({ title, controls }, at) => {
      const group = make("details", "lb-group");
      group.open = at < 2 || window.innerWidth > 700;
      group.append(make("summary", "", title));
      const set = make("div", "lb-set");
      set.setAttribute("role", "group");
      set.setAttribute("aria-label", title);
      for (const control of controls) set.append(one(control));
      group.append(set);
      el.append(group);
    });
    show();
  }

  function one(control) {
    const row = make("div", `lb-control lb-turn-${control.type}`), label = make("label", "", control.label);
    label.htmlFor = `${id}-${control.name}`;
    const input = make(control.type === "choice" ? "select" : "input");
    input.id = label.htmlFor;
    input.dataset.name = control.name;
    const out = make("output");
    out.htmlFor = input.id;
    if (control.type === "switch") { input.type = "checkbox"; input.setAttribute("role", "switch"); row.append(input, label); }
    else if (control.type === "slider") {
      input.type = "range"; input.min = control.min; input.max = control.max; input.step = control.step;
      row.append(label, out, input);
    } else {
      for (const { value, label: words } of control.options) { const option = make("option", "", words); option.value = value; input.append(option); }
      row.append(label, input);
    }
    input.addEventListener("input", () => turn(control, input, out));
    rows.set(control.name, { control, input, out });
    return row;
  }

  const valueOf = ({ type }, input) => type === "switch" ? input.checked : type === "slider" ? Number(input.value) : input.value;

  function tell({ control, input, out }) {
    if (control.type !== "slider") return;
    const shown = Number(input.value) * (control.factor ?? 1);
    const text = `${shown >= 1000 ? Math.round(shown / 100) * 100 : Math.round(shown * 10) / 10} ${control.unit}`.trim();
    out.textContent = text;
    input.setAttribute("aria-valuetext", text);
  }

  function turn(control, input, out) {
    tell({ control, input, out });
    turned.set(control.name, valueOf(control, input));
    touched = control.name;
    if (!busy || performance.now() - busy > WAIT_MS) go();
  }

  function go() {
    if (!turned.size) { busy = 0; return; }
    busy = performance.now();
    const values = { ...model.get("values"), ...Object.fromEntries(turned) };
    turned = new Map();
    press(model, "asked", { values, touched });
  }

  function show() {
    const values = model.get("values");
    for (const [name, row] of rows) {
      if (turned.has(name) || values[name] === undefined) continue;
      if (row.control.type === "switch") row.input.checked = values[name]; else row.input.value = values[name];
      tell(row);
    }
  }

  ownKeys(el);
  build();
  return follow(model, [[build, "groups"], [show, "values"], [go, "done"]]);
}

export default { render };
