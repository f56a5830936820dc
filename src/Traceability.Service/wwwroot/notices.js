"use strict";
// One stream of notices for all tabs of a browser: HTTP/1.1 gives a browser six connections to a host, and each open page would take one.
// Open while at least one page listens.
const pages = new Set();
let stream = null;

const tell = (kind, data) => pages.forEach(page => page.postMessage({ kind, data }));

const tend = () => {
  if (pages.size > 0 && stream === null) {
    stream = new EventSource("/v1/notices");
    stream.addEventListener("unit", notice => tell("unit", notice.data));
    // A stream that the service ended for good (signed out) is not opened again before the next page asks.
    stream.addEventListener("error", () => { if (stream?.readyState === EventSource.CLOSED) { stream = null; } });
  } else if (pages.size === 0 && stream !== null) {
    stream.close();
    stream = null;
  }
};

addEventListener("connect", event => {
  const page = event.ports[0];
  page.onmessage = message => {
    if (message.data === "listen") pages.add(page);
    else pages.delete(page);
    tend();
  };
});
