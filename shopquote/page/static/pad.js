// The pad: click corner after corner, or draw the bar's line in one stroke. Whole angles, whole lengths; the words are
// written while you draw. Keys: left and right turn the next leg, up and down lengthen it, Enter sets it, Backspace takes it back.
const SVG = "http://www.w3.org/2000/svg", W = 400, H = 250, TURN = 15;
const el = (name, attributes, text) => { const one = document.createElementNS(SVG, name); for (const [key, value] of Object.entries(attributes)) one.setAttribute(key, value); if (text !== undefined) one.textContent = text; return one; };
const rad = (a) => a * Math.PI / 180, snap = (v, to) => Math.round(v / to) * to, aim = (a) => Math.abs(a - snap(a, 45)) <= 12 ? snap(a, 45) : snap(a, TURN);

// Ramer 1972: the points that a line cannot do without.
function corners(line, least) {
  if (line.length < 3) return line;
  const a = line[0], b = line[line.length - 1], len = Math.hypot(b.x - a.x, b.y - a.y) || 1;
  let far = 0, at = 0;
  line.forEach((p, i) => { const d = Math.abs((b.x - a.x) * (a.y - p.y) - (a.x - p.x) * (b.y - a.y)) / len; if (d > far) { far = d; at = i; } });
  return far < least ? [a, b] : corners(line.slice(0, at + 1), least).slice(0, -1).concat(corners(line.slice(at), least));
}

function build(box, mark) {                              // the pad's own elements, made once
  const svg = el("svg", { class: "pad", viewBox: `0 0 ${W} ${H}`, tabindex: 0, role: "application", "aria-label": `Pad for part ${mark}: click the corners or draw the line. Arrow left and right turn, up and down lengthen, Enter sets the leg, Backspace takes it back` });
  const row = document.createElement("div"); row.className = "row inset";
  const pick = (text, options) => { const label = document.createElement("label"), select = document.createElement("select"); label.textContent = text; options.forEach(([value, shown]) => select.add(new Option(shown, value))); select.dataset.pad = text; label.append(select); row.append(label); return select; };
  const across = pick("Pad shows", [[400, "400"], [1000, "1000"], [4000, "4000"]]), former = pick("Bent round", FORMERS.map((r) => [r, "r " + r]));
  former.value = FORMERS.find((r) => r >= 16) || FORMERS[0];
  const wipe = document.createElement("button"); Object.assign(wipe, { type: "button", className: "small", textContent: "Wipe" }); row.append(wipe);
  const how = Object.assign(document.createElement("p"), { className: "soft", textContent: "Click where the bar begins, then each corner; or draw it in one stroke. Lengths and angles are typed over below." });
  box.append(how, svg, row);
  return { svg, across, former, wipe };
}

function openPad(part) {
  const box = part.querySelector(".pad-box"), button = part.querySelector(".pad-open");
  box.hidden = false; button.setAttribute("aria-expanded", "true");
  if (box.pad) { box.pad.svg.focus({ preventScroll: true }); return; }
  const pad = box.pad = build(box, part.querySelector("[name$='-mark']").value), { svg } = pad;
  const k = () => W / +pad.across.value, whole = () => +pad.across.value / 40;
  let points = [{ x: 40, y: 200 }], next = { heading: 0, length: whole() * 10 }, stroke = null, begun = false;
  const legs = () => points.slice(1).map((p, i) => ({ length: snap(Math.hypot(p.x - points[i].x, p.y - points[i].y) / k(), whole()), heading: snap(Math.atan2(points[i].y - p.y, p.x - points[i].x) * 180 / Math.PI, TURN) }));
  function addCorner(x, y) {
    const last = points[points.length - 1], length = snap(Math.hypot(x - last.x, y - last.y) / k(), whole()), heading = aim(Math.atan2(last.y - y, x - last.x) * 180 / Math.PI);
    if (length <= 0) return;
    const before = legs().pop();
    if (before && before.heading === heading) { points.pop(); addCorner(x, y); return; }     // straight on: one leg, not two
    points.push({ x: last.x + Math.cos(rad(heading)) * length * k(), y: last.y - Math.sin(rad(heading)) * length * k() });
    next = { heading, length };
  }
  function tell() {                                      // the first bend is positive: the part turned over is the same part
    const all = legs(), said = [];
    let over = 0;
    all.forEach((leg, i) => {
      if (i) { let a = ((leg.heading - all[i - 1].heading + 540) % 360) - 180; if (a === -180) a = 180; if (!over) over = a < 0 ? -1 : 1; said.push(`bend ${a * over} r ${pad.former.value}`); }
      said.push(`leg ${leg.length}`);
    });
    words(part).value = said.join("; "); show(); builder(part); typed();
  }
  function show() {
    const last = points[points.length - 1], n = { x: last.x + Math.cos(rad(next.heading)) * next.length * k(), y: last.y - Math.sin(rad(next.heading)) * next.length * k() };
    svg.textContent = "";
    for (let g = 0; g <= W; g += 20) svg.append(el("path", { class: "grid", d: `M${g} 0V${H}M0 ${g}H${W}` }));
    svg.append(el("polyline", { class: "drawn", points: (stroke || points).map((p) => `${p.x.toFixed(1)},${p.y.toFixed(1)}`).join(" ") }), el("path", { class: "next", d: `M${last.x} ${last.y}L${n.x} ${n.y}` }), el("circle", { class: "start", cx: points[0].x, cy: points[0].y, r: 5 }));
    legs().forEach((leg, i) => svg.append(el("text", { class: "num", "text-anchor": "middle", x: (points[i].x + points[i + 1].x) / 2, y: (points[i].y + points[i + 1].y) / 2 - 9 }, leg.length)));
    svg.append(el("text", { class: "ang", x: Math.min(n.x + 6, W - 90), y: Math.max(n.y - 8, 16) }, `${next.length}, ${next.heading}°`));
  }
  const at = (e) => { const b = svg.getBoundingClientRect(); return { x: (e.clientX - b.left) * W / b.width, y: (e.clientY - b.top) * H / b.height }; };
  svg.onpointerdown = (e) => { svg.setPointerCapture(e.pointerId); stroke = [at(e)]; };
  svg.onpointermove = (e) => {
    const p = at(e), last = points[points.length - 1];
    if (stroke) stroke.push(p); else next = { length: Math.max(whole(), snap(Math.hypot(p.x - last.x, p.y - last.y) / k(), whole())), heading: aim(Math.atan2(last.y - p.y, p.x - last.x) * 180 / Math.PI) };
    show();
  };
  svg.onpointerup = () => {
    const line = stroke || [], travel = line.reduce((s, p, i) => s + (i ? Math.hypot(p.x - line[i - 1].x, p.y - line[i - 1].y) : 0), 0); stroke = null;
    if (!line.length) return;
    if (travel < 12) {
      if (points.length === 1 && !begun) { begun = true; points = [line[0]]; show(); return; }
      addCorner(line[0].x, line[0].y);
    } else {
      const found = corners(line, 11); if (points.length === 1) points = [found[0]];
      found.slice(1).forEach((p, i) => { const last = points[points.length - 1]; addCorner(last.x + p.x - found[i].x, last.y + p.y - found[i].y); });
    }
    tell();
  };
  svg.onkeydown = (e) => {
    const last = points[points.length - 1], does = {
      ArrowLeft: () => { next.heading += TURN; }, ArrowRight: () => { next.heading -= TURN; }, ArrowUp: () => { next.length += whole(); }, ArrowDown: () => { next.length = Math.max(whole(), next.length - whole()); },
      Backspace: () => { if (points.length > 1) { points.pop(); tell(); } },
      Enter: () => { addCorner(last.x + Math.cos(rad(next.heading)) * next.length * k(), last.y - Math.sin(rad(next.heading)) * next.length * k()); tell(); },
    }[e.key];
    if (does) { e.preventDefault(); e.stopPropagation(); does(); show(); }
  };
  pad.former.onchange = tell;
  pad.across.onchange = () => { points = [points[0]]; next.length = whole() * 10; show(); };
  pad.wipe.onclick = () => { points = [points[0]]; begun = false; words(part).value = ""; show(); builder(part); typed(); svg.focus(); };
  show(); svg.focus({ preventScroll: true });
}
document.addEventListener("click", (event) => {
  const button = event.target.closest(".pad-open"); if (!button) return;
  const part = button.closest("[data-row=part]"), box = part.querySelector(".pad-box");
  if (box.hidden) openPad(part); else { box.hidden = true; button.setAttribute("aria-expanded", "false"); }
});
