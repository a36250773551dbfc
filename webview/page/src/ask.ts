// What a person does is an ordinary request. Each answers with what the daemon says, or throws a Refused whose words can
// be shown as they are.

import { decodeDevices, decodePairing, decodeSession, decodeShare, decodeWanted, type Device, type Pairing, type Session, type Share, type Wanted } from "./message.ts";

export class Refused extends Error {
  constructor(
    words: string,
    readonly field = "",
  ) {
    super(words);
  }
}

/** What can be changed of the session. */
export interface Change {
  instrument?: string;
  reference_hz?: number;
  aim?: boolean;
  target?: number | null;
  bend_cents?: number;
  tolerance_cents?: number;
  kind?: string;
  frozen?: boolean;
  frozen_id?: string;
}

/** A change of the wanted list: one of these. */
export type WantedChange =
  | { order: readonly string[] }
  | { tick: string }
  | { untick: string }
  | { found: { strike: string; place: string | null } } // null: the one its verdict is about
  | { lost: string } // a strike that shall fill nothing
  | { undo: true };

export const changeSession = async (c: Change): Promise<Session> => decodeSession(await ask("PATCH", "/api/session", c));
export const chooseSource = async (choice: string, input: string): Promise<Session> => decodeSession(await ask("POST", "/api/source", { choice, input }));
export const soundTone = async (on: boolean): Promise<Session> => decodeSession(await ask("POST", "/api/tone", { on }));
export const nameStrike = (id: string, name: string | null): Promise<unknown> => ask("POST", `/api/strikes/${encodeURIComponent(id)}/name`, { name });
export const throwAway = (id: string): Promise<unknown> => ask("DELETE", `/api/strikes/${encodeURIComponent(id)}`);
export const restore = (id: string): Promise<unknown> => ask("POST", `/api/strikes/${encodeURIComponent(id)}/restore`, {});
export const strikesAfter = (id: string | null): Promise<unknown> => ask("GET", `/api/strikes${id === null ? "" : `?after=${encodeURIComponent(id)}`}`);
export const writeWanted = async (text: string): Promise<Wanted> => decodeWanted(await ask("PUT", "/api/wanted", { text }));
export const changeWanted = async (c: WantedChange): Promise<Wanted> => decodeWanted(await ask("PATCH", "/api/wanted", c));
export const shared = async (): Promise<Share> => decodeShare(await ask("GET", "/api/share"));
export const devices = async (): Promise<Device[]> => decodeDevices(await ask("GET", "/api/devices"));
export const offerPairing = async (): Promise<Pairing> => decodePairing(await ask("POST", "/api/pairing", {}));
export const nameDevice = (id: string, name: string): Promise<unknown> => ask("POST", `/api/devices/${encodeURIComponent(id)}/name`, { name });
export const removeDevice = (id: string): Promise<unknown> => ask("DELETE", `/api/devices/${encodeURIComponent(id)}`);
/** How soon the daemon must answer to count as there, in ms. */
const SOON = 2000;
/** Whether this device is let in. It rejects where the daemon does not answer. */
export const letIn = async (): Promise<boolean> => (await fetch("/api/token", { signal: AbortSignal.timeout(SOON) })).status !== 401;
export const soundOf = (id: string): string => `/api/strikes/${encodeURIComponent(id)}.wav`;

// Every change shows the daemon's token, which only a page of its own origin can read. It is another after each start of
// the daemon, so one that is refused is fetched anew, once.
let token: Promise<string> | null = null;
const fetchToken = async (): Promise<string> => {
  const said = (await (await fetch("/api/token")).json()) as { token?: unknown };
  return typeof said.token === "string" ? said.token : "";
};

/** The daemon's token; anew: the one known was refused. */
export function tokenOf(anew: boolean): Promise<string> {
  if (anew) token = null;
  token ??= fetchToken();
  return token.catch((e: unknown) => ((token = null), Promise.reject(e)));
}

export async function ask(method: string, path: string, body?: unknown, again = true): Promise<unknown> {
  const headers: Record<string, string> = {};
  const init: RequestInit = { method, headers };
  if (body !== undefined) {
    const raw = body instanceof Blob; // a photo
    headers["Content-Type"] = raw ? body.type : "application/json";
    init.body = raw ? body : JSON.stringify(body);
  }
  if (method !== "GET") headers["X-Ringwell-Token"] = await tokenOf(false);
  const answer = await fetch(path, init);
  const text = await answer.text();
  const said: unknown = text === "" ? null : parsed(text);
  if (answer.ok) return said;
  const { words, field } = (said as { error?: { words?: unknown; field?: unknown } } | null)?.error ?? {};
  if (answer.status === 403 && field === "token" && again) {
    token = null;
    return ask(method, path, body, false);
  }
  throw new Refused(typeof words === "string" ? words : `${answer.status} ${answer.statusText}`, typeof field === "string" ? field : "");
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
