// The dialogs: setting up, the keys, the cautions. One at a time; Escape closes.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import { setup } from "./setup.ts";

export function dialogs(app: App): TemplateResult | typeof nothing {
  const { t, view, deeds } = app;
  if (!view.dialog || app.state.link === "shut") return nothing; // nothing can be set any more
  const [title, body] = { setup: () => [t.setup, setup(app)], keys: () => [t.keys, keys(app)], cautions: () => [t.cautions, cautions(app)] }[view.dialog]();
  const close = () => deeds.show({ dialog: null });
  const outside = (e: MouseEvent) => e.target === e.currentTarget && close();
  return html`<dialog class=${view.dialog} aria-labelledby="dialog-title" @close=${close} @click=${outside}>
    <div class="sheet">
      <header><h2 id="dialog-title">${title}</h2><button @click=${close}>${t.close}</button></header>
      ${body}
    </div>
  </dialog>`;
}

function keys({ t }: App): TemplateResult {
  return html`<table><tbody>${[...t.keyList.slice(0, -2), ...t.hunt.keys, ...t.bench.keys, ...t.shelf.keys, ...t.keyList.slice(-2)].map(([k, does]) => html`<tr><th scope="row"><kbd>${k}</kbd></th><td>${does}</td></tr>`)}</tbody></table>`;
}

function cautions({ t }: App): TemplateResult {
  return html`<ul class="cautions">${t.cautionList.map((c) => html`<li>${c}</li>`)}</ul>`;
}
