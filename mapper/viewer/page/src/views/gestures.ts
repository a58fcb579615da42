// Fingers, pens and mice on one view. One finger paints, two turn and zoom; the stub that the first
// finger painted before the second came is taken back. While a pen is near, fingers and palms rest.

export interface Hands {
  /** Whether one finger, the pen or the left button draws now, instead of turning. */
  draws(): boolean;
  begin(x: number, y: number, eraser: boolean): void;
  /** Places on the way, the newest last. */
  move(points: readonly (readonly [number, number])[]): void;
  end(): void;
  takeBack(): void;
  tap(x: number, y: number, reach: number): void;
  hover(x: number, y: number): void;
  leave(): void;
  /** dx, dy CSS px; the pointer (or the middle of the fingers) is at x, y. */
  turn(dx: number, dy: number, x: number, y: number): void;
  pan(dx: number, dy: number, x: number, y: number): void;
  zoom(factor: number, x: number, y: number): void;
  /** A turn, pan or zoom begins at x, y, or is over. */
  steer(begins: boolean, x: number, y: number): void;
}

type Mode = "idle" | "draw" | "turn" | "pan" | "two";

interface Contact {
  x: number;
  y: number;
}

/** Until then, or within so many px, what a first finger painted is only a stub. */
const STUB_MS = 450;
const STUB_PX = 28;
/** Fingers are ignored for so long after the pen was last near. */
const PEN_MS = 700;
const TAP_MS = 700;

export class Gestures {
  /** Contacts wider than this (CSS px) are a palm. Gloves are wide too: a setting. */
  palm = 60;
  private mode: Mode = "idle";
  private readonly contacts = new Map<number, Contact>();
  /** Contacts that are to be ignored until they end: for move, up and cancel too. */
  private readonly ignored = new Set<number>();
  /** Fingers that stay on the view after a turn with two: nothing begins until they are gone. */
  private readonly spent = new Set<number>();
  private drawing = -1;
  private began = 0;
  private gone = 0;
  private start: Contact = { x: 0, y: 0 };
  private last: Contact = { x: 0, y: 0 };
  private spread = 0;
  private penAt = -Infinity;
  private pen = -1;
  private readonly stop = new AbortController();

  constructor(private readonly pane: HTMLElement, private readonly hands: Hands) {
    const on = <K extends keyof HTMLElementEventMap>(
      type: K, listener: (event: HTMLElementEventMap[K]) => void, passive = true,
    ): void => pane.addEventListener(type, listener, { signal: this.stop.signal, passive });
    on("pointerdown", (event) => this.down(event));
    // The middle button would scroll by itself.
    on("mousedown", (event) => event.button === 1 && event.preventDefault(), false);
    on("pointermove", (event) => this.moved(event));
    on("pointerup", (event) => this.up(event, false));
    on("pointercancel", (event) => this.up(event, true));
    on("lostpointercapture", (event) => this.contacts.has(event.pointerId) && this.up(event, true));
    on("pointerleave", () => this.mode === "idle" && hands.leave());
    on("contextmenu", (event) => event.preventDefault(), false);
    on("wheel", (event) => this.wheel(event), false);
  }

  dispose(): void {
    this.stop.abort();
  }

  private place(event: MouseEvent): Contact {
    const box = this.pane.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  private down(event: PointerEvent): void {
    const at = this.place(event);
    if (event.pointerType === "touch" && this.isPalm(event)) {
      this.ignored.add(event.pointerId);
      return;
    }
    if (event.pointerType === "pen") {
      this.penAt = event.timeStamp;
      this.penComes();
      this.pen = event.pointerId;
    }
    if (event.pointerType !== "touch" && this.mode !== "idle") return; // a second button
    if (this.spent.size || this.contacts.size >= 2) {
      this.ignored.add(event.pointerId);
      return;
    }
    if (this.mode === "draw" && !this.isStub(event.timeStamp)) {
      // Far into a stroke a second contact is a mistake of the hand.
      this.ignored.add(event.pointerId);
      return;
    }
    this.contacts.set(event.pointerId, at);
    try {
      this.pane.setPointerCapture(event.pointerId);
    } catch {
      // Gone already: its end comes without capture, too.
    }
    if (this.contacts.size === 2) this.second();
    else this.first(event, at);
  }

  private first(event: PointerEvent, at: Contact): void {
    this.began = event.timeStamp;
    this.gone = 0;
    this.start = this.last = at;
    const mouse = event.pointerType === "mouse";
    const plain = !mouse || event.button === 0;
    if (plain && this.hands.draws()) {
      this.mode = "draw";
      this.drawing = event.pointerId;
      this.hands.begin(at.x, at.y, event.pointerType === "pen" && (event.buttons & 32) !== 0);
    } else {
      this.mode = (mouse && event.button === 1) || event.shiftKey ? "pan" : "turn";
      this.hands.steer(true, at.x, at.y);
    }
  }

  private second(): void {
    if (this.mode === "draw") this.hands.takeBack();
    else this.hands.steer(false, this.last.x, this.last.y);
    this.mode = "two";
    const { x, y, spread } = this.pair();
    this.last = { x, y };
    this.spread = spread;
    this.hands.steer(true, x, y);
  }

  private pair(): { x: number; y: number; spread: number } {
    const [a, b] = [...this.contacts.values()] as [Contact, Contact];
    return { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, spread: Math.hypot(a.x - b.x, a.y - b.y) };
  }

  private isStub(now: number): boolean {
    return now - this.began < STUB_MS || this.gone < STUB_PX;
  }

  private isPalm(event: PointerEvent): boolean {
    // A pen that lies still on the glass says nothing for a while.
    return this.contacts.has(this.pen) || event.timeStamp - this.penAt < PEN_MS || Math.max(event.width, event.height) > this.palm;
  }

  /** What fingers have begun is the heel of the hand that holds the pen. */
  private penComes(): void {
    if (!this.contacts.size) return;
    if (this.mode === "draw") this.hands.takeBack();
    else this.hands.steer(false, this.last.x, this.last.y);
    for (const id of this.contacts.keys()) this.ignored.add(id);
    this.contacts.clear();
    this.mode = "idle";
  }

  private moved(event: PointerEvent): void {
    if (event.pointerType === "pen") this.penAt = event.timeStamp;
    if (this.ignored.has(event.pointerId) || this.spent.has(event.pointerId)) return;
    const at = this.place(event);
    if (!this.contacts.has(event.pointerId)) {
      if (event.pointerType !== "touch") this.hands.hover(at.x, at.y);
      return;
    }
    const before = this.contacts.get(event.pointerId)!;
    this.contacts.set(event.pointerId, at);
    this.gone += Math.hypot(at.x - before.x, at.y - before.y);
    if (this.mode === "draw" && event.pointerId === this.drawing) {
      const way = event.getCoalescedEvents?.() ?? [];
      const points = (way.length ? way : [event]).map((one) => {
        const p = this.place(one);
        return [p.x, p.y] as const;
      });
      this.hands.move(points);
    } else if (this.mode === "turn") this.hands.turn(at.x - this.last.x, at.y - this.last.y, at.x, at.y);
    else if (this.mode === "pan") this.hands.pan(at.x - this.last.x, at.y - this.last.y, at.x, at.y);
    else if (this.mode === "two") {
      const { x, y, spread } = this.pair();
      // Very near each other two contacts say nothing of a size.
      if (spread > 8 && this.spread > 8) this.hands.zoom(spread / this.spread, x, y);
      this.hands.turn(x - this.last.x, y - this.last.y, x, y);
      this.spread = spread;
      this.last = { x, y };
      return;
    }
    this.last = at;
  }

  private up(event: PointerEvent, cancelled: boolean): void {
    if (event.pointerType === "pen") this.penAt = event.timeStamp;
    if (this.ignored.delete(event.pointerId) || this.spent.delete(event.pointerId)) return;
    if (!this.contacts.delete(event.pointerId)) return;
    const wide = event.pointerType === "touch" ? 16 : 7;
    const still = Math.hypot(this.last.x - this.start.x, this.last.y - this.start.y) < wide && this.gone < 3 * wide;
    if (this.mode === "draw") {
      // A stroke that the system cuts off is kept, unless it is only a stub.
      if (cancelled && this.isStub(event.timeStamp)) this.hands.takeBack();
      else this.hands.end();
    } else if (this.mode !== "idle") {
      this.hands.steer(false, this.last.x, this.last.y);
      const quick = event.timeStamp - this.began < TAP_MS;
      if (this.mode === "turn" && still && quick && !cancelled && event.button <= 0) {
        this.hands.tap(this.start.x, this.start.y, wide);
      }
    }
    // The finger that stays after a turn with two must not begin to paint.
    this.mode = "idle";
    for (const id of this.contacts.keys()) this.spent.add(id);
    this.contacts.clear();
    if (event.pointerType === "touch") this.hands.leave();
  }

  private wheel(event: WheelEvent): void {
    event.preventDefault();
    if (this.mode === "draw") return;
    const at = this.place(event);
    const unit = [1, 18, 240][event.deltaMode] ?? 1;
    const amount = Math.max(-240, Math.min(240, event.deltaY * unit));
    this.hands.zoom(Math.exp(-amount * (event.ctrlKey ? 0.01 : 0.0018)), at.x, at.y);
  }
}
