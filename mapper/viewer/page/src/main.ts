// The page at the wing: puts its rooms together.
import { App } from "./state.ts";

const app = new App();
export { app };
