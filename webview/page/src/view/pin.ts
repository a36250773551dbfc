// "This is the pitch I hear": a button for each partial, while the numbers are shown.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import type { Strike } from "../message.ts";

export function pinHere({ view, t, desk }: App, k: Strike, i: number): TemplateResult | typeof nothing {
  if (!view.numbers) return nothing;
  const path = `strikes/${encodeURIComponent(k.id)}/pin`;
  const mine = k.heard?.partial === i;
  if (mine && k.pinned) return html` <button class="pin" aria-pressed="true" @click=${() => void desk.ask("DELETE", path)}>${t.shelf.unpin}</button>`;
  return mine ? nothing : html` <button class="pin" @click=${() => void desk.ask("POST", path, { partial: i })}>${t.shelf.pin}</button>`;
}
