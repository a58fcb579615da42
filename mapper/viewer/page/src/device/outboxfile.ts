// The outbox as a file: written here for a device that finds no way to the server, and read again on
// one that does. The server stores each item once, so a file may be read as often as one likes.

import { deviceTime, type OutboxItem } from "../state.ts";
import type { Id, OutboxAnswer, OutboxFile, OutboxFileItem, UndoGiven } from "../wire.ts";
import type { Api } from "./api.ts";

const FORMAT = "airframe map outbox 1";
const AT_ONCE = 4_000_000; // characters of one message to the server; a large photo goes alone

/** What an undo or redo asks of the server. */
export function asked(item: OutboxItem): UndoGiven {
  const { id, by, made, of } = item;
  const clock_offset_ms = item.clock_offset_ms ?? null;
  return { id, by, device_time: made, clock_offset_ms, ...(of === undefined ? {} : { of }) };
}

async function fileItem(item: OutboxItem): Promise<OutboxFileItem | null> {
  const clock_offset_ms = item.clock_offset_ms ?? null;
  const { job_id, made, id, by } = item;
  switch (item.type) {
    case "action":
      return { job_id, type: "action", action: item.action! };
    case "undo":
    case "redo":
      return { job_id, type: item.type, asked: asked(item) };
    case "person":
      return { type: "person", person: { ...item.person!, device_time: made, clock_offset_ms } };
    case "photo": {
      const { taken, media_type, data } = item.photo!;
      const text = await base64(data);
      return { job_id, type: "photo", id, by, taken, media_type, data: text, device_time: made, clock_offset_ms };
    }
  }
}

/** All that waits or was refused, of every job, in order. */
export async function outboxFile(items: OutboxItem[], job: Id): Promise<Blob> {
  const head = { format: FORMAT, job_id: job, made: deviceTime() };
  // Piece by piece: photos together may be longer than one text can be.
  const pieces = [JSON.stringify(head).slice(0, -1), ', "items": ['];
  let between = "\n";
  for (const item of items) {
    const made = await fileItem(item);
    if (made === null) continue;
    pieces.push(between, JSON.stringify(made));
    between = ",\n";
  }
  pieces.push("\n]}\n");
  return new Blob(pieces, { type: "application/json" });
}

async function base64(data: Blob): Promise<string> {
  const bytes = new Uint8Array(await data.arrayBuffer());
  let text = "";
  for (let at = 0; at < bytes.length; at += 0x8000) {
    text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  }
  return btoa(text);
}

export interface ReadItem {
  words: string;
  status: "stored" | "repeated" | "refused";
  message: string;
}

/** Have the server store what a saved file holds, each item once; throws in words for another file,
 * and NoAnswer where the server is not there: what it stored till then is not doubled next time. */
export async function readOutboxFile(
  api: Api,
  file: Blob,
  onProgress: (done: number, all: number) => void,
): Promise<ReadItem[]> {
  const found = whatIsIn(await file.text());
  const read: ReadItem[] = [];
  let begin = 0;
  while (begin < found.items.length) {
    let end = begin;
    let size = 0;
    do {
      size += JSON.stringify(found.items[end]).length;
      end += 1;
    } while (end < found.items.length && size < AT_ONCE);
    const some = found.items.slice(begin, end);
    const answer = await api.post<OutboxAnswer>("/api/outbox", { ...found, items: some }, true);
    answer.results.forEach(({ status, message }, i) => {
      read.push({ words: wordsOf(some[i]!), status, message });
    });
    begin = end;
    onProgress(begin, found.items.length);
  }
  return read;
}

function whatIsIn(text: string): OutboxFile {
  let found: Partial<OutboxFile> | null;
  try {
    found = JSON.parse(text) as Partial<OutboxFile> | null;
  } catch {
    const ours = text.slice(0, 200).includes(FORMAT);
    throw new Error(
      ours
        ? "The end of the file is missing. Save it on the device once more."
        : "This is no file of unsent entries: one is saved on the device under \u201cSave what waits to a file\u201d.",
    );
  }
  if (found?.format !== FORMAT || !Array.isArray(found.items)) {
    throw new Error("This is no file of unsent entries that this page knows.");
  }
  return found as OutboxFile;
}

function wordsOf(item: OutboxFileItem): string {
  if (item?.type === "action") return item.action?.words ?? "entry";
  if (item?.type === "person") return `new person ${item.person?.name ?? ""}`;
  return item?.type ?? "something";
}
