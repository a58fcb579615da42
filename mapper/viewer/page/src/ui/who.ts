// Who is recording, and on which job: asked before anything else, changed at any time.

import { dialog, el, refill } from "./el.ts";
import { trying, type Ui } from "./context.ts";

/** Names as large buttons, and "someone else". */
function people(ui: Ui, done: () => void): HTMLElement {
  const { app, device } = ui;
  const set = (id: string) =>
    trying(app, "It is not kept who records", async () => {
      await device.setWho(id);
      done();
    });
  const name = el("input", { type: "text", id: "new-name", autocomplete: "name", maxlength: 80 });
  const told = el("p", { class: "slip", role: "status" });
  const add = el("button", { type: "submit", class: "main" }, "Record under this name");
  const form = el(
    "form",
    { class: "field", hidden: true },
    el("label", { for: "new-name" }, "Your name, as it shall stand beside what you record"),
    name,
    told,
    add,
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const text = name.value.trim();
    const known = app.start?.people.find((p) => p.name.toLowerCase() === text.toLowerCase());
    if (text === "") told.textContent = "Write a name first.";
    else if (known !== undefined) set(known.id);
    else {
      trying(app, "The name is not kept", async () => {
        await device.addPerson(text);
        done();
      });
    }
  });
  const other = el("button", { type: "button", class: "name-button other" }, "Someone else");
  other.addEventListener("click", () => {
    form.hidden = false;
    name.focus();
  });
  return el(
    "div",
    { class: "people" },
    el(
      "div",
      { class: "names" },
      (app.start?.people ?? []).map((p) =>
        el(
          "button",
          { type: "button", class: "name-button", "aria-pressed": p.id === app.who ? "true" : "false", onclick: () => set(p.id) },
          p.name,
        ),
      ),
      other,
    ),
    form,
  );
}

export function whoScreen(ui: Ui): HTMLElement {
  return el(
    "div",
    { class: "ask" },
    el("h2", { tabindex: -1 }, "Who is recording?"),
    el("p", {}, "Your name stands beside what you record. No password: this page is for people in one shop."),
    people(ui, () => {}),
  );
}

export function openWho(ui: Ui): void {
  const opened = dialog("Who is recording?");
  opened.body.append(people(ui, () => opened.close()));
  const { app } = ui;
  if ((app.start?.jobs.length ?? 0) > 1) {
    opened.body.append(el("h3", {}, "Job"), jobs(ui, () => opened.close()));
  }
}

function jobs(ui: Ui, done: () => void): HTMLElement {
  const { app, device } = ui;
  return el(
    "div",
    { class: "names" },
    (app.start?.jobs ?? []).map((job) =>
      el(
        "button",
        {
          type: "button",
          class: "name-button",
          "aria-pressed": job.id === app.jobId ? "true" : "false",
          onclick: () =>
            trying(app, "The job is not opened", async () => {
              await ui.recording.settle();
              ui.openAirframe();
              await device.openJob(job.id);
              done();
            }),
        },
        job.name,
        job.airframe === "" ? null : el("small", {}, job.airframe),
      ),
    ),
  );
}

export function jobScreen(ui: Ui): HTMLElement {
  const { app } = ui;
  const node = el("div", { class: "ask" });
  if ((app.start?.jobs.length ?? 0) === 0) {
    refill(
      node,
      el("h2", { tabindex: -1 }, "No job yet"),
      el("p", {}, "This shop has no job. Open one at the desk:"),
      el("pre", { tabindex: 0 }, 'mapper new job "Wing, no. 17"'),
      el("button", { type: "button", class: "main", onclick: () => location.reload() }, "Look again"),
    );
  } else refill(node, el("h2", { tabindex: -1 }, "Which job?"), jobs(ui, () => {}));
  return node;
}
