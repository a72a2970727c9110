// Floor: counts with big buttons, a clock, and entries that wait in the phone until the server has answered for their key.
const token = document.querySelector("meta[name=form-token]").content, WAITING = "shopquote waiting", REFUSED = "shopquote refused";
const read = (name) => { try { return JSON.parse(localStorage.getItem(name) || "[]"); } catch (error) { return []; } };
const write = (name, list) => { try { localStorage.setItem(name, JSON.stringify(list)); return true; } catch (error) { return false; } };

document.querySelectorAll(".count").forEach((box) => box.addEventListener("click", (event) => {
  if (!event.target.dataset.by) return;
  const field = box.querySelector("input");
  field.value = Math.max(0, (+field.value || 0) + +event.target.dataset.by);
  spoilt();
}));
function spoilt() { document.querySelectorAll("[data-if-spoilt]").forEach((box) => {
  box.hidden = !(+document.querySelector("[name=spoilt]").value > 0);
  box.querySelectorAll("input").forEach((one) => { one.required = !box.hidden; });        // nobody's reason is invented
}); }
spoilt();
document.addEventListener("input", (event) => { if (event.target.name === "spoilt") spoilt(); });
document.querySelectorAll("[data-all]").forEach((button) => button.addEventListener("click", () => { document.querySelector("[name=good]").value = button.dataset.all; }));

const clock = document.querySelector("#clock");
if (clock) {
  const began = Date.now() - clock.dataset.seconds * 1000, two = (n) => String(n).padStart(2, "0");
  const tick = () => { const s = Math.max(0, Math.floor((Date.now() - began) / 1000)); clock.textContent = `${Math.floor(s / 3600)}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`; };
  tick(); setInterval(tick, 1000);
}

const seen = document.querySelector(".seen");
function say() {
  const n = read(WAITING).length, line = document.querySelector(".waits"), told = document.querySelector(".refused"), no = read(REFUSED);
  if (line) line.textContent = n ? `${n === 1 ? "1 entry waits" : n + " entries wait"} in this phone and will be sent when the network is back.` : "";
  if (told) told.textContent = no.map((one) => one.text).join(" ");
  if (seen) seen.hidden = !no.length;
}
// What was refused stands on every page of the floor until somebody has seen it: nothing of it was counted.
if (seen) seen.addEventListener("click", () => { write(REFUSED, []); say(); });

// One sender at a time, the oldest first. Only an answer that bears the key takes an entry off the list.
let sending = false;
async function flush() {
  if (sending) return false;
  sending = true;
  try {
    for (;;) {
      const [first] = read(WAITING);
      if (!first) return true;
      const answer = await fetch("/f/entry", { method: "POST", headers: { "Content-Type": "application/json", "X-Form-Token": token, Accept: "application/json" }, body: JSON.stringify(first) });
      const told = await answer.json();
      if (told.key !== first.key) return false;
      if (!answer.ok) write(REFUSED, read(REFUSED).concat({ key: first.key, text: `${first.job}, not counted: ${told.error}` }));
      write(WAITING, read(WAITING).filter((entry) => entry.key !== first.key));
    }
  } catch (error) { return false; } finally { sending = false; say(); }
}
document.querySelectorAll("form[data-entry]").forEach((form) => form.addEventListener("submit", (event) => {
  const fields = Object.fromEntries(new FormData(form)), pressed = event.submitter;
  if (pressed && pressed.name) fields[pressed.name] = pressed.value;
  const { key, kind, job, mark, to, token: _unused, ...rest } = fields;
  const entry = { key, kind, job: job || rest["job-typed"] || "", mark, at: new Date().toISOString(), fields: rest };
  const list = read(WAITING);
  if (list.some((one) => one.key === key)) { event.preventDefault(); return; }     // a second press of the same button
  if (!write(WAITING, list.concat(entry))) return;                                   // no room here: it is sent at once as a form
  event.preventDefault();
  write(REFUSED, read(REFUSED).filter((one) => one.key !== key));                    // it was mended and is pressed again
  say();
  flush().then((done) => {
    if (!done) return;
    if (read(REFUSED).some((one) => one.key === key)) scrollTo(0, 0); else location.assign(to);
  });
}));
addEventListener("online", flush);
setInterval(() => { if (read(WAITING).length) flush(); }, 15000);
say(); flush();
