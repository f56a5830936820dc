// What only the browser can do for the kiosk: its key, its durable store, its local time. Everything that decides anything is C#.
//
// Stores: meta (this device: id, sequence, previous hash, clock offset), keys (the key pair), people (who may sign on without the
// service), outbox (entries that are not yet safe at the service), recent (short lines of those that are), bundle (dossiers).

const name = "traceability-kiosk";
const stores = ["meta", "keys", "people", "outbox", "recent", "bundle"];
let opened;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(name, 1);
    request.onupgradeneeded = () => stores.forEach(store => request.result.createObjectStore(store));
    request.onsuccess = () => {
      // Another tab that brings a newer layout must not wait for this one for ever.
      request.result.onversionchange = () => { request.result.close(); opened = undefined; };
      resolve(request.result);
    };
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("Another tab keeps the kiosk's store busy."));
  });
  return opened;
}

// Runs work in one transaction and answers only when it is on the disk, not when the last request succeeded.
async function change(names, work) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const transaction = db.transaction(names, "readwrite", { durability: "strict" });
    let answer;
    transaction.oncomplete = () => resolve(answer);
    transaction.onabort = () => reject(transaction.error ?? new Error("The entry could not be saved here."));
    work(transaction, value => { answer = value; });
  });
}

async function look(store, ask) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const request = ask(db.transaction(store, "readonly").objectStore(store));
    request.onsuccess = () => resolve(request.result ?? null);
    request.onerror = () => reject(request.error);
  });
}

export const get = (store, key) => look(store, s => s.get(key));
export const all = store => look(store, s => s.getAll());
export const put = (store, key, value) => change([store], t => t.objectStore(store).put(value, key));
export const remove = (store, key) => change([store], t => t.objectStore(store).delete(key));

// The bundle holds bytes; they cross to C# as bytes.
export const getBytes = async key => await get("bundle", key) ?? new Uint8Array(0);

// Stores an entry and moves the device's sequence and previous hash on, together or not at all. False: another tab was first.
export function commit(expectedSequence, entry) {
  return change(["meta", "outbox"], (transaction, answer) => {
    const meta = transaction.objectStore("meta");
    const request = meta.get("device");
    request.onsuccess = () => {
      const device = request.result;
      if (!device || device.sequence !== expectedSequence) { answer(false); return; }
      meta.put({ ...device, sequence: entry.sequence, previous: entry.contentHash }, "device");
      transaction.objectStore("outbox").put(entry, entry.sequence);
      answer(true);
    };
  });
}

// Takes an entry's bytes away and leaves its short line, together or not at all.
export function settle(entry) {
  return change(["outbox", "recent"], transaction => {
    transaction.objectStore("outbox").delete(entry.sequence);
    transaction.objectStore("recent").put(entry, entry.sequence);
  });
}

// A new key pair in place of the old one. The private key cannot be read out, not even by this code.
export async function makeKey() {
  const pair = await crypto.subtle.generateKey({ name: "ECDSA", namedCurve: "P-256" }, false, ["sign", "verify"]);
  const spki = new Uint8Array(await crypto.subtle.exportKey("spki", pair.publicKey));
  await put("keys", "device", pair);
  return base64(spki);
}

// ECDSA P-256 with SHA-256 over the bytes; base64 of r and s, 32 bytes each (IEEE P1363).
export async function sign(bytes) {
  const pair = await get("keys", "device");
  if (!pair) throw new Error("This kiosk has no key.");
  return base64(new Uint8Array(await crypto.subtle.sign({ name: "ECDSA", hash: "SHA-256" }, pair.privateKey, bytes)));
}

// Signs several texts, each base64, as sign does.
export const signAll = texts => Promise.all(texts.map(text => sign(bytesOf(text))));

// The key without which what is kept to check PINs here cannot be tried elsewhere. Made once; it cannot be read out, not even by this code.
async function pinKey() {
  const kept = await get("keys", "pins");
  if (kept) return kept;
  const made = await crypto.subtle.generateKey({ name: "HMAC", hash: "SHA-256" }, false, ["sign"]);
  // Two tabs may make one at the same moment; the one that was stored first holds.
  return await change(["keys"], (transaction, answer) => {
    const keys = transaction.objectStore("keys");
    const request = keys.get("pins");
    request.onsuccess = () => { if (!request.result) keys.put(made, "pins"); answer(request.result ?? made); };
  });
}

export const random = count => base64(crypto.getRandomValues(new Uint8Array(count)));

// PBKDF2 with SHA-256, 32 bytes, then HMAC-SHA-256 with this browser's own key, base64: the browser's own is many times faster than one in WebAssembly.
export async function derive(secret, salt, iterations) {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(secret), "PBKDF2", false, ["deriveBits"]);
  const bits = await crypto.subtle.deriveBits({ name: "PBKDF2", hash: "SHA-256", salt: bytesOf(salt), iterations }, key, 256);
  return base64(new Uint8Array(await crypto.subtle.sign("HMAC", await pinKey(), bits)));
}

const base64 = bytes => btoa(String.fromCharCode(...bytes));
const bytesOf = text => Uint8Array.from(atob(text), c => c.charCodeAt(0));

// Minutes that local time is ahead of UTC at a moment.
export const offsetMinutes = milliseconds => -new Date(milliseconds).getTimezoneOffset();

// Asks that the browser never clears the store by itself; a "no" is shown on the device page.
export async function keepStorage() {
  if (!navigator.storage?.persist) return false;
  return await navigator.storage.persisted() || await navigator.storage.persist();
}

// One tab at a time delivers. False: another one is at it.
export async function holdDelivery() {
  return new Promise(resolve => {
    navigator.locks.request("traceability-kiosk-delivery", { ifAvailable: true }, lock => {
      resolve(lock !== null);
      // Held until the tab goes away.
      return lock === null ? undefined : new Promise(() => { });
    });
  });
}

let listener;
const idleAfter = 10 * 60 * 1000;

// Calls back when nobody has touched the kiosk for a while: others stand at it too.
function watchIdle() {
  let timer;
  const touched = () => { clearTimeout(timer); timer = setTimeout(() => listener.invokeMethodAsync("Idle"), idleAfter); };
  for (const event of ["pointerdown", "keydown"]) addEventListener(event, touched, { capture: true, passive: true });
  touched();
}

// The browser's hints that it is worth trying now, and that a new version waits. Hints only: the service is always asked.
export async function listen(dotnet) {
  listener = dotnet;
  watchIdle();
  addEventListener("online", () => listener.invokeMethodAsync("Hint"));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) listener.invokeMethodAsync("Hint"); });
  const registration = await navigator.serviceWorker?.getRegistration();
  if (!registration) return;
  const told = () => { if (registration.waiting && navigator.serviceWorker.controller) listener.invokeMethodAsync("NewVersion"); };
  registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", told));
  told();
}

// Goes over to the version that waits.
export async function renew() {
  const registration = await navigator.serviceWorker.getRegistration();
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload());
  registration?.waiting?.postMessage("take over");
}

export function focus(id) {
  document.getElementById(id)?.focus();
}
