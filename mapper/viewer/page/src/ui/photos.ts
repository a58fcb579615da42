// Photos of what is being recorded: from the camera or a file, with caption and scale.

import type { EntryGiven } from "../wire.ts";
import { trying, type Ui } from "./context.ts";
import { dialog, el, refill, twice } from "./el.ts";
import { icon } from "./icons.ts";
import { slip } from "./typed.ts";
import { bytes, digits, lengthOut, lengthUnit } from "./words.ts";

type Use = EntryGiven["photos"][number];

/** A button that opens the camera, or a file; the chosen one goes to `take`. */
function picker(label: string, sign: "photo" | "file", camera: boolean, take: (f: File) => void): HTMLElement {
  const input = el("input", {
    type: "file",
    accept: "image/jpeg,image/png,image/webp",
    capture: camera ? "environment" : null,
    hidden: true,
    tabindex: -1,
    "aria-label": label,
  });
  input.addEventListener("change", () => {
    const file = input.files?.[0];
    // The same picture may be chosen again after it was taken off.
    input.value = "";
    if (file !== undefined) take(file);
  });
  const button = el("button", { type: "button", "data-key": sign }, icon(sign), label);
  button.addEventListener("click", () => input.click());
  return el("span", { class: "picker" }, button, input);
}

export class Photos {
  readonly node = el("div", { class: "photos" });
  #ui: Ui;
  #list = el("ul", { class: "thumbs" });
  #shown = "";

  constructor(ui: Ui) {
    this.#ui = ui;
    const take = (file: File) => this.#take(file);
    this.node.append(
      el(
        "div",
        { class: "row" },
        picker("Photo", "photo", true, take),
        picker("Picture from a file", "file", false, take),
      ),
      this.#list,
    );
    this.refresh();
  }

  #take(file: File): void {
    const { app, recording } = this.#ui;
    const most = app.start?.photo_bytes_most ?? Infinity;
    if (file.size > most) {
      app.say(`The picture has ${bytes(file.size)}; ${bytes(most)} is the most. Take it smaller.`, "wrong");
      return;
    }
    trying(app, "The photo is not kept", async () => {
      await recording.photo(file);
      app.say("The photo is on this device.");
    });
  }

  refresh(): void {
    const photos = this.#ui.app.draft?.entry.photos ?? [];
    const now = photos.map((p) => p.photo_id).join(" ");
    if (now === this.#shown) return;
    this.#shown = now;
    refill(this.#list, photos.map((use, i) => this.#one(use, i)));
  }

  #one(use: Use, i: number): HTMLElement {
    const { recording } = this.#ui;
    const caption = el("input", {
      type: "text",
      value: use.caption,
      "aria-label": `Caption of photo ${i + 1}`,
      placeholder: "caption",
      "data-key": `caption ${use.photo_id}`,
    });
    caption.addEventListener("input", () => {
      use.caption = caption.value;
      recording.touched();
    });
    const scale = el("button", { type: "button" });
    const words = () => {
      scale.textContent =
        use.mm_per_pixel === null ? "Set its scale" : `Scale: ${digits(use.mm_per_pixel)} mm per pixel`;
    };
    words();
    const image = photo(this.#ui, use, `Photo ${i + 1}`);
    scale.addEventListener("click", () => {
      askScale(this.#ui, use, (value) => {
        use.mm_per_pixel = value;
        words();
        recording.touched();
      });
    });
    const off = twice("Take it off", "Tap again to take it off", () => {
      recording.set((entry) => (entry.photos = entry.photos.filter((p) => p !== use)));
      this.refresh();
    });
    return el("li", {}, image, el("div", { class: "thumb-words" }, caption, el("div", { class: "row" }, scale, off)));
  }
}

/** The picture of a photo, as soon as its address is known. */
export function photo(ui: Ui, use: Use & { href?: string }, words: string): HTMLImageElement {
  const image = el("img", { alt: use.caption === "" ? words : use.caption, loading: "lazy" });
  const stored = ui.app.entries().flatMap((e) => e.photos).find((p) => p.photo_id === use.photo_id && p.href !== "");
  const href = use.href ?? stored?.href ?? "";
  ui.device.photoUrl(use.photo_id, href).then(
    (address) => {
      if (address !== "") image.src = address;
    },
    () => (image.alt = `${image.alt} (not on this device)`),
  );
  return image;
}

/** Two taps on the picture and the true distance between them give mm per pixel. */
function askScale(ui: Ui, use: Use, set: (value: number | null) => void): void {
  const opened = dialog("Scale of the photo", "wide");
  const unit = lengthUnit(ui.app);
  const image = photo(ui, use, "The photo");
  const canvas = el("canvas", { class: "marks", tabindex: 0, "aria-label": "Tap both ends of the known length" });
  const length = el("input", { type: "text", inputmode: "decimal", id: "known-length" });
  const told = el("p", { role: "status" }, "Tap both ends of something of known length: a ruler, a rivet spacing.");
  const ends: [number, number][] = [];
  const draw = () => {
    canvas.width = image.naturalWidth;
    canvas.height = image.naturalHeight;
    const pen = canvas.getContext("2d");
    if (pen === null) return;
    pen.drawImage(image, 0, 0);
    const size = Math.max(canvas.width, canvas.height) / 40;
    for (const [colour, width] of [["#ffffff", size / 4], ["#111111", size / 10]] as const) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.beginPath();
      for (const [x, y] of ends) {
        pen.moveTo(x - size, y);
        pen.lineTo(x + size, y);
        pen.moveTo(x, y - size);
        pen.lineTo(x, y + size);
      }
      if (ends.length === 2) {
        pen.moveTo(...ends[0]!);
        pen.lineTo(...ends[1]!);
      }
      pen.stroke();
    }
  };
  image.addEventListener("load", draw);
  canvas.addEventListener("click", (event) => {
    const box = canvas.getBoundingClientRect();
    if (ends.length === 2) ends.length = 0;
    ends.push([
      ((event.clientX - box.left) / box.width) * canvas.width,
      ((event.clientY - box.top) / box.height) * canvas.height,
    ]);
    draw();
  });
  const done = el("button", { type: "button", class: "main" }, "Set the scale");
  done.addEventListener("click", () => {
    const known = lengthOut(ui.app, Number(length.value));
    const [a, b] = ends;
    if (a === undefined || b === undefined) told.textContent = "Both ends are needed: tap the picture twice.";
    else if (slip(length.value, LENGTH) !== "" || !(known > 0)) {
      told.textContent = `The known length is a number more than 0, in ${unit}.`;
    } else {
      set(known / Math.hypot(a[0] - b[0], a[1] - b[1]));
      opened.close();
    }
  });
  opened.body.append(
    told,
    canvas,
    el("label", { for: "known-length" }, `Known length (${unit})`),
    el("div", { class: "with-unit" }, length, el("span", { class: "unit", "aria-hidden": "true" }, unit)),
    el(
      "div",
      { class: "row" },
      done,
      el("button", { type: "button", onclick: () => { set(null); opened.close(); } }, "No scale"),
    ),
  );
}

const LENGTH = {
  name: "length", label: "length", type: "number" as const, unit: "", choices: [], least: 0, most: null,
  of: [], refers_to: "", expected: false, help: "", whole: false, only_if: [], unless: [], computed: false,
};
