// Keeping the page for where there is no signal: the worker, and what it is to keep.

/**
 * @param {string[]} addresses that are to be there without a line
 * @param {() => void} newer told when a newer page is ready
 */
export async function keepPage(addresses, newer) {
  if (!("serviceWorker" in navigator)) return;
  const had = Boolean(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener("message", (event) => {
    if (event.data?.kept) document.documentElement.dataset["kept"] = "yes";
  });
  navigator.serviceWorker.addEventListener("controllerchange", () => { if (had) newer(); });
  try {
    await navigator.serviceWorker.register("/worker.js");
    const ready = await navigator.serviceWorker.ready;
    ready.active?.postMessage({ keep: addresses });
  } catch {
    // Without a worker the page works as long as its server does.
  }
}
