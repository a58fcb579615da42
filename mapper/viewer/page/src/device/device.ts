// What the rest of the page may ask of this device and of the server behind it.

import type { LoadedShape } from "../lib/shape.ts";
import type { Draft, OutboxItem } from "../state.ts";
import type { ActionGiven, EntryGiven, Id, MeasureAnswer, Where } from "../wire.ts";
import type { ReadItem } from "./outboxfile.ts";

export interface Step {
  op: "add" | "change" | "remove";
  entry: EntryGiven;
}

export interface Kept {
  words: string;
  steps: Step[];
  /** Area as worked out here, mm2 by entry. */
  about?: Record<Id, number>;
}

export interface Device {
  setWho(id: Id): Promise<void>;
  /** Also without a network: the person is made here and sent before what they record. */
  addPerson(name: string): Promise<Id>;
  openJob(id: Id): Promise<void>;
  loadShape(digest: string): Promise<LoadedShape>;
  /** Into the outbox; it is safe on this device when this resolves. */
  keep(action: Kept): Promise<void>;
  /** What undo or redo would do now, in words; "" for nothing known. */
  wouldUndo(): string;
  wouldRedo(): string;
  undo(): Promise<void>;
  redo(): Promise<void>;
  /** Into the outbox, before the entry that names it. */
  addPhoto(file: Blob, taken: string): Promise<Id>;
  /** Address to show a photo by: of this device while it is unsent, of the server afterwards. */
  photoUrl(id: Id, href: string): Promise<string>;
  saveDraft(draft: Draft | null): Promise<void>;
  drafts(): Promise<Draft[]>;
  dropDraft(entryId: Id): Promise<void>;
  /** The values last recorded of a kind by the person who records now. */
  last(kind: string): Promise<Record<string, string>>;
  remember(kind: string, values: Record<string, string>): Promise<void>;
  sendAgain(item: OutboxItem): Promise<void>;
  drop(item: OutboxItem): Promise<void>;
  /** In place of a refused one, after a person decided: it gets a new id. */
  replace(item: OutboxItem, action: ActionGiven): Promise<void>;
  outboxFile(): Promise<Blob>;
  /** Have the server store what another device saved to a file, each item once. */
  readOutboxFile(file: Blob, onProgress: (done: number, all: number) => void): Promise<ReadItem[]>;
  /** Everything of the job onto this device: shapes and photos. */
  takeAlong(onProgress: (done: number, all: number) => void): Promise<void>;
  askToKeepStorage(): Promise<boolean>;
  /** True area of what is drawn; null while the server does not answer. */
  measure(partId: Id, where: Where): Promise<MeasureAnswer | null>;
  reloadToNewer(): void;
}
