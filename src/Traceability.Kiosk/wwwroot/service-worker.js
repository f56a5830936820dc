// While developing nothing is kept, so that every change shows at once. The published app uses service-worker.published.js.
self.addEventListener("fetch", () => { });
