/* keepOffline(): from now on this page, what it leads to and the recorder open without a network, see offline_worker.js. */

export async function keepOffline() {
  if (!navigator.serviceWorker || !window.isSecureContext) return;
  try {
    await navigator.serviceWorker.register("/sw.js", { updateViaCache: "none" });
    const { active } = await navigator.serviceWorker.ready;
    // The first page of all came before there was a worker to keep it.
    if (!navigator.serviceWorker.controller) active.postMessage({ keep: location.pathname + location.search });
  } catch (error) {
    console.info("Without a network these pages will not open.", error);
  }
}
