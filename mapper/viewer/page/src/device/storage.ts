// Room on this device: what waits to be sent comes first, entries before photos, and both before
// what the server has.

const LASTING = "airframe-map lasting"; // shapes and photos that the service worker keeps
/** Left free for entries when a photo comes: one takes a few thousand bytes, a photo millions. */
export const FOR_ENTRIES = 20_000_000;

/** The device is full. Nothing of what was to be kept is kept. */
export class NoRoom extends Error {
  constructor(words = "There is no room left on this device, and it is not kept.") {
    super(
      `${words} Send what waits, or save it to a file; then make room on the device (other pages,`
        + " downloads).",
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

/** Throws NoRoom where a photo of so many bytes would leave no room for entries. */
export async function roomForPhoto(size: number): Promise<void> {
  for (;;) {
    const { usage, quota } = (await navigator.storage?.estimate?.()) ?? {};
    // A browser that does not say how much there is refuses when it is full.
    if (usage === undefined || quota === undefined || quota === 0) return;
    if (quota - usage - size >= Math.min(FOR_ENTRIES, quota / 10)) return;
    if (!(await makeRoom())) {
      const mb = (size / 1e6).toFixed(1);
      throw new NoRoom(
        `A photo of ${mb} MB has no room on this device: what is left is for entries without one.`,
      );
    }
  }
}
