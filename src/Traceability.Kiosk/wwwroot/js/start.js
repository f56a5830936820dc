// Runs before the program, so that the app is kept for the next start even when this one fails.
if ("serviceWorker" in navigator) navigator.serviceWorker.register("service-worker.js", { updateViaCache: "none" });
document.querySelector("#blazor-error-ui .reload").addEventListener("click", () => location.reload());
