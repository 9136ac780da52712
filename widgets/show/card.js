// A recap card. It prints alone, from a page of its own inside this one: no network, no pop-up.
const PAGE = `@page { margin: 18mm; } body { font: 15pt/1.45 Arial, Helvetica, sans-serif; color: #000; margin: 0; }
  article { border: 1.5pt solid #000; border-radius: 6pt; padding: 8mm 10mm; break-inside: avoid; max-width: 170mm; }
  h3 { font-size: 20pt; margin: 0 0 4mm; } ul { margin: 0; padding-left: 6mm; } li { margin: 0 0 3mm; }
  p { font-size: 10pt; margin: 6mm 0 0; }`;

// **bold** and *slanted*; a star with a blank beside it stays a star.
function marked(node, text) {
  text.split(/(\*\*.+?\*\*|\*\S(?:[^*]*\S)?\*)/).forEach((piece, at) => {
    if (at % 2 === 0) return node.append(piece);
    const heavy = piece.startsWith("**"), part = node.ownerDocument.createElement(heavy ? "strong" : "em");
    part.textContent = heavy ? piece.slice(2, -2) : piece.slice(1, -1);
    node.append(part);
  });
  return node;
}

function face(page, model) {
  const node = tag => page.createElement(tag);     // of the page that it is printed from, too
  const all = node("article"), title = node("h3"), list = node("ul"), foot = node("p");
  title.textContent = model.get("title");
  list.append(...model.get("lines").map(line => marked(node("li"), line)));
  foot.textContent = model.get("foot");
  all.append(title, list, foot);
  return all;
}

function print(model) {
  document.querySelector("iframe.lb-print")?.remove();
  const frame = make("iframe", "lb-print");
  frame.title = model.get("title");
  frame.setAttribute("aria-hidden", "true");
  frame.tabIndex = -1;
  document.body.append(frame);
  const page = frame.contentDocument, style = page.createElement("style");
  style.textContent = PAGE;
  page.title = model.get("title");
  page.documentElement.lang = "en";
  page.head.append(style);
  page.body.append(face(page, model));
  frame.contentWindow.focus();
  frame.contentWindow.print();
}

function render({ model, el }) {
  el.classList.add("loopbook", "lb-card");
  const place = make("div");
  el.append(place, button("lb-button", "Print this card", () => print(model)));
  const draw = () => place.replaceChildren(face(document, model));
  draw();
  return follow(model, [[draw, "title lines foot"]]);
}

export default { render };
