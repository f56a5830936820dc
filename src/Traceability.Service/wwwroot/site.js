"use strict";
// Pages work without this file. It keeps the board fresh, tells an open unit page that its unit changed, keeps what was typed when a form
// could not be taken, guards against a second press, and opens everything before printing.
const main = document.getElementById("main");
const live = main.dataset.live ?? "";

// ---- notices ----

// Calls back for every unit that changed, while the page is shown.
const listen = heard => {
  let stop = null;
  const start = () => {
    if (stop !== null) return;
    if (typeof SharedWorker === "function") {
      const worker = new SharedWorker("/notices.js");
      worker.port.onmessage = message => heard(message.data.data);
      worker.port.postMessage("listen");
      stop = () => worker.port.postMessage("leave");
    } else {
      // Without a shared worker only a page in front holds a stream; coming back to the front it catches up.
      if (document.hidden) return;
      const stream = new EventSource("/v1/notices");
      stream.addEventListener("unit", notice => heard(notice.data));
      stop = () => stream.close();
    }
  };
  const end = () => {
    stop?.();
    stop = null;
  };
  addEventListener("pagehide", end);
  addEventListener("pageshow", event => {
    start();
    if (event.persisted) heard(null);
  });
  if (typeof SharedWorker !== "function") {
    document.addEventListener("visibilitychange", () => {
      if (document.hidden) return end();
      start();
      heard(null);
    });
  }
};

if (live === "board") {
  const box = document.querySelector(".livebox");
  const on = document.getElementById("live");
  box.hidden = false;
  let waiting = false;
  const refresh = async () => {
    if (waiting || !on.checked || document.hidden) return;
    waiting = true;
    await new Promise(done => setTimeout(done, 1500));
    try {
      const answer = await fetch("/", { headers: { accept: "text/html" }, redirect: "error" });
      if (answer.ok && on.checked) swap(new DOMParser().parseFromString(await answer.text(), "text/html"));
    } catch { /* The service is away; the next notice brings it back. */ }
    waiting = false;
  };
  const swap = fresh => {
    for (const part of [".asof", ...[...fresh.querySelectorAll(".questions > section")].map(s => "#" + s.id)]) {
      const old = main.querySelector(part), now = fresh.querySelector(part);
      // A part the reader is inside of, or has opened, is left alone.
      if (old && now && old.innerHTML !== now.innerHTML && !old.contains(document.activeElement) && !old.querySelector("details[open]")) old.replaceChildren(...now.childNodes);
    }
    const tiles = main.querySelector(".tiles");
    if (!tiles.contains(document.activeElement)) tiles.replaceChildren(...fresh.querySelector(".tiles").childNodes);
  };
  listen(refresh);
  document.addEventListener("visibilitychange", refresh);
} else if (live.startsWith("unit:")) {
  listen(unit => {
    if (unit === live.slice(5) || unit === JSON.stringify(live.slice(5))) document.getElementById("changed").hidden = false;
  });
}

// ---- forms ----

// What was typed is kept in this tab until the form was taken: after a wrong PIN, a lost session or an error page it stands there again.
// Secrets are never kept.
const Kept = "typed";
const Longest = 30 * 60 * 1000;
const isSecret = field => field.type === "password" || field.type === "file";
// A form is known by its page, its address and its hidden fields.
const nameOf = form => JSON.stringify([location.pathname, new URL(form.action, location.href).search,
  [...form.elements].filter(f => f.type === "hidden" && f.name !== "__RequestVerificationToken").map(f => [f.name, f.value])]);
const read = () => {
  try {
    const kept = JSON.parse(sessionStorage.getItem(Kept));
    return kept && Date.now() - kept.at < Longest ? kept : null;
  } catch {
    return null;
  }
};
const write = kept => {
  try {
    if (kept === null) sessionStorage.removeItem(Kept);
    else sessionStorage.setItem(Kept, JSON.stringify(kept));
  } catch { /* No room or not allowed: nothing is kept. */ }
};

// A form that a passkey fills: the browser is asked first, then the form goes with its answer.
addEventListener("submit", async event => {
  const form = event.target;
  if (form.dataset.passkey === undefined || form.elements.answer.value !== "") return;
  event.preventDefault();
  const said = form.querySelector("[role=alert]");
  said.hidden = true;
  try {
    const options = JSON.parse(form.dataset.options);
    const made = form.dataset.passkey === "create"
      ? await navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(options) })
      : await navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(options) });
    form.elements.answer.value = JSON.stringify(made);
    form.requestSubmit();
  } catch (error) {
    said.textContent = error.name === "InvalidStateError" ? "This key or device is added already." : "The browser or the key did not answer. Press the button again, or start over.";
    said.hidden = false;
  }
});

// Free text becomes part of a record and stays for ever. The service says whether it names somebody; pressed again it goes as it is. Where the service
// does not answer in time, or not to this person, it goes at once: nobody is held up for a warning.
const PatienceMs = 3000;
addEventListener("submit", async event => {
  const form = event.target;
  const free = [...form.elements].filter(f => f.dataset.free !== undefined).map(f => f.value.trim()).filter(t => t !== "");
  const words = JSON.stringify(free);
  if (form.method !== "post" || event.defaultPrevented || form.dataset.sent || free.length === 0 || form.dataset.looked === words) return;
  event.preventDefault();
  if (form.dataset.looking) return;
  form.dataset.looking = "yes";
  form.querySelector(".named")?.remove();
  let warning = null;
  try {
    const answer = await fetch("/v1/free-text/names", {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ texts: free }), redirect: "error", signal: AbortSignal.timeout(PatienceMs),
    });
    if (answer.ok) warning = (await answer.json()).warning ?? null;
  } catch { /* It goes as it is. */ }
  delete form.dataset.looking;
  form.dataset.looked = words;
  if (warning === null) return form.requestSubmit(event.submitter);
  const said = document.createElement("p");
  said.className = "problem named";
  said.setAttribute("role", "alert");
  said.textContent = warning + " To send it as it is, press the button again.";
  const button = event.submitter ?? form.querySelector("button");
  button.before(said);
  button.focus();
});

addEventListener("submit", event => {
  const form = event.target;
  if (form.method !== "post" || event.defaultPrevented) return;
  // A second press sends nothing more.
  if (form.dataset.sent) return event.preventDefault();
  form.dataset.sent = "yes";
  setTimeout(() => form.querySelectorAll("button").forEach(b => b.disabled = true));
  const sent = [...form.elements].filter(f => f.name && f.type !== "hidden" && !isSecret(f)).map(f =>
    f.type === "checkbox" || f.type === "radio" ? [f.name, f.value, f.checked] : [f.name, f.value]);
  if (form.dataset.keep === "no") write(null);
  else if (form.dataset.keep === undefined) write({ at: Date.now(), path: location.pathname, form: nameOf(form), sent });
});

const restore = () => {
  const kept = read();
  if (kept === null) return write(null);
  // The sign-in page, or a page that says what went wrong, under whatever address: the form was not taken.
  if (main.dataset.untaken === "yes") return write({ ...kept, untaken: true });
  if (kept.path !== location.pathname) return;

  const refused = main.querySelector("[role=alert]") !== null;
  // A page that answers otherwise has taken the form.
  if (!refused && !kept.untaken) return write(null);
  const form = [...document.forms].find(f => f.method === "post" && f.dataset.keep !== "no" && nameOf(f) === kept.form);
  if (form === undefined) return;
  for (const [name, value, checked] of kept.sent) {
    for (const field of form.elements) {
      if (field.name !== name || isSecret(field)) continue;
      if (checked === undefined) field.value = value;
      else if (field.value === value) field.checked = checked;
    }
  }

  for (let part = form.parentElement; part !== null; part = part.parentElement) if (part.tagName === "DETAILS") part.open = true;
  if (!refused) {
    const said = document.createElement("p");
    said.className = "problem";
    said.setAttribute("role", "alert");
    said.textContent = "This was not sent yet. What you typed is here again: check it, then send it again.";
    form.prepend(said);
  }

  (form.querySelector("input[type=password]") ?? form.querySelector("input:not([type=hidden])"))?.focus();
};

restore();
addEventListener("pageshow", event => {
  if (!event.persisted) return;
  document.querySelectorAll("form[data-sent]").forEach(form => {
    delete form.dataset.sent;
    form.querySelectorAll("button").forEach(b => b.disabled = false);
  });
});

addEventListener("beforeprint", () => document.querySelectorAll("details").forEach(d => d.open = true));
