// What a person does at the bench, as ordinary requests.

import { ask } from "./ask.ts";
import { decodeBench, decodeDrift, decodeRow, type Bench, type Drift, type Pour, type Row, type Way } from "./benchmessage.ts";

/** A job to begin. */
export interface JobSpec {
  readonly way: Way;
  readonly holds_ml: number;
  readonly already_ml?: number;
  readonly aim: string;
  readonly pour: Pour;
  readonly vessel: string;
  readonly water_celsius?: number;
  readonly stage_celsius?: number;
  readonly bottle?: { neck_bore_mm: number; neck_length_mm: number; body_bore_mm: number };
}

/** A sound: typed, or a strike that was asked about. */
export type Entry = { hz: number } | { strike: string; anyway?: boolean };

/** A reading of drift; without a frequency it only says what the voice is made of. */
export interface Reading {
  readonly voice: string;
  readonly material?: string;
  readonly strike?: string;
  readonly hz?: number;
  readonly celsius?: number;
}

export interface StageQuestion {
  readonly there: number;
  readonly here: number | null; // null: as it is now
  readonly within: number;
}

export interface RowSpec {
  readonly way: Way;
  readonly pour: Pour;
  readonly vessels: readonly { name: string; holds_ml: number; sounds: readonly { in_ml: number; hz: number }[] }[];
  readonly aims: readonly string[];
}

export const beginJob = async (spec: JobSpec): Promise<Bench> => decodeBench(await ask("POST", "/api/bench", spec));
export const changeJob = async (c: { aim?: string; pour?: Pour; follow?: boolean }): Promise<Bench> => decodeBench(await ask("PATCH", "/api/bench", c));
export const endJob = async (): Promise<Bench> => decodeBench(await ask("DELETE", "/api/bench"));
export const poured = async (c: { ml: number } | { g: number }): Promise<Bench> => decodeBench(await ask("POST", "/api/bench/pour", c));
export const sounded = async (e: Entry): Promise<Bench> => decodeBench(await ask("POST", "/api/bench/entries", e));
export const undone = async (): Promise<Bench> => decodeBench(await ask("POST", "/api/bench/undo", {}));
export const placeRow = async (spec: RowSpec): Promise<Row> => decodeRow(await ask("POST", "/api/bench/row", spec));
export const warmth = (celsius: number): Promise<unknown> => ask("POST", "/api/temperature", { celsius });

export async function driftOf(q: StageQuestion | null): Promise<Drift> {
  const query = q ? new URLSearchParams({ stage_celsius: String(q.there), within_cents: String(q.within), ...(q.here === null ? {} : { here_celsius: String(q.here) }) }) : "";
  return decodeDrift(await ask("GET", `/api/drift${q ? `?${query.toString()}` : ""}`));
}
export const noteReading = (r: Reading): Promise<unknown> => ask("POST", "/api/drift", r);
export const followVoice = (voice: string | null): Promise<unknown> => ask("POST", "/api/drift/follow", { voice });
export const undoReading = (voice: string): Promise<unknown> => ask("POST", `/api/drift/${encodeURIComponent(voice)}/undo`, {});
export const forgetVoice = (voice: string): Promise<unknown> => ask("DELETE", `/api/drift/${encodeURIComponent(voice)}`);

/** Keeps a strike on the shelf as the voice of a vessel with its fill: of the object that is called so, or of a new one. */
export async function keepFilled(strike: string, vessel: string, kind: string, fill: string): Promise<string> {
  const found = (await ask("GET", `/api/shelf/objects?words=${encodeURIComponent(vessel)}`)) as { objects?: { id?: unknown; name?: unknown }[] };
  const same = found.objects?.find((o) => o.name === vessel);
  const as = same ? { object: same.id, fill } : { name: vessel, kind, fill };
  const said = (await ask("POST", `/api/strikes/${encodeURIComponent(strike)}/keep`, as)) as { kept?: { label?: unknown } };
  return typeof said.kept?.label === "string" ? said.kept.label : vessel;
}
