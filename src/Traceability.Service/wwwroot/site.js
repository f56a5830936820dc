"use strict";
// Pages work without this file. It keeps the board fresh, tells an open unit page that its unit changed, and opens
// everything before printing.
const main = document.getElementById("main");
const live = main.dataset.live ?? "";

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
  new EventSource("/v1/notices").addEventListener("unit", refresh);
  document.addEventListener("visibilitychange", refresh);
} else if (live.startsWith("unit:")) {
  new EventSource("/v1/notices").addEventListener("unit", notice => {
    if (notice.data === live.slice(5) || notice.data === JSON.stringify(live.slice(5))) document.getElementById("changed").hidden = false;
  });
}

addEventListener("beforeprint", () => document.querySelectorAll("details").forEach(d => d.open = true));
