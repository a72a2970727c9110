// What every page has: that scripts run, so that buttons for those without them go away.
document.documentElement.classList.add("scripts");

// A form that is refused says why in place and keeps what was typed; without scripts the answer is a page of its own, as it
// is of a form with data-page, which answers with a page or a file.
document.querySelectorAll(".office main form[method=post]:not([data-page], #price), form[data-here]").forEach((form) => form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const pressed = event.submitter, sent = new FormData(form), get = form.method === "get";
  if (pressed && pressed.name) sent.append(pressed.name, pressed.value);
  const to = get ? `${form.action.split("?")[0]}?${new URLSearchParams(sent)}` : form.action;
  const told = form.querySelector(".here") || form.insertBefore(Object.assign(document.createElement("p"), { className: "fault here" }), form.firstChild);
  told.setAttribute("role", "alert"); told.textContent = "";
  if (pressed) pressed.disabled = true;
  try {
    const answer = await fetch(to, { method: form.method, body: get ? undefined : sent, headers: { Accept: "application/json" } });
    if (get && answer.ok) return location.assign(to);
    const said = await answer.json();
    if (said.to) return location.assign(said.to);
    told.textContent = [said.error, said.hint].filter(Boolean).join(" ");
  } catch (error) { told.textContent = "The page does not answer. Nothing is known to be stored: look before you press again."; }
  if (pressed) pressed.disabled = false;
  told.scrollIntoView({ block: "nearest" });
}));
