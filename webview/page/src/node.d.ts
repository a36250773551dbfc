// The little of Node's own types that the unit tests use, so that no package of types is needed.
declare module "node:test" {
  export default function test(name: string, body: () => void | Promise<void>): void;
}
declare module "node:assert/strict" {
  interface Assert {
    (value: unknown, message?: string): asserts value;
    equal(got: unknown, wanted: unknown, message?: string): void;
    deepEqual(got: unknown, wanted: unknown, message?: string): void;
    throws(body: () => unknown, what?: RegExp | (new (...a: any[]) => Error)): void;
    match(text: string, pattern: RegExp, message?: string): void;
  }
  const assert: Assert;
  export default assert;
}
declare module "node:fs" {
  export function readFileSync(path: string, encoding: "utf8"): string;
  export function readFileSync(path: string): Uint8Array;
  export function readdirSync(path: string): string[];
}
declare module "node:process" {
  const process: { cwd(): string };
  export default process;
}
declare function setImmediate(then: () => void): void;
