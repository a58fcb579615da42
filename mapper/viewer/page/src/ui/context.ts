// What the parts of this room share: the state of the page, the device, and which sheet is open.

import type { LoadedShape } from "../lib/shape.ts";
import type { Device } from "../device/device.ts";
import type { App, Topic } from "../state.ts";
import type { Flat, Id, SkinHeader } from "../wire.ts";
import type { Under } from "../views/types.ts";
import type { Recording } from "./recording.ts";

/** What the sheet beside the views shows; "none": nothing, the views have the room. */
export type Pane = "none" | "here" | "form" | "entries" | "entry" | "show" | "numbers";

export interface Ui {
  readonly app: App;
  readonly device: Device;
  readonly recording: Recording;
  /** Shape of the part that is open, null while it is not there. */
  shape: LoadedShape | null;
  /** Where the person tapped last on this part. */
  here: Under | null;
  pane: Pane;
  /** Listen for as long as the present screen stands. */
  on(topic: Topic, listener: () => void): void;
  open(pane: Pane): void;
  openPart(id: Id): void;
  openEntry(id: Id): void;
  openAirframe(): void;
  turnTo(flat: Flat): void;
}

export function skinOf(ui: Ui): SkinHeader | null {
  return ui.shape?.header.skins[ui.app.skin] ?? null;
}

/** Do it, and say aloud what went wrong instead of losing it. */
export function trying(app: App, what: string, work: () => Promise<unknown>): void {
  work().catch((error: unknown) => {
    const why = error instanceof Error ? error.message : String(error);
    app.say(`${what}: ${why}`, "wrong");
  });
}
