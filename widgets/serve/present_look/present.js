// Shows a lesson step by step. The page holds every step; one of them is not hidden. What is kept back comes one by one.
(() => {
  const data = JSON.parse(document.getElementById("present-data").textContent);
  const $ = id => document.getElementById(id);
  const steps = [...document.querySelectorAll(".step")];
  const main = $("steps"), told = $("told"), help = $("help");
  const look = { letters: true, size: 1, ...data.start.look };
  let at = 0, shown = 0, zoom = 1, tried = false;
  const layers = {};                       // layer → true or false, where somebody has switched it

  // -- the server ----------------------------------------------------------------------------------------------
  const token = () => decodeURIComponent((document.cookie.match(/(?:^|; )_xsrf=([^;]*)/) || [, ""])[1]);
  let waiting = {}, timer = 0;
  async function send(leaving) {
    clearTimeout(timer);
    const news = waiting;
    waiting = {};
    if (!Object.keys(news).length) return {};
    try {
      const answer = await (await fetch("/present/state", { method: "PUT", keepalive: Boolean(leaving), body: JSON.stringify(news),
        headers: { "Content-Type": "application/json", "X-XSRFToken": token() } })).json();
      if (answer.why) say(answer.why);
      return answer;
    } catch {
      say("“loopbook present” does not answer. Is it still running?");
      return { why: "no answer" };
    }
  }
  function keep(news) {
    if (data.pane) return;
    waiting = { ...waiting, ...news, lesson: data.lesson };
    clearTimeout(timer);
    timer = setTimeout(send, 300);
  }
  const keepLook = () => keep({ look });
  function say(words) { told.textContent = ""; told.textContent = words; clearTimeout(say.timer); say.timer = setTimeout(() => { told.textContent = ""; }, 9000); }

  // -- steps ---------------------------------------------------------------------------------------------------
  const here = () => steps[at];
  function show(to, reveal = 0, focus = true) {
    at = Math.max(0, Math.min(to, steps.length - 1));
    steps.forEach((step, n) => { step.hidden = n !== at; });
    shown = 0;
    carry();
    for (let n = 0; n < reveal && held().length > shown; n++) open(held()[shown], n === reveal - 1);
    main.scrollTop = 0;
    fit();
    words();
    window.dispatchEvent(new Event("resize"));      // what was measured while it was hidden is measured again
    if (focus) here().querySelector("h2").focus({ preventScroll: true });
    ink.show(data.steps[at].name);
    applyLayers();
    keep({ at: { step: data.steps[at].name, shown } });
  }
  function words() {
    $("goto").value = String(at);
    $("of").textContent = `of ${steps.length}`;
    $("next-word").textContent = held().length > shown ? "Show" : at < steps.length - 1 ? "Next" : data.on ? "Next lesson" : "The end";
    document.title = `${data.steps[at].title} · Loopbook`;
  }

  // What is kept back on a step, in the order of the page: the lines of a reading, the answer to a guess, a sentence.
  function held() {
    return [...here().querySelectorAll(".cell.held, .lb-line, .lb-predict")].filter(one => !one.closest(".busy .lb-claims") &&
      (one.matches(".held, .lb-predict") || one.closest(".lb-aloud")));
  }
  function open(one, light = true) {
    shown++;
    one.classList.add("out-now");
    if (one.matches(".lb-line")) { reveal(one); if (light) one.click(); }
    else if (one.matches(".lb-predict")) answer(one);
    one.scrollIntoView({ block: "nearest" });
  }
  // Lines of a reading are told apart by their place, for the widget may draw them anew.
  function reveal(line) {
    const box = line.closest(".lb-lines");
    box.dataset.told = Math.max(Number(box.dataset.told || 0), [...box.querySelectorAll(".lb-line")].indexOf(line) + 1);
    tellLines(box);
  }
  function tellLines(box) {
    const count = Number(box.dataset.told || 0);
    box.querySelectorAll(".lb-line").forEach((line, n) => line.classList.toggle("out-now", n < count));
    box.querySelectorAll("h4").forEach(title => title.classList.toggle("out-now", Boolean(title.nextElementSibling?.querySelector(".out-now"))));
  }
  const buttons = (within, ...texts) => [...within.querySelectorAll("button")].filter(one => texts.includes(one.textContent.trim()) && !one.disabled && one.offsetParent);
  function answer(box) { buttons(box, "Show the answer")[0]?.click(); }

  function next() {
    const left = held();
    if (left.length > shown) { open(left[shown]); words(); keep({ at: { step: data.steps[at].name, shown } }); return; }
    if (main.scrollTop + main.clientHeight < main.scrollHeight - 40) { main.scrollBy(0, main.clientHeight * 0.8); return; }
    if (at < steps.length - 1) show(at + 1);
    else if (data.on && !data.pane) go(`/lesson/${data.on}`, { step: "", shown: 0 });
  }
  function back() {
    if (at > 0) show(at - 1, 99);
    else if (data.back && !data.pane) go(`/lesson/${data.back}`);
  }
  async function go(where) { await send(); location.href = where; }
  function showAll() {
    const left = held();
    while (left.length > shown) open(left[shown]);
    const show = buttons(here(), "Show answers", "Show the answer");
    if (!left.length && show.length) show[0].click();
    words();
    keep({ at: { step: data.steps[at].name, shown } });
  }

  // A drawing that an earlier step showed, for the question or the sentence about it.
  function carry() {
    for (const place of here().querySelectorAll(".carried")) {
      if (place.firstChild) continue;
      const from = document.querySelector(`[data-cell="${place.dataset.of}"] .lb-frame svg`);
      if (!from) continue;
      const frame = document.createElement("div"), copy = from.cloneNode(true);
      frame.className = "lb-frame";
      frame.tabIndex = 0;
      frame.setAttribute("role", "group");
      frame.setAttribute("aria-label", "Drawing");
      copy.setAttribute("role", "img");
      for (const one of copy.querySelectorAll("*")) for (const name of ["tabindex", "role", "aria-label"]) one.removeAttribute(name);
      for (const one of copy.querySelectorAll(".look, .right, .wrong")) one.classList.remove("look", "right", "wrong");
      for (const one of copy.querySelectorAll(".layer-figures, .layer-temperatures, .layer-findings, .lb-laid")) one.remove();
      frame.append(copy);
      place.append(frame);
      fit();
    }
  }
  // How high a drawing may be, so that it and what is said of it stand on one screen.
  function fit() {
    const first = here().querySelector(".cell, .carried");
    if (!first) return;
    const above = first.getBoundingClientRect().top - main.getBoundingClientRect().top + main.scrollTop;
    const below = here().matches(".two") && innerWidth >= 900 ? 0.11 : here().querySelector(".held") ? 0.2 : 0.17;
    const room = main.clientHeight * (1 - below) - Math.min(above, main.clientHeight * 0.4);
    main.style.setProperty("--draw", `${Math.round(Math.max(room, main.clientHeight * 0.4))}px`);
  }

  // -- layers, size, pens, the second plant ----------------------------------------------------------------------
  const LAYERS = { tags: "Tags", tints: "Loops tinted", evidence: "Highlights", missing: "What is missing" };
  function applyLayers() {
    for (const svg of document.querySelectorAll(".lb-frame svg[data-hide], .lb-frame > svg")) {
      if (svg.dataset.hide !== svg.dataset.lbSet) svg.dataset.lbBase = svg.dataset.hide ?? "";
      const hide = new Set((svg.dataset.lbBase || "").split(" ").filter(Boolean));
      for (const [name, on] of Object.entries(layers)) if (on) hide.delete(name); else hide.add(name);
      const wanted = [...hide].join(" ");
      svg.dataset.lbSet = wanted;
      if (svg.dataset.hide !== wanted) svg.dataset.hide = wanted;
      if (here().contains(svg)) crop(svg);
    }
  }
  // Without the legend, and without the empty sheet about the plant, a drawing is read from farther away.
  function crop(svg) {
    if (svg.dataset.lbBox === undefined) {
      if (!svg.getAttribute("viewBox")) return;
      svg.dataset.lbBox = svg.getAttribute("viewBox");
    }
    const plant = svg.querySelector(":scope > g"), [left, top, wide, high] = svg.dataset.lbBox.split(" ").map(Number);
    let wanted = svg.dataset.lbBox;
    if (plant && !look.legend && svg.getClientRects().length) {
      const box = plant.getBBox(), move = plant.transform.baseVal.consolidate()?.matrix ?? { e: 0, f: 0 }, title = svg.querySelector(":scope > text")?.getBBox();
      if (!box.width) return;
      const x = Math.max(left, Math.min(box.x + move.e, title ? title.x : Infinity) - 12), y = title ? top + 6 : Math.max(top, box.y + move.f - 8);
      const right = Math.min(left + wide, Math.max(box.x + box.width + move.e, title ? title.x + title.width : 0) + 12);
      wanted = [x, y, right - x, Math.min(top + high, box.y + box.height + move.f + 12) - y].map(n => Math.round(n * 10) / 10).join(" ");
    }
    if (svg.getAttribute("viewBox") !== wanted) svg.setAttribute("viewBox", wanted);
    for (let one = plant?.nextElementSibling; one; one = one.nextElementSibling) one.style.display = look.legend ? "" : "none";
  }
  function legend() {
    look.legend = !look.legend;
    keepLook();
    applyLayers();
    say(`Legend: ${look.legend ? "shown" : "hidden"}.`);
  }
  function layer(name) {
    const svg = here().querySelector(".lb-frame > svg");
    if (!svg) { say("There is no drawing on this step."); return; }
    const hidden = (svg.dataset.hide || "").split(" ").includes(name);
    layers[name] = hidden;
    applyLayers();
    say(`${LAYERS[name]}: ${hidden ? "shown" : "hidden"}.`);
  }
  function zoomTo(size) {
    zoom = Math.max(1, Math.min(4, size));
    main.style.setProperty("--zoom", zoom);
    main.classList.toggle("zoomed", zoom > 1);
    ink.draw();
  }
  function textSize(size) {
    look.size = Math.round(Math.max(0.7, Math.min(2.2, size)) * 10) / 10;
    document.documentElement.style.setProperty("--lb-size", look.size);
    keepLook();
    fit();
  }
  function press(name, on) { document.querySelectorAll(`[data-do="${name}"]`).forEach(one => one.setAttribute("aria-pressed", String(on))); }
  function beside() {
    const box = $("other");
    if (!box) return;
    const on = box.hidden;
    box.hidden = !on;
    document.body.classList.toggle("pair", on);
    press("beside", on);
    box.replaceChildren();
    if (on) {
      const frame = document.createElement("iframe");
      frame.title = "A second plant";
      frame.src = `/lesson/${data.lesson}?pane=1&seed=${(data.seed + 1) % 1000000}&step=${encodeURIComponent(data.steps[at].name)}`;
      box.append(frame);
    }
    window.dispatchEvent(new Event("resize"));
    fit();
  }
  function another() {
    const offered = buttons(here(), "Another plant", "Another set");
    if (offered.length) { offered[0].click(); return; }
    if (data.kind !== "presenter" && !data.pane) { say("The class number is set by who presents."); return; }
    number((data.seed + 1) % 1000000);
  }
  async function number(value) {
    const text = String(value).trim();
    if (!/^[0-9]{1,6}$/.test(text)) { say("A class number is a whole number from 0 to 999999."); return; }
    if (data.pane) {
      location.href = `/lesson/${data.lesson}?pane=1&seed=${Number(text)}&step=${encodeURIComponent(data.steps[at].name)}`;
      return;
    }
    waiting = { ...waiting, seed: Number(text), lesson: data.lesson, at: { step: data.steps[at].name, shown: 0 }, ink: {} };
    const answer = await send();
    if (answer.why === "no answer") return;
    location.reload();
  }
  function fullScreen() {
    if (document.fullscreenElement) document.exitFullscreen();
    else document.documentElement.requestFullscreen?.().catch(() => say("This browser has no full screen; try F11."));
  }

  // -- keys and buttons --------------------------------------------------------------------------------------------
  const ACTS = {
    next: [next, "→ · Space · Page Down", "Show what is kept back, then go on"],
    back: [back, "← · Page Up", "Back"],
    all: [showAll, "R", "Show all answers of this step"],
    another: [another, "N", "Another plant"],
    number: [() => $("class-number")?.focus(), "S", "Type the class number"],
    tags: [() => layer("tags"), "T", "Tags on or off"],
    tints: [() => layer("tints"), "L", "Loops tinted or not"],
    evidence: [() => layer("evidence"), "H", "Highlights on or off"],
    missing: [() => layer("missing"), "M", "What is missing, shown or not"],
    legend: [legend, "K", "Legend: what the symbols mean"],
    larger: [() => zoomTo(zoom * 1.4), "+", "Larger drawing"],
    smaller: [() => zoomTo(zoom / 1.4), "−", "Smaller drawing"],
    text: [() => textSize(look.size + 0.1), "]", "Larger text"],
    small: [() => textSize(look.size - 0.1), "[", "Smaller text"],
    beside: [beside, "B", "Two plants side by side"],
    draw: [() => pen(), "D", "Draw on the picture"],
    undo: [() => ink.undo(), "U", "Take the last line back"],
    clear: [() => ink.clear(), "C", "Wipe what was drawn here"],
    pens: [() => { pen(true); ink.pen((ink.chosen + 1) % ink.PENS.length); paint(); }, "P", "The next pen"],
    full: [fullScreen, "F", "Full screen"],
    first: [() => show(0), "Home", "The first step"],
    last: [() => show(steps.length - 1, 0), "End", "The last step"],
    contents: [() => go("/"), "G", "Contents"],
    help: [() => { if (help.open) help.close(); else help.showModal(); }, "?", "These keys"],
  };
  const KEYS = { ArrowRight: "next", " ": "next", PageDown: "next", ArrowLeft: "back", PageUp: "back", Home: "first", End: "last",
    r: "all", n: "another", s: "number", t: "tags", l: "tints", h: "evidence", m: "missing", k: "legend", "+": "larger", "=": "larger", "-": "smaller",
    "]": "text", "[": "small", b: "beside", d: "draw", u: "undo", c: "clear", p: "pens", f: "full", g: "contents", "?": "help" };
  const OTHERS = { "close-help": () => help.close(), "set-number": () => number($("class-number").value) };
  function act(name) {
    if (name in OTHERS) OTHERS[name]();
    else if (name in ACTS) { if (help.open && name !== "help") help.close(); ACTS[name][0](); }
  }
  document.addEventListener("keydown", event => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    const target = event.target, key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (target.matches("input, textarea, select, [contenteditable]") && !(["PageDown", "PageUp"].includes(key) && target.type !== "text")) {
      if (key === "Enter" && target.id === "class-number") number(target.value);
      if (key === "Enter" && target.id === "pane-number") number(target.value);
      return;
    }
    if (help.open && key !== "?") return;
    if ([" ", "Enter"].includes(key) && target.closest("button, a, summary, [role=button]")) return;
    if (key.startsWith("Arrow") && target.closest(".lb-frame[data-pickable] [tabindex], .lb-frame, [role=slider], [role=toolbar]") &&
        (target.closest("[data-pickable]") || target.scrollWidth > target.clientWidth)) return;
    const name = KEYS[key];
    if (!name || (key.length === 1 && key !== " " && key !== "?" && !look.letters)) return;
    event.preventDefault();
    act(name);
  });
  document.addEventListener("click", event => {
    const button = event.target.closest("[data-do]");
    if (!button) return;
    event.preventDefault();
    act(button.dataset.do);
  });
  // A click leaves the keys to the page; who goes by Tab keeps the focus where it is.
  document.addEventListener("pointerup", event => {
    if (event.target.closest?.(".lb-frame, .lb-option, .lb-line, .bar button, .lb-bar button"))
      setTimeout(() => { if (document.activeElement?.matches?.("[tabindex], input[type=radio], input[type=checkbox], button")) document.activeElement.blur(); }, 60);
  });

  // -- pens ------------------------------------------------------------------------------------------------------
  const ink = window.loopbookInk({ start: data.pane ? {} : data.start.ink, layer: $("ink"), within: main,
    targets: () => [...here().querySelectorAll(".lb-frame > svg")], changed: all => keep({ ink: all }) });
  function pen(on = !ink.on) {
    ink.turn(on);
    $("pens").hidden = !on;
    document.body.classList.toggle("drawing", on);
    press("draw", on);
    paint();
    if (on) say("Draw with mouse, pen or finger. U takes a line back, C wipes, D or Esc ends.");
  }
  function paint() {
    $("pens").querySelectorAll("[data-pen]").forEach((one, n) => one.setAttribute("aria-pressed", String(n === ink.chosen)));
  }
  ink.PENS.forEach(({ name, colour, dash }, n) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.pen = n;
    button.innerHTML = `<svg width="64" height="16" aria-hidden="true"><path d="M3 8h58" stroke="${colour}" stroke-width="6" stroke-dasharray="${dash.map(d => d * 6).join(" ")}" stroke-linecap="round" fill="none"/></svg>`;
    const words = document.createElement("span");
    words.textContent = name;
    button.append(words);
    button.addEventListener("click", () => { ink.pen(n); paint(); });
    $("pens").append(button);
  });
  for (const [name, text] of [["undo", "Undo"], ["clear", "Wipe"], ["draw", "Done"]]) {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.do = name;
    button.textContent = text;
    $("pens").append(button);
  }
  document.addEventListener("keydown", event => { if (event.key === "Escape" && ink.on && !help.open) pen(false); });

  // -- the beginning -----------------------------------------------------------------------------------------------
  data.steps.forEach((step, n) => {
    const option = document.createElement("option");
    option.value = n;
    option.textContent = `${n + 1}. ${step.title}${step.goesOn ? " …" : ""}`;
    $("goto").append(option);
  });
  $("goto").addEventListener("change", () => show(Number($("goto").value)));
  if ($("keys")) for (const [name, [, key, text]] of Object.entries(ACTS)) {
    const item = document.createElement("li"), button = document.createElement("button"), keys = document.createElement("kbd");
    button.type = "button";
    button.dataset.do = name;
    button.textContent = text;
    keys.textContent = key;
    item.append(button, keys);
    $("keys").append(item);
  }
  $("letters")?.addEventListener("change", event => { look.letters = event.target.checked; keepLook(); });
  if ($("letters")) $("letters").checked = look.letters;
  document.documentElement.style.setProperty("--lb-size", look.size);

  // Widgets come one by one; what was kept of this step is put in place as they do.
  let calm = 0, wish = data.start.at.shown || 0;
  new MutationObserver(() => {
    clearTimeout(calm);
    calm = setTimeout(() => {
      document.querySelectorAll(".lb-lines").forEach(tellLines);
      document.querySelectorAll("[id^=voila-][role]").forEach(one => one.removeAttribute("role"));    // empty, and no landmark
      for (const panel of main.querySelectorAll(".lb-panel:not([tabindex])")) {      // it scrolls, so the keyboard must get there
        panel.tabIndex = 0;
        panel.setAttribute("role", "group");
        panel.setAttribute("aria-label", panel.querySelector(".lb-lines") ? "Read aloud" : "Questions");
      }
      carry();
      applyLayers();
      while (wish > shown && held().length > shown) open(held()[shown], shown + 1 === wish);
      if (shown >= wish) wish = 0;
      fit();
      ink.draw();
      words();
    }, 30);
  }).observe(main, { subtree: true, childList: true, attributes: true, attributeFilter: ["data-hide"] });
  new ResizeObserver(() => { fit(); ink.draw(); }).observe(main);
  const named = location.hash ? decodeURIComponent(location.hash.slice(1)) : data.start.at.step;
  const begin = data.steps.findIndex(step => step.name === named);
  show(Math.max(0, begin), 0, false);
  addEventListener("pagehide", () => send(true));
  document.addEventListener("visibilitychange", async () => {
    if (document.visibilityState !== "visible") { send(true); return; }
    const answer = await fetch(`/present/alive/${data.kernel}`).catch(() => null);
    if (answer?.status === 404) location.reload();
  });
  if (data.kind !== "presenter") setInterval(async () => {
    const now = await fetch("/present/state").then(answer => answer.json()).catch(() => null);
    if (!now || now.seed === data.seed || tried) return;
    tried = true;
    const link = document.createElement("a");
    link.href = `/lesson/${data.lesson}`;
    link.textContent = `The class is on number ${now.seed} now. Go there.`;
    told.replaceChildren(link);
  }, 15000);
})();
