// What a person does is an ordinary request. Each answers with what the daemon says, or throws a Refused whose words can
// be shown as they are.

import { decodeSession, type Session } from "./message.ts";

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

export const changeSession = async (c: Change): Promise<Session> => decodeSession(await ask("PATCH", "/api/session", c));
export const chooseSource = async (choice: string, input: string): Promise<Session> => decodeSession(await ask("POST", "/api/source", { choice, input }));
export const soundTone = async (on: boolean): Promise<Session> => decodeSession(await ask("POST", "/api/tone", { on }));
export const nameStrike = (id: string, name: string | null): Promise<unknown> => ask("POST", `/api/strikes/${encodeURIComponent(id)}/name`, { name });
export const throwAway = (id: string): Promise<unknown> => ask("DELETE", `/api/strikes/${encodeURIComponent(id)}`);
export const restore = (id: string): Promise<unknown> => ask("POST", `/api/strikes/${encodeURIComponent(id)}/restore`, {});
export const strikesAfter = (id: string | null): Promise<unknown> => ask("GET", `/api/strikes${id === null ? "" : `?after=${encodeURIComponent(id)}`}`);
export const soundOf = (id: string): string => `/api/strikes/${encodeURIComponent(id)}.wav`;

async function ask(method: string, path: string, body?: unknown): Promise<unknown> {
  const init: RequestInit = { method };
  if (body !== undefined) {
    init.headers = { "Content-Type": "application/json" };
    init.body = JSON.stringify(body);
  }
  const answer = await fetch(path, init);
  const text = await answer.text();
  const said: unknown = text === "" ? null : parsed(text);
  if (answer.ok) return said;
  const { words, field } = (said as { error?: { words?: unknown; field?: unknown } } | null)?.error ?? {};
  throw new Refused(typeof words === "string" ? words : `${answer.status} ${answer.statusText}`, typeof field === "string" ? field : "");
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
