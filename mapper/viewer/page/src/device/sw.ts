// The service worker: the page opens and reloads without a network.
//
// The page's own files are put away when the worker is installed. Shapes and photos never change
// (their address is their digest) and stay once they were seen. Everything else of /api is asked of
// the server alone: the page itself keeps what it needs of it.

// Given when it is bundled: digest of the sources, and every file of the page.
declare const BUILD: string;
declare const ASSETS: string[];

declare const self: ServiceWorkerGlobalScope;
export {};

const SHELL = `airframe-map page ${BUILD}`;
const LASTING = "airframe-map lasting";

self.addEventListener("install", (event) => {
  event.waitUntil(putAway());
});

async function putAway(): Promise<void> {
  const shell = await caches.open(SHELL);
  await shell.addAll(ASSETS.map((path) => new Request(path, { cache: "reload" })));
}

self.addEventListener("activate", (event) => {
  event.waitUntil(tidy());
});

async function tidy(): Promise<void> {
  for (const name of await caches.keys()) {
    if (name.startsWith("airframe-map page ") && name !== SHELL) await caches.delete(name);
  }
  await self.clients.claim();
}

self.addEventListener("message", (event) => {
  // Only when the person says so: a newer page must not cut a stroke in two.
  if (event.data === "go on with the newer page") void self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    event.respondWith(fromShell("/", request));
  } else if (url.pathname.startsWith("/static/")) {
    event.respondWith(fromShell(url.pathname, request));
  } else if (/^\/api\/(shapes|photos)\/[0-9a-f]{64}$/.test(url.pathname)) {
    event.respondWith(lasting(request));
  }
});

async function fromShell(path: string, request: Request): Promise<Response> {
  const shell = await caches.open(SHELL);
  const found = await shell.match(path);
  if (found !== undefined) return found;
  return fromNetwork(request);
}

async function lasting(request: Request): Promise<Response> {
  const kept = await caches.open(LASTING);
  const found = await kept.match(request.url);
  if (found !== undefined) return found;
  const answer = await fromNetwork(request);
  if (answer.status === 200) {
    try {
      await kept.put(request.url, answer.clone());
    } catch {
      // No room left on the device: it is shown all the same.
    }
  }
  return answer;
}

async function fromNetwork(request: Request): Promise<Response> {
  try {
    return await fetch(request);
  } catch {
    return new Response("", { status: 504, statusText: "No network" });
  }
}
