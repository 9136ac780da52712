// A table of words and figures, set as text; a wide one scrolls in its own frame.
function render({ model, el }) {
  el.classList.add("loopbook", "lb-table");
  const frame = document.createElement("div");
  frame.className = "lb-table-frame";
  frame.tabIndex = 0;
  frame.setAttribute("role", "region");
  el.append(frame);
  function cell(kind, text, scope) {
    const made = document.createElement(kind);
    made.textContent = text;
    if (/^[-−]?\d/.test(text)) made.className = "lb-figure";
    if (scope) made.scope = scope;
    return made;
  }
  function row(cells) {
    const made = document.createElement("tr");
    made.append(...cells);
    return made;
  }
  function draw() {
    frame.setAttribute("aria-label", model.get("caption"));
    const table = document.createElement("table"), head = document.createElement("thead"), body = document.createElement("tbody");
    head.append(row(model.get("head").map((text) => cell("th", text, "col"))));
    body.append(...model.get("rows").map(([first, ...rest]) =>
      row([cell("th", first, "row"), ...rest.map((text) => cell("td", text))])));
    table.append(cell("caption", model.get("caption")), head, body);
    frame.replaceChildren(table);
  }
  const news = ["change:caption", "change:head", "change:rows"];
  for (const event of news) model.on(event, draw);
  draw();
  return () => { for (const event of news) model.off(event, draw); };
}

export default { render };
