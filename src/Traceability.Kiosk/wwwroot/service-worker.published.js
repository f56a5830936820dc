// Keeps the whole app on the kiosk, so that it starts without a network. Every published version has a cache of its own, filled
// completely or not at all; the old version goes on until the new one is taken over by a person between two entries.
self.importScripts("./service-worker-assets.js");

const prefix = "kiosk-";
const cacheName = prefix + self.assetsManifest.version;
const scope = new URL("./", self.location).href;
const kept = self.assetsManifest.assets.filter(asset => !asset.url.startsWith("service-worker"));
const keptUrls = new Set(kept.map(asset => new URL(asset.url, scope).href));

self.addEventListener("install", event => event.waitUntil(fill()));
self.addEventListener("activate", event => event.waitUntil(Promise.all([dropOldVersions(), self.clients.claim()])));
self.addEventListener("message", event => { if (event.data === "take over") self.skipWaiting(); });

self.addEventListener("fetch", event => {
  const url = new URL(event.request.url);
  url.search = url.hash = "";
  // What is not the app's own (the service's answers) always comes from the service.
  if (event.request.method !== "GET" || !url.href.startsWith(scope)) return;
  if (event.request.mode === "navigate") event.respondWith(keptOrFetched(new URL("index.html", scope).href, event.request));
  else if (keptUrls.has(url.href)) event.respondWith(keptOrFetched(url.href, event.request));
});

async function fill() {
  const cache = await caches.open(cacheName);
  await cache.addAll(kept.map(asset => new Request(new URL(asset.url, scope), { integrity: asset.hash, cache: "no-cache" })));
}

async function dropOldVersions() {
  const names = await caches.keys();
  await Promise.all(names.filter(name => name.startsWith(prefix) && name !== cacheName).map(name => caches.delete(name)));
}

async function keptOrFetched(url, request) {
  const cache = await caches.open(cacheName);
  return await cache.match(url) ?? fetch(request);
}
