// What every page has: that scripts run, so that buttons for those without them go away.
document.documentElement.classList.add("scripts");

// A place on the page that is open is scrolled to, and what was stored would not be seen: it is loaded anew.
function lead(to) {
  const here = to.hash && to.pathname + to.search === location.pathname + location.search;
  location.assign(to);
  if (here) location.reload();
}

// What a question was answered with is put in the place of the page's work; it is not worked out again by loading its address.
let shown = location.pathname + location.search;
function put(text, to) {
  const came = new DOMParser().parseFromString(text, "text/html").querySelector("main"), field = document.activeElement && document.activeElement.id;
  history.pushState(null, "", to);
  shown = to.pathname + to.search;
  document.querySelector("main").replaceWith(came);
  const same = field && document.getElementById(field);
  if (same) same.focus({ preventScroll: true });
}
addEventListener("popstate", () => { if (location.pathname + location.search !== shown) location.reload(); });

// A form that is refused says why in place and keeps what was typed; without scripts the answer is a page of its own, as it
// is of a form with data-page, which answers with a page or a file.
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.matches(".office main form[method=post]:not([data-page], #price), form[data-here]")) return;
  event.preventDefault();
  const pressed = event.submitter, sent = new FormData(form), get = form.method === "get";
  if (pressed && pressed.name) sent.append(pressed.name, pressed.value);
  const to = new URL(form.action);
  to.hash = "";                                          // a form without an action has the page's own
  if (get) to.search = new URLSearchParams(sent);
  const told = form.querySelector(".here") || form.insertBefore(Object.assign(document.createElement("p"), { className: "fault here" }), form.firstChild);
  told.setAttribute("role", "alert"); told.textContent = "";
  if (pressed) pressed.disabled = true;
  try {
    const answer = await fetch(to, { method: form.method, body: get ? undefined : sent, headers: { Accept: "application/json" } });
    if (get && answer.ok) return put(await answer.text(), to);
    const said = await answer.json();
    if (said.to) return lead(new URL(said.to, location));
    told.textContent = [said.error, said.hint].filter(Boolean).join(" ");
  } catch (error) { told.textContent = "The page does not answer. Nothing is known to be stored: look before you press again."; }
  if (pressed) pressed.disabled = false;
  told.scrollIntoView({ block: "nearest" });
});
