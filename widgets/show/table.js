// A table of words and figures; a wide one scrolls in its own frame.
function render({ model, el }) {
  el.classList.add("loopbook", "lb-table");
  const frame = make("div", "lb-table-frame");
  frame.tabIndex = 0;
  frame.setAttribute("role", "region");
  el.append(frame);
  function cell(kind, text, scope) {
    const made = make(kind, /^[-−]?\d/.test(text) ? "lb-figure" : "", text);
    if (scope) made.scope = scope;
    return made;
  }
  function row(cells) {
    const made = make("tr");
    made.append(...cells);
    return made;
  }
  function draw() {
    frame.setAttribute("aria-label", model.get("caption"));
    const table = make("table"), head = make("thead"), body = make("tbody");
    head.append(row(model.get("head").map((text) => cell("th", text, "col"))));
    body.append(...model.get("rows").map(([first, ...rest]) =>
      row([cell("th", first, "row"), ...rest.map((text) => cell("td", text))])));
    table.append(cell("caption", model.get("caption")), head, body);
    frame.replaceChildren(table);
  }
  draw();
  return follow(model, [[draw, "caption head rows"]]);
}

export default { render };
