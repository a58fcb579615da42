// Room on this device: what waits to be sent comes first, entries before photos, and both before
// what the server has. Browsers do not say truly how much room is left (some always name the same
// number), so nothing is reckoned here: it is tried, and what is less needed gives way.

const LASTING = "airframe-map lasting"; // shapes and photos that the service worker keeps
/** Bytes of nothing, kept so that they can be given up for entries when the device is full: one
 * takes a few thousand, a photo millions. */
export const BALLAST = 8_000_000;

/** The device is full. Nothing of what was to be kept is kept. */
export class NoRoom extends Error {
  constructor(what: string) {
    super(
      `There is no room left on this device for ${what}, and it is not kept here. Send what waits, or`
        + " save it to a file; then make room on the device.",
    );
  }
}

/** Throws away what can be fetched again: photos first, then shapes. False for nothing left. */
export async function makeRoom(): Promise<boolean> {
  if (typeof caches === "undefined" || !(await caches.has(LASTING))) return false;
  const kept = await caches.open(LASTING);
  const all = await kept.keys();
  const photos = all.filter((r) => new URL(r.url).pathname.startsWith("/api/photos/"));
  const go = photos.length > 0 ? photos : all;
  for (const request of go) await kept.delete(request);
  return go.length > 0;
}
