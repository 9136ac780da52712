// Sentences under headings; each is a button that lights its place on the drawing.
function render({ model, el }) {
  el.classList.add("loopbook", "lb-lines");
  function draw() {
    el.replaceChildren();
    let list = null, heading = null;
    model.get("lines").forEach(({ group, text }, at) => {
      if (group !== heading) {
        heading = group;
        list = make("ul");
        el.append(make("h4", "", group), list);
      }
      const item = make("li");
      item.append(button("lb-line", text, () => press(model, "n", { picked: at })));
      list.append(item);
    });
    mark();
  }
  function mark() {
    el.querySelectorAll("button").forEach((line, at) => line.setAttribute("aria-pressed", String(at === model.get("picked"))));
  }
  draw();
  return follow(model, [[draw, "lines"], [mark, "picked"]]);
}

export default { render };
