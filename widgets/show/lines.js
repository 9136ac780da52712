// Sentences under headings; each is a button that lights its place on the drawing.
function render({ model, el }) {
  el.classList.add("loopbook", "lb-lines");
  function draw() {
    el.replaceChildren();
    let list = null, heading = null;
    model.get("lines").forEach(({ group, text }, at) => {
      if (group !== heading) {
        heading = group;
        const title = document.createElement("h4");
        title.textContent = group;
        list = document.createElement("ul");
        el.append(title, list);
      }
      const item = document.createElement("li"), button = document.createElement("button");
      button.type = "button";
      button.className = "lb-line";
      button.textContent = text;
      button.addEventListener("click", () => {
        model.set("picked", at);
        model.set("n", model.get("n") + 1);
        model.save_changes();
      });
      item.append(button);
      list.append(item);
    });
    mark();
  }
  function mark() {
    el.querySelectorAll("button").forEach((button, at) =>
      button.setAttribute("aria-pressed", String(at === model.get("picked"))));
  }
  model.on("change:lines", draw);
  model.on("change:picked", mark);
  draw();
  return () => { model.off("change:lines", draw); model.off("change:picked", mark); };
}

export default { render };
