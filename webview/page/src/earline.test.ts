import assert from "node:assert/strict";
import test from "node:test";
import { EarLine, QUIET, type EarSocket, type Ended } from "./earline.ts";

const HELLO = { rate_hz: 48000, settings: {} };
const TOLD = JSON.stringify({ v: 1, type: "ear", id: "here", in_use: true, frames: 0, missing: 0, late: 0, lost_samples: 0, dropped: 0, words: "" });
const turn = () => new Promise<void>((done) => setImmediate(done));

function rig() {
  const sockets: (EarSocket & { sent: (string | ArrayBuffer)[]; bufferedAmount: number })[] = [];
  const waits: (() => void)[] = []; // for another try
  let silence: (() => void) | null = null; // comes when nothing has been told for long
  const tokens: boolean[] = [];
  const ended: [Ended, string][] = [];
  let away = 0;
  const line = new EarLine(
    {
      connect: () => {
        const s = { sent: [] as (string | ArrayBuffer)[], bufferedAmount: 0, onopen: null, onmessage: null, onclose: null, send: (d: string | ArrayBuffer) => void s.sent.push(d), close: () => undefined };
        sockets.push(s);
        return s;
      },
      token: (anew) => (tokens.push(anew), Promise.resolve("t")),
      later: (ms, then) => {
        if (ms !== QUIET) return waits.push(then), () => undefined;
        silence = then;
        return () => void (silence = null);
      },
      chance: () => 0.5,
    },
    { told: () => undefined, away: () => away++, ended: (why, words) => ended.push([why, words]) },
    HELLO,
  );
  const greet = async () => {
    await turn();
    const s = sockets[sockets.length - 1]!;
    s.onopen?.({});
    s.onmessage?.({ data: TOLD });
    return s;
  };
  return { line, sockets, waits, tokens, ended, greet, away: () => away, silence: () => silence };
}

const header = (d: string | ArrayBuffer) => {
  const v = new DataView(d as ArrayBuffer);
  return [v.getUint16(2, true), v.getUint32(4, true), Number(v.getBigUint64(8, true))];
};

test("it greets with its token, then sends numbered frames with their clock", async () => {
  const r = rig();
  r.line.frame(0, new Float32Array(10)); // before there is a line
  const s = await r.greet();
  assert.deepEqual(JSON.parse(s.sent[0] as string), { v: 1, type: "hello", token: "t", ...HELLO });
  r.line.frame(10, new Float32Array(10));
  r.line.frame(20, new Float32Array(5));
  assert.deepEqual(s.sent.slice(1).map(header), [[10, 0, 10], [5, 1, 20]]);
  assert.equal(r.line.lost, 0);
});

test("where too much waits to be sent a frame is left out, and its number tells", async () => {
  const r = rig();
  const s = await r.greet();
  r.line.frame(0, new Float32Array(10));
  s.bufferedAmount = 1e9;
  r.line.frame(10, new Float32Array(10));
  s.bufferedAmount = 0;
  r.line.frame(20, new Float32Array(10));
  assert.deepEqual(s.sent.slice(1).map(header), [[10, 0, 0], [10, 2, 20]]);
});

test("a line that breaks comes back, counts from 0 anew and counts what it could not send", async () => {
  const r = rig();
  const first = await r.greet();
  r.line.frame(0, new Float32Array(10));
  first.onclose?.({ code: 1006, reason: "" });
  r.line.frame(10, new Float32Array(7));
  assert.deepEqual([r.away(), r.line.lost], [1, 7]);
  r.waits.pop()!();
  const second = await r.greet();
  r.line.frame(17, new Float32Array(3));
  assert.deepEqual(header(second.sent[1]!), [3, 0, 17]);
  assert.deepEqual(r.tokens, [false, false]);
});

test("a token that is refused is asked for anew", async () => {
  const r = rig();
  (await r.greet()).onclose?.({ code: 1008, reason: "" });
  r.waits.pop()!();
  await r.greet();
  assert.deepEqual(r.tokens, [false, true]);
});

test("what would not help is not tried again", async () => {
  for (const [code, why] of [[4001, "replaced"], [4003, "revoked"], [1007, "refused"]] as const) {
    const r = rig();
    (await r.greet()).onclose?.({ code, reason: "because" });
    assert.deepEqual([r.ended, r.waits.length], [[[why, "because"]], 0]);
  }
});

test("a line that tells nothing any more is given up and tried anew, its close or not", async () => {
  const r = rig();
  await r.greet();
  r.silence()!();
  assert.deepEqual([r.away(), r.waits.length], [1, 1]);
  r.line.frame(0, new Float32Array(9));
  assert.equal(r.line.lost, 9);
  r.waits.pop()!();
  await turn(); // a line that never opens
  r.silence()!();
  assert.deepEqual([r.away(), r.waits.length, r.sockets.length], [2, 1, 2]);
  r.line.stop();
  assert.equal(r.silence(), null);
});
