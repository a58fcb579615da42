// Requests to our own server, with a time limit: a network that swallows everything must not
// hold anything up.

import type { Refusal } from "../wire.ts";

/** The server did not answer, or not in time: to be tried again. */
export class NoAnswer extends Error {
  override name = "NoAnswer";
}

/** The server answered with a no. */
export class Refused extends Error {
  readonly refusal: Refusal;
  readonly status: number;
  constructor(refusal: Refusal, status: number) {
    super(refusal.message);
    this.refusal = refusal;
    this.status = status;
  }
}

const PATIENCE = 12_000;
const PATIENCE_BODY = 90_000; // a photo over a bad network

export class Api {
  token = "";
  /** Called with whether the server answered, after every request. */
  onReach: (reached: boolean) => void = () => {};
  /** Called with what the server's clock said, and ours before and after. */
  onClock: (asked: number, answered: number, said: number) => void = () => {};

  async #ask(path: string, init: RequestInit, patience: number): Promise<Response> {
    let answer: Response;
    const asked = Date.now();
    try {
      answer = await fetch(path, {
        ...init,
        cache: "no-store",
        credentials: "same-origin",
        redirect: "error",
        signal: AbortSignal.timeout(patience),
      });
    } catch (error) {
      this.onReach(false);
      throw new NoAnswer(String(error));
    }
    // The service worker answers 504 when it has neither network nor a stored answer.
    if (answer.status === 502 || answer.status === 504) {
      this.onReach(false);
      throw new NoAnswer(`status ${answer.status}`);
    }
    this.onReach(true);
    this.onClock(asked, Date.now(), Date.parse(answer.headers.get("date") ?? ""));
    if (!answer.ok) throw new Refused(await refusalOf(answer), answer.status);
    return answer;
  }

  async #json<T>(answer: Response): Promise<T> {
    try {
      return (await answer.json()) as T;
    } catch (error) {
      this.onReach(false);
      throw new NoAnswer(`The answer broke off: ${String(error)}`);
    }
  }

  /** long: much comes, or the server has much to do before it answers. */
  async get<T>(path: string, long = false): Promise<T> {
    return this.#json<T>(await this.#ask(path, {}, long ? PATIENCE_BODY : PATIENCE));
  }

  async bytes(path: string): Promise<ArrayBuffer> {
    // Shapes and photos never change: the browser's own cache may answer.
    let answer: Response;
    try {
      answer = await fetch(path, { signal: AbortSignal.timeout(PATIENCE_BODY) });
      if (answer.status === 502 || answer.status === 504) throw new Error("no answer");
      if (answer.ok) return await answer.arrayBuffer();
    } catch (error) {
      throw new NoAnswer(String(error));
    }
    throw new Refused(await refusalOf(answer), answer.status);
  }

  async post<T>(path: string, body: unknown, long = false): Promise<T> {
    const headers = { "content-type": "application/json", "x-mapper-token": this.token };
    const init = { method: "POST", headers, body: JSON.stringify(body) };
    return this.#json<T>(await this.#ask(path, init, long ? PATIENCE_BODY : PATIENCE));
  }

  async postFile<T>(path: string, file: Blob): Promise<T> {
    const headers = {
      "content-type": file.type || "application/octet-stream",
      "x-mapper-token": this.token,
    };
    const init = { method: "POST", headers, body: file };
    return this.#json<T>(await this.#ask(path, init, PATIENCE_BODY));
  }
}

async function refusalOf(answer: Response): Promise<Refusal> {
  try {
    const got = (await answer.json()) as Partial<Refusal>;
    if (typeof got.code === "string" && typeof got.message === "string") return got as Refusal;
  } catch {
    // Not ours: a proxy's page, or half an answer.
  }
  const busy = answer.status >= 500;
  return {
    code: busy ? "busy" : "refused",
    message: `The server answered ${answer.status}.`,
  };
}
