// The time that is left, ticking. The kernel's clock is the one that counts: this one asks it when it is shown, when the page
// comes back into view, and when it reaches zero. A screen reader reads it when it is gone to and never by itself.
function render({ model, el }) {
  el.classList.add("loopbook", "lb-note", "lb-clock");
  const box = make("div");
  box.setAttribute("role", "timer");
  box.setAttribute("aria-live", "off");
  box.setAttribute("aria-label", "time left");
  el.append(box);
  let told = 0, asked = false;     // told: when the kernel last said what is left; 0 while it has not
  const ask = () => press(model, "asked");
  function tick() {
    const given = model.get("left_s");
    box.hidden = given < 0 || told === 0;
    if (box.hidden) return;
    const left = Math.max(0, Math.ceil(given - Math.max(0, Date.now() - told) / 1000));
    const text = `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")} left`;
    if (box.textContent !== text) box.textContent = text;
    if (left === 0 && !asked) { asked = true; ask(); }
  }
  function hear() { told = Date.now(); asked = false; tick(); }
  function back() { if (!document.hidden) ask(); }
  const unfollow = follow(model, [[hear, "n"]]);
  document.addEventListener("visibilitychange", back);
  const every = setInterval(tick, 1000);
  tick();
  ask();
  return () => { clearInterval(every); document.removeEventListener("visibilitychange", back); unfollow(); };
}

export default { render };
