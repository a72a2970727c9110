// New price: what is typed goes to the server at each pause and comes back worked out. No rule is here.
const form = document.querySelector("#price"), parts = document.querySelector("#parts"), kept = document.querySelector("#kept");
const token = document.querySelector("meta[name=form-token]").content, FORMERS = form.dataset.formers.split(" ").map(Number);
const named = (name) => form.elements.namedItem(name);
let number = 1000, pause, later, keeping, asking;

async function post(address, more) {
  const answer = await fetch(address, { method: "POST", body: new FormData(form), headers: { "X-Form-Token": token, Accept: "application/json" }, ...more });
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.error || "The server does not answer.");
  return told;
}

// One question at a time: a newer one ends the older. The asked quantity first, the others when nothing more is typed.
async function ask(others) {
  if (asking) asking.abort();
  asking = new AbortController();
  try {
    const told = await post(form.dataset.live + (others ? "?others=1" : ""), { signal: asking.signal });
    show(told);
    clearTimeout(later);
    if (!others && named("job-0-breaks").value.trim()) later = setTimeout(() => ask(true), 400);
  } catch (error) {
    if (error.name !== "AbortError") kept.textContent = error.message;
  }
}

function show(told) {
  for (const place of form.querySelectorAll(".fault")) {
    const name = place.id.slice(2), text = told.faults[name] || "", field = named(name);
    if (place.textContent !== text) place.textContent = text;
    if (field && field.setAttribute) text ? field.setAttribute("aria-invalid", "true") : field.removeAttribute("aria-invalid");
  }
  for (const [row, html] of Object.entries(told.see)) {
    const place = document.querySelector("#see-" + row);
    if (place && place.dataset.held !== html) { place.innerHTML = html; place.dataset.held = html; }
  }
  const ticket = document.querySelector("#ticket"), open = ticket.querySelector("details[open]");
  ticket.innerHTML = told.ticket;
  if (open) ticket.querySelectorAll("details").forEach((one) => { one.open = true; });   // what was opened stays open
}

async function keep() {
  if (sent) return;
  if (keeping) { keeping = "again"; return; }
  keeping = "now";
  try {
    const told = await post(form.dataset.keep);
    named("word").value = told.word; named("version").value = told.version;
    history.replaceState(null, "", "/price/draft/" + told.word);
    kept.textContent = "Draft saved, " + told.at;
  } catch (error) { kept.textContent = error.message; }
  const again = keeping === "again"; keeping = null;
  if (again) keep();
}

// Once it is sent nothing more is asked or kept: the draft becomes the job.
let keepSoon, sent = false;
form.addEventListener("submit", () => { sent = true; for (const one of [pause, later, keepSoon]) clearTimeout(one); if (asking) asking.abort(); });
addEventListener("pageshow", () => { sent = false; });
function typed() {
  clearTimeout(pause); clearTimeout(later); clearTimeout(keepSoon);
  pause = setTimeout(() => ask(false), 200);
  keepSoon = setTimeout(keep, 900);
}

// Rows: a template's fields get the next number; a hole says the row of its part.
function add(name, of) {
  const held = document.createElement("template"), mine = number++;
  held.innerHTML = document.querySelector("#new-" + name).innerHTML.replaceAll(name + "-999-", `${name}-${mine}-`).replaceAll("see-999", "see-" + mine).replaceAll('"999"', `"${mine}"`);
  const row = held.content.firstElementChild;
  if (of !== undefined) row.querySelector("[name$='-of']").value = of;
  const among = name === "holes" ? form.querySelector(`[data-row=part][data-number="${of}"] [data-rows=holes]`) : form.querySelector(`[data-rows=${name}]`);
  if (name === "part") begin(row, among, mine);
  among.append(row);
  const first = row.querySelector(name === "part" ? "[name$='-name']" : "input:not([type=hidden]), select");
  if (first) { first.focus(); if (first.select) first.select(); }
  return row;
}
function begin(row, among, mine) {
  const all = [...among.querySelectorAll("[data-row=part]")], last = all[all.length - 1], marks = all.map((one) => one.querySelector("[name$='-mark']").value);
  let mark = [..."ABCDEFGHIJKLMNOPQRSTUVWXYZ"].find((letter) => !marks.includes(letter)) || "P" + (all.length + 1);
  row.dataset.number = mine;
  row.querySelector("[name$='-mark']").value = mark;
  row.querySelector("[name$='-per_set']").value = "1";
  row.querySelector("legend").textContent = "Part " + mark;
  row.querySelector("[data-of]").dataset.of = mine;
  if (last) row.querySelector("[name$='-grade']").value = last.querySelector("[name$='-grade']").value;
}
form.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button || button.type !== "button") return;
  if (button.dataset.add) { add(button.dataset.add, button.dataset.of); typed(); }
  if (button.hasAttribute("data-away")) {
    const row = button.closest("[data-row]");
    if (row.dataset.row !== "part" || parts.querySelectorAll("[data-row=part]").length > 1) row.remove();
    typed();
  }
  if (button.dataset.step) step(button.closest("[data-row=part]"), button.dataset.step);
});

// The shape as small fields: the same words, for those who do not know them. A word that is none of these stays as it is.
const words = (part) => part.querySelector("[name$='-shape']");
const pieces = (part) => words(part).value.split(";").map((text) => text.trim()).filter(Boolean);
function builder(part) {
  const box = part.querySelector(".steps");
  if (box.contains(document.activeElement)) return;
  const mark = part.querySelector("[name$='-mark']").value;
  box.textContent = "";
  pieces(part).forEach((text, place) => {
    const found = /^(leg)\s+(\S.*)$|^(bend|arc)\s+(\S+)\s+r\s+(\S.*)$/i.exec(text);
    if (!found) return;
    if (found[1]) box.append(small(place, 0, "leg", found[2], mark));
    else box.append(small(place, 0, found[3] + "°", found[4], mark, "bend"), small(place, 1, "inside r", found[5], mark));
  });
  for (const [key, text] of [["leg", "+ leg"], ["bend", "+ bend"], ["back", "undo last"]]) {
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "small", textContent: text }); button.dataset.step = key;
    box.append(button);
  }
}
function small(place, which, text, value, mark, kind) {
  const label = document.createElement("label"), input = document.createElement("input");
  label.textContent = text; label.className = kind || "";
  Object.assign(input, { value, inputMode: "decimal" });
  input.setAttribute("aria-label", `${text} ${place + 1} of part ${mark}`);
  input.dataset.place = place; input.dataset.which = which;
  label.append(input);
  return label;
}
function step(part, key) {
  const all = pieces(part), last = all[all.length - 1] || "", r = (/r\s+(\S+)/.exec([...all].reverse().find((text) => /\br\s/.test(text)) || "") || [])[1] || FORMERS.find((one) => one >= 16) || 20;
  if (key === "leg" && !/^leg/.test(last)) all.push("leg 100"); else if (key === "leg") all.push(`bend 90 r ${r}`, "leg 100");
  if (key === "bend") { if (!/^leg/.test(last)) all.push("leg 100"); all.push(`bend 90 r ${r}`); }
  if (key === "back") all.pop();
  words(part).value = all.join("; ");
  builder(part); typed();
  const fields = part.querySelectorAll(".steps input"); if (fields.length) fields[fields.length - 1].select();
}
form.addEventListener("input", (event) => {
  const part = event.target.closest("[data-row=part]");
  if (event.target.dataset.place !== undefined) {
    const all = pieces(part), place = +event.target.dataset.place, value = event.target.value.trim();
    all[place] = event.target.dataset.which === "1" ? all[place].replace(/r\s+\S.*$/i, "r " + value) : all[place].replace(/^(leg)\s+\S.*$|^(bend|arc)\s+\S+/i, (whole, leg, bend) => `${leg || bend} ${value}`);
    words(part).value = all.join("; ");
  } else if (part && event.target === words(part)) builder(part);
  if (part && /-mark$/.test(event.target.name || "")) part.querySelector("legend").textContent = "Part " + event.target.value;
  typed();
});
form.addEventListener("keydown", (event) => {           // Enter never sends: it opens the next part
  if (event.key !== "Enter" || /BUTTON|TEXTAREA|SUMMARY/.test(event.target.tagName)) return;
  event.preventDefault();
  if (event.ctrlKey || event.metaKey) return form.querySelector("button[value=quote]").click();
  const row = event.target.closest("[data-row=part]");
  if (row && row === parts.lastElementChild) { add("part"); typed(); } else { clearTimeout(pause); ask(false); }
});
addEventListener("dragover", (event) => event.preventDefault());
addEventListener("drop", (event) => {
  event.preventDefault();
  if (!event.dataTransfer.files.length) return;
  document.querySelector("#file").files = event.dataTransfer.files;
  document.querySelector("#drop").requestSubmit();
});
parts.querySelectorAll("[data-row=part]").forEach(builder);
// Whoever opens a new price types at once.
const title = form.querySelector("[name=job-0-title]");
if (title && !title.value && document.activeElement === document.body) title.focus({ preventScroll: true });
