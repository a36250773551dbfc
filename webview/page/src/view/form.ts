// Fields of the forms at the bench, and how they are read.

import { html, nothing, type TemplateResult } from "lit/html.js";

/** What a form holds under a name; null where that is no number. */
export const numberOf = (form: HTMLFormElement, name: string): number | null => {
  const field = form.elements.namedItem(name);
  const n = field instanceof HTMLInputElement ? field.valueAsNumber : NaN;
  return Number.isFinite(n) ? n : null;
};
export const textOf = (form: HTMLFormElement, name: string): string => {
  const field = form.elements.namedItem(name);
  return field instanceof HTMLInputElement || field instanceof HTMLSelectElement || field instanceof HTMLTextAreaElement || field instanceof RadioNodeList ? field.value.trim() : "";
};
export const number = (label: string, name: string, value: string, o: { min?: number; max?: number; required?: boolean } = {}): TemplateResult =>
  html`<label>${label}<input type="number" name=${name} step="any" inputmode="decimal" min=${o.min ?? nothing} max=${o.max ?? nothing} ?required=${o.required ?? false} .defaultValue=${value}></label>`;

export const radio = (name: string, value: string, words: string, on: boolean, then: () => void): TemplateResult =>
  html`<label class="pick"><input type="radio" name=${name} value=${value} .checked=${on} @change=${then}> ${words}</label>`;
