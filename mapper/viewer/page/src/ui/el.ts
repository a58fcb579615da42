// Elements, made one by one: the policy of this page allows no markup in strings.

export type Child = Node | string | number | null | undefined | false | readonly Child[];
type Listener = (event: Event) => void;
export type Props = Record<string, string | number | boolean | null | undefined | Listener>;

const SVG = "http://www.w3.org/2000/svg";

function dress(node: Element, props: Props): void {
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") node.addEventListener(name.slice(2), value);
    else if (name === "value" && "value" in node) node.value = String(value);
    else if (name === "checked" && node instanceof HTMLInputElement) node.checked = true;
    else node.setAttribute(name, value === true ? "" : String(value));
  }
}

function fill(node: Element, children: readonly Child[]): void {
  for (const child of children) {
    if (child === null || child === undefined || child === false) continue;
    if (Array.isArray(child)) fill(node, child as readonly Child[]);
    else node.append(child instanceof Node ? child : String(child));
  }
}

/** An element with attributes ("onclick" and the like: listeners) and children. */
export function el<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  props: Props = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const node = document.createElement(tag);
  fill(node, children);
  // After the children: a select takes its value from the options it has.
  dress(node, props);
  return node;
}

export function svg(tag: string, props: Props = {}, ...children: Child[]): SVGElement {
  const node = document.createElementNS(SVG, tag);
  dress(node, props);
  fill(node, children);
  return node;
}

/** Put other children into a host; focus and scroll stay where they were (by `data-key`). */
export function refill(host: Element, ...children: Child[]): void {
  const at = document.activeElement;
  const key = at instanceof HTMLElement && host.contains(at) ? at.dataset["key"] : undefined;
  const top = host.scrollTop;
  host.replaceChildren();
  fill(host, children);
  host.scrollTop = top;
  if (key !== undefined) {
    host.querySelector<HTMLElement>(`[data-key="${CSS.escape(key)}"]`)?.focus();
  }
}

let count = 0;
/** An id of its own, to tie labels and descriptions to what they name. */
export function ownId(word: string): string {
  count += 1;
  return `${word}-${count}`;
}

/** A button that acts on the second tap only; the first one says what the second will do. */
export function twice(
  label: string,
  sure: string,
  act: () => void,
  props: Props = {},
): HTMLButtonElement {
  let timer = 0;
  const words = el("span", { "aria-live": "polite" }, label);
  const back = () => {
    timer = 0;
    words.textContent = label;
    button.classList.remove("sure");
  };
  const tap = () => {
    if (timer !== 0) {
      clearTimeout(timer);
      back();
      act();
      return;
    }
    words.textContent = sure;
    button.classList.add("sure");
    // Long enough to read the words with gloves on, short enough not to lie in wait.
    timer = window.setTimeout(back, 6000);
  };
  const button = el("button", { type: "button", onclick: tap, ...props }, words);
  return button;
}

export interface Opened {
  node: HTMLDialogElement;
  body: HTMLElement;
  close(): void;
}

/** A window over the page; Escape and its own button close it, and the focus goes back. */
export function dialog(title: string, kind = "", closed: () => void = () => {}): Opened {
  const id = ownId("title");
  const body = el("div", { class: "dialog-body" });
  const node = el(
    "dialog",
    { class: `dialog ${kind}`, "aria-labelledby": id },
    el(
      "div",
      { class: "dialog-head" },
      el("h2", { id, tabindex: -1 }, title),
      el("button", { type: "button", class: "quiet", onclick: () => node.close() }, "Close"),
    ),
    body,
  );
  const before = document.activeElement;
  node.addEventListener("close", () => {
    node.remove();
    closed();
    if (before instanceof HTMLElement && before.isConnected) before.focus();
  });
  document.body.append(node);
  node.showModal();
  node.querySelector("h2")?.focus();
  return { node, body, close: () => node.close() };
}
