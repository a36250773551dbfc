// The answer in the largest type that fits. Its height is kept free, so that nothing moves when an answer comes.

import { html, render } from "lit/html.js";
import { LEADING, largest, type Part } from "../fit.ts";
import type { Answer } from "../words.ts";

/** The steps an answer too long for its lines goes down; never up. */
const STEPS = [1, 0.84, 0.7, 0.58];

export class AnswerView {
  private last = "";

  constructor(
    private readonly h: HTMLElement,
    changed: () => void,
  ) {
    const refit = () => {
      this.last = "";
      changed();
    };
    addEventListener("resize", refit);
    void document.fonts.ready.then(refit);
  }

  /** Shows an answer; far: alone, as large as the window lets it be. */
  show(a: Answer, far: boolean): void {
    const key = JSON.stringify([a, far, innerWidth, innerHeight, document.fonts.status]);
    if (key === this.last) return;
    this.last = key;
    this.h.classList.toggle("guess", a.guess);
    if (far) this.showFar(a);
    else this.showNear(a);
  }

  private showNear(a: Answer): void {
    this.h.style.removeProperty("font-size");
    this.h.style.removeProperty("line-height");
    const what = a.lack ? `${a.what.replace(/,$/, "")},` : a.what;
    render(
      html`<span class="whole"><span class=${a.note ? "what tall" : "what"}>${what}</span>${a.lack ? html` <span class="lack">${a.lack}${a.doubt ? html` <span class="sigma">${a.doubt}</span>` : ""}</span>` : a.doubt ? html` <span class="sigma">${a.doubt}</span>` : ""}</span>`,
      this.h,
    );
    const narrow = matchMedia("(max-width: 719px)").matches;
    const parts = narrow && a.lack ? [...this.h.querySelectorAll<HTMLElement>(".what, .lack")] : [this.h.querySelector<HTMLElement>(".whole")!];
    const most = narrow && !a.lack ? 2 : 1;
    for (const step of STEPS) {
      this.h.style.setProperty("--fit", String(step));
      if (parts.every((e) => Math.round(e.offsetHeight / parseFloat(getComputedStyle(e).lineHeight)) <= most && e.scrollWidth <= this.h.clientWidth + 1)) break;
    }
  }

  private showFar(a: Answer): void {
    const style = getComputedStyle(this.h);
    const pad = parseFloat(style.paddingLeft) * 2;
    const pen = document.createElement("canvas").getContext("2d")!;
    const weight = (p: Part) => (p.sort === "doubt" || a.guess ? 330 : 640);
    const known = new Map<string, number>();
    const widthOf = (p: Part): number => {
      const key = p.sort + p.text;
      if (!known.has(key)) {
        pen.font = `${weight(p)} 100px ${style.fontFamily}`;
        known.set(key, pen.measureText(p.text).width / 98);
      }
      return known.get(key)!;
    };
    const width = (line: Part[]) => line.reduce((x, p) => x + widthOf(p) + 0.26, -0.26); // .26: a space
    const { lines, size } = largest(a, this.h.clientWidth - pad, this.h.clientHeight - 24, width);
    this.h.style.setProperty("font-size", `${Math.floor(size)}px`);
    this.h.style.setProperty("line-height", String(LEADING));
    render(html`${lines.map((l) => html`<span class="far-line">${l.map((p, i) => html`${i ? " " : ""}<span class=${p.sort === "doubt" ? "sigma" : ""}>${p.text}</span>`)} </span>`)}`, this.h);
  }
}
