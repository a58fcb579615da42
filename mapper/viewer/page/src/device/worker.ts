// Puts the service worker in its place and says when a newer page waits.

import type { App } from "../state.ts";

declare global {
  interface Window {
    // Not in the standard library's types yet.
    trustedTypes?: {
      createPolicy(
        name: string,
        rules: { createScriptURL(address: string): string },
      ): { createScriptURL(address: string): unknown };
    };
  }
}

let waiting: ServiceWorker | null = null;

// The policy allows scripts of our own address alone, and the browser wants it said here too; once, as a
// page that finds no server at first begins again.
const policy = window.trustedTypes?.createPolicy("airframe-map", {
  createScriptURL: (address: string) => {
    if (address !== "/sw.js") throw new TypeError(address);
    return address;
  },
});

export async function registerWorker(app: App): Promise<void> {
  const workers = navigator.serviceWorker;
  if (workers === undefined) {
    app.say("This address is not a safe one for the browser: without a network the page cannot be"
      + " opened again. What is recorded still waits on this device.", "warn");
    return;
  }
  const address = policy?.createScriptURL("/sw.js") ?? "/sw.js";
  const placed = await workers.register(address as string, { updateViaCache: "none" });
  const look = () => {
    // The very first one waits for nobody: it is this page itself.
    if (placed.waiting === null || placed.active === null) return;
    waiting = placed.waiting;
    app.tell("newer");
  };
  look();
  placed.addEventListener("updatefound", () => {
    placed.installing?.addEventListener("statechange", look);
  });
  setInterval(() => void placed.update().catch(() => {}), 10 * 60_000);
}

export function newerWaits(): boolean {
  return waiting !== null;
}

/** Change to the newer page now. */
export function reloadToNewer(): void {
  navigator.serviceWorker?.addEventListener("controllerchange", () => location.reload(), {
    once: true,
  });
  waiting?.postMessage("go on with the newer page");
}
