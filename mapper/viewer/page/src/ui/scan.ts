// A tag's code by the camera, where the browser can read codes; typing it always works.

import { dialog, el } from "./el.ts";

interface Detector {
  detect(source: HTMLVideoElement): Promise<{ rawValue: string }[]>;
}
type Maker = new () => Detector;

function maker(): Maker | null {
  return (globalThis as { BarcodeDetector?: Maker }).BarcodeDetector ?? null;
}

export function canScan(): boolean {
  // mediaDevices is only there on secure origins.
  return maker() !== null && (navigator as { mediaDevices?: MediaDevices }).mediaDevices !== undefined;
}

const EVERY = 200; // ms between looks: often enough for a hand that holds a tag

export function scan(found: (code: string) => void): void {
  const Made = maker();
  if (Made === null) return;
  const video = el("video", { class: "scan", muted: true, playsinline: true });
  const told = el("p", { role: "status" }, "Hold the tag before the camera.");
  let stream: MediaStream | null = null;
  let timer = 0;
  let open = true;
  const opened = dialog("Scan a tag", "wide", () => {
    open = false;
    clearTimeout(timer);
    stream?.getTracks().forEach((track) => track.stop());
  });
  opened.body.append(told, video);
  const failed = (error: unknown) => {
    const why = error instanceof Error ? error.message : String(error);
    told.textContent = `The camera cannot be used (${why}). Type the code instead.`;
  };
  const detector = new Made();
  const look = async (): Promise<void> => {
    try {
      const [code] = await detector.detect(video);
      if (!open) return;
      if (code !== undefined) {
        opened.close();
        found(code.rawValue);
        return;
      }
    } catch (error) {
      failed(error);
      return;
    }
    timer = window.setTimeout(() => void look(), EVERY);
  };
  navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } }).then(
    async (got) => {
      stream = got;
      // Closed before the camera had answered: it must not stay on.
      if (!open) {
        got.getTracks().forEach((track) => track.stop());
        return;
      }
      video.srcObject = got;
      await video.play();
      void look();
    },
    failed,
  );
}
