// A few words. A live note is read aloud when it changes.
function render({ model, el }) {
  el.classList.add("loopbook", "lb-note");
  const box = make("div");
  el.append(box);
  function say() {
    if (model.get("live")) { box.setAttribute("role", "status"); box.setAttribute("aria-live", "polite"); }
    box.dataset.tone = model.get("tone");
    const lines = model.get("text") ? model.get("text").split("\n") : [];
    box.replaceChildren(...lines.map((text, at) =>
      make(at === 0 && model.get("heading") ? `h${model.get("heading")}` : "p", "", text)));
    box.hidden = lines.length === 0 && !model.get("live");
  }
  say();
  return follow(model, [[say, "text tone live heading"]]);
}

export default { render };
