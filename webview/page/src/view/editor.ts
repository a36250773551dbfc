// The wanted list as text. What cannot be read is told at its line and column and stays as it was typed.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import type { Wanted } from "../message.ts";

export function editor({ view, t, deeds }: App, w: Wanted): TemplateResult {
  const draft = view.draft ?? { text: w.text, of: w.revision };
  const field = () => document.querySelector<HTMLTextAreaElement>("#list")!;
  const typed = () => deeds.show({ draft: { text: field().value, of: draft.of } });
  const save = (e: Event) => {
    e.preventDefault();
    deeds.write(field().value);
  };
  const key = (e: KeyboardEvent) => {
    if (e.key === "Enter" && (e.ctrlKey || e.metaKey)) save(e);
    if (e.key === "Escape" && w.places.length) deeds.edit(false);
  };
  const faults = faultsIn(draft.text, w);
  const scroll = (e: Event) => {
    const f = e.currentTarget as HTMLElement;
    (f.previousElementSibling as HTMLElement).scrollTop = f.scrollTop;
  };
  return html`<form class="typing" @submit=${save}>
    <label for="list" class=${w.places.length ? "" : "unseen"}>${t.hunt.editFirst}</label>
    <div id="list-faults" role="status">${faults.length
      ? html`<p class="note">${t.hunt.faults}:</p><ul class="faults">${faults.map((f) => html`<li><button type="button" @click=${() => point(field(), f)}>${t.hunt.fault(f.line, f.column)}</button> <span lang="en">${f.words}</span></li>`)}</ul>`
      : nothing}</div>
    <div class="field">
      <div class="marks" aria-hidden="true">${marked(draft.text, faults)}</div>
      <textarea id="list" rows="6" spellcheck="false" autocapitalize="none" autocomplete="off" aria-describedby="list-faults" .value=${draft.text} @input=${typed} @keydown=${key} @scroll=${scroll}></textarea>
    </div>
    ${draft.of !== w.revision ? html`<p class="note" role="status">${t.hunt.changedSince}</p>` : nothing}
    <div class="choose">
      <button type="submit">${t.hunt.save}</button>
      ${w.places.length ? html`<button type="button" @click=${() => deeds.edit(false)}>${t.hunt.cancel}</button>` : nothing}
    </div>
    <details><summary>${t.hunt.help}</summary>
      <table><tbody>${t.hunt.helpLines.map(([form, means]) => html`<tr><th scope="row"><code>${form}</code></th><td>${means}</td></tr>`)}</tbody></table>
    </details>
  </form>`;
}

type Fault = Wanted["errors"][number];

/** The faults of the list as it stands that a text still holds, at the line where it now holds them. */
export function faultsIn(text: string, w: Wanted): Fault[] {
  const [now, then] = [text.split("\n"), w.text.split("\n")];
  return w.errors.flatMap((f) => {
    const was = then[f.line - 1];
    const line = was === undefined ? 0 : now[f.line - 1] === was ? f.line : now.indexOf(was) + 1;
    return line > 0 ? [{ ...f, line }] : [];
  });
}

/** The same text, to lie under the field's, with what is faulty underlined. */
function marked(text: string, faults: readonly Fault[]): unknown[] {
  const out: unknown[] = [];
  let at = 0;
  for (const [from, to] of faults.map((f) => unitsOf(text, f.line, f.column, f.length)).sort((a, b) => a[0] - b[0])) {
    if (from < at) continue;
    out.push(text.slice(at, from), html`<mark>${text.slice(from, Math.max(to, from + 1))}</mark>`);
    at = Math.max(to, from + 1);
  }
  return [...out, text.slice(at), "\n"];
}

/** Selects what a fault is about. Columns count code points; the field counts UTF-16 units. */
function point(field: HTMLTextAreaElement, f: Fault): void {
  const [from, to] = unitsOf(field.value, f.line, f.column, f.length);
  field.focus();
  field.setSelectionRange(from, to);
}

/** Where line and column, from 1 and in code points, lie in a text's UTF-16 units. */
export function unitsOf(text: string, line: number, column: number, length: number): [number, number] {
  const lines = text.split("\n");
  const before = lines.slice(0, line - 1).reduce((n, l) => n + l.length + 1, 0);
  const points = [...(lines[line - 1] ?? "")];
  const units = (n: number) => points.slice(0, n).join("").length;
  return [before + units(column - 1), before + units(column - 1 + length)];
}

/** Lets the field be as high as its text, within reason. */
export function fitEditor(): void {
  const field = document.querySelector<HTMLTextAreaElement>("#list");
  const rows = Math.min(16, Math.max(4, (field?.value.split("\n").length ?? 0) + 1));
  if (field && field.rows !== rows) field.rows = rows;
}
