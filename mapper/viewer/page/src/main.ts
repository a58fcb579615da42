// The page at the wing: puts its rooms together.

import { NoAnswer } from "./device/api.ts";
import { KeepsNothing } from "./device/db.ts";
import { makeDevice } from "./device/make.ts";
import { newerWaits } from "./device/worker.ts";
import { App } from "./state.ts";
import { keepsNothing, shell, unreached } from "./ui/shell.ts";

const AGAIN = 3000;

async function begin(): Promise<void> {
  const host = document.getElementById("app");
  if (host === null) return;
  const app = new App();
  for (;;) {
    try {
      const device = await makeDevice(app);
      shell(app, host, device);
      // It may have waited since before anybody listened.
      if (newerWaits()) app.tell("newer");
      // Within reach of the browser's console, and of the tests.
      Object.assign(window, { airframe: { app, device } });
      return;
    } catch (error) {
      if (error instanceof KeepsNothing) {
        keepsNothing(host, error.message);
        return;
      }
      unreached(host, error instanceof NoAnswer ? "" : String(error));
      if (!(error instanceof NoAnswer)) throw error;
      await new Promise((resolve) => setTimeout(resolve, AGAIN));
    }
  }
}

void begin();
