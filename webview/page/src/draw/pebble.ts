// The outline of a stone. Pure.

/**
 * A closed path round a stone that stands on (0, 0): half width 1.15 r, height 1.55 r, a flat foot of half width foot
 * (at least .42 r, at most the stone's own), its crown skew r off centre.
 */
export function pebble(r: number, foot: number, skew = 0): string {
  const a = 1.15 * r;
  const h = 1.55 * r;
  const f = Math.min(Math.max(foot, 0.42 * r), 0.98 * a);
  const c = skew * r;
  const n = (...xs: number[]) => xs.map((x) => Math.round(x * 100) / 100).join(" ");
  return (
    `M${n(-f)} 0H${n(f)}C${n(f + (a - f) * 0.8, 0, a, -0.2 * h, a, -0.44 * h)}C${n(a, -0.78 * h, c + 0.62 * a, -h, c, -h)}` +
    `C${n(c - 0.62 * a, -h, -a, -0.78 * h, -a, -0.44 * h)}C${n(-a, -0.2 * h, -f - (a - f) * 0.8, 0, -f, 0)}Z`
  );
}

/** A stone's own lean, from its key, so that it keeps its shape from telling to telling: -.2 .. .2. */
export function lean(key: string): number {
  let h = 7;
  for (const c of key) h = (h * 31 + c.charCodeAt(0)) % 1009;
  return (h / 1009 - 0.5) * 0.4;
}
