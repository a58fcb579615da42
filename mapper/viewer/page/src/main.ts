// The page at the wing: puts its rooms together.

import { App } from "./state.ts";
import { makeDevice } from "./device/make.ts";

const app = new App();
void makeDevice(app);
