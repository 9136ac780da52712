// Lines drawn on the picture. Each is kept in shares of what it was drawn on, the drawing or the step, so that it stays
// in its place when the window, the zoom or the screen changes. Pens differ by dashes and width, not by colour alone.
window.loopbookInk = ({ start, layer, within, targets, changed }) => {
  const PENS = [
    { name: "Blue, full", colour: "#0067a6", width: 7, dash: [] },
    { name: "Red, dashes", colour: "#b3261e", width: 7, dash: [2.5, 2] },
    { name: "Green, dots", colour: "#00704f", width: 9, dash: [0.01, 1.6] },
    { name: "Black, thin", colour: "#1a1a1a", width: 3, dash: [] },
  ];
  const all = start && typeof start === "object" ? { ...start } : {};
  let step = "", line = null, box = null;
  const me = { PENS, on: false, chosen: 0 };
  const lines = () => (all[step] ??= []);
  const target = n => (n < 0 ? within : targets()[n]);

  function place(one) {
    const on = target(one.t);
    if (!on) return "";
    const rect = on.getBoundingClientRect(), mine = layer.getBoundingClientRect();
    const down = one.t < 0 ? within.scrollTop : 0;
    let path = "";
    for (let n = 0; n < one.p.length; n += 2)
      path += `${n ? "L" : "M"}${(rect.left + one.p[n] * rect.width - mine.left).toFixed(1)} ${(rect.top + one.p[n + 1] * rect.width - down - mine.top).toFixed(1)}`;
    return one.p.length === 2 ? `${path}h0.1` : path;
  }
  function path(one) {
    const pen = PENS[one.c] ?? PENS[0], node = document.createElementNS("http://www.w3.org/2000/svg", "path");
    node.setAttribute("d", place(one));
    node.setAttribute("stroke", pen.colour);
    node.setAttribute("stroke-width", pen.width);
    node.setAttribute("stroke-dasharray", pen.dash.map(share => share * pen.width).join(" "));
    return node;
  }
  me.draw = () => layer.replaceChildren(...lines().map(path));
  me.show = name => { step = name; line = null; me.draw(); };
  me.turn = on => { me.on = on; layer.classList.toggle("on", on); };
  me.pen = n => { me.chosen = n; };
  me.undo = () => { lines().pop(); me.draw(); changed(all); };
  me.clear = () => { all[step] = []; me.draw(); changed(all); };

  function point(event) {
    const down = line.t < 0 ? within.scrollTop : 0;
    line.p.push(Math.round((event.clientX - box.left) / box.width * 1e4) / 1e4,
                Math.round((event.clientY - box.top + down) / box.width * 1e4) / 1e4);
  }
  layer.addEventListener("pointerdown", event => {
    if (!me.on || line || (event.pointerType === "mouse" && event.button)) return;
    event.preventDefault();
    const found = targets().findIndex(one => {
      const rect = one.parentElement.getBoundingClientRect();
      return event.clientX >= rect.left && event.clientX <= rect.right && event.clientY >= rect.top && event.clientY <= rect.bottom;
    });
    line = { c: me.chosen, t: found, p: [] };
    box = target(found).getBoundingClientRect();
    layer.setPointerCapture(event.pointerId);
    point(event);
    lines().push(line);
    me.draw();
  });
  layer.addEventListener("pointermove", event => {
    if (!line) return;
    for (const one of event.getCoalescedEvents?.() ?? [event]) point(one);
    layer.lastChild?.setAttribute("d", place(line));
  });
  const end = () => { if (line) { line = null; changed(all); } };
  layer.addEventListener("pointerup", end);
  layer.addEventListener("pointercancel", end);
  within.addEventListener("scroll", me.draw, { capture: true, passive: true });
  return me;
};
