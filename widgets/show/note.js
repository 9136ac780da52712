// A few words, set as text. A live note is read aloud when it changes.
function render({ model, el }) {
  el.classList.add("loopbook", "lb-note");
  const box = document.createElement("div");
  el.append(box);
  function say() {
    if (model.get("live")) { box.setAttribute("role", "status"); box.setAttribute("aria-live", "polite"); }
    box.dataset.tone = model.get("tone");
    const lines = model.get("text") ? model.get("text").split("\n") : [];
    box.replaceChildren(...lines.map((text, at) => {
      const line = document.createElement(at === 0 && model.get("heading") ? `h${model.get("heading")}` : "p");
      line.textContent = text;
      return line;
    }));
    box.hidden = lines.length === 0 && !model.get("live");
  }
  const news = ["change:text", "change:tone", "change:live", "change:heading"];
  for (const event of news) model.on(event, say);
  say();
  return () => { for (const event of news) model.off(event, say); };
}

export default { render };
