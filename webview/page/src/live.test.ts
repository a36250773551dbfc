import assert from "node:assert/strict";
import test from "node:test";
import { pot } from "./fixture.ts";
import { FIRST, live, LONGEST, OPENING, QUIET, waitFor, type Outside, type Socket } from "./live.ts";

/** A browser whose clock and network are turned by hand. */
function rig() {
  const sockets: Socket[] = [];
  const timers: { ms: number; then: () => void; off: boolean }[] = [];
  const told: string[] = [];
  let answer: unknown = { until: null, strikes: [] };
  let door: () => Promise<boolean> = () => Promise.resolve(true);
  const out: Outside = {
    connect() {
      const s: Socket = { onopen: null, onmessage: null, onclose: null, close: () => s.onclose?.({}) };
      sockets.push(s);
      return s;
    },
    strikesAfter: (id) => (told.push(`fetch ${id}`), Promise.resolve(answer)),
    letIn: () => door(),
    later(ms, then) {
      const t = { ms, then, off: false };
      timers.push(t);
      return () => void (t.off = true);
    },
    chance: () => 0.5,
  };
  const line = live(out, {
    message: (m) => told.push(m.type),
    caughtUp: (after, k) => told.push(`caught up after ${after}: ${k.strikes.map((x) => x.id)}`),
    link: (l) => told.push(l),
    fault: (e) => told.push(`fault ${(e as Error).message}`),
  });
  return {
    told, line, sockets, timers,
    last: () => sockets[sockets.length - 1]!,
    say: (data: unknown) => sockets[sockets.length - 1]!.onmessage?.({ data: typeof data === "string" ? data : JSON.stringify(data) }),
    waiting: () => timers.filter((t) => !t.off && t.ms !== OPENING && t.ms !== QUIET),
    quiet: () => timers.filter((t) => !t.off && t.ms === QUIET),
    door: (d: () => Promise<boolean>) => void (door = d),
    ring: (t: { then: () => void; off: boolean }) => { t.off = true; t.then(); },
    will: (a: unknown) => void (answer = a),
  };
}
const gone = { v: 1, type: "gone", id: "a" };

test("messages are passed on, what is not known is passed over, what is broken is told", () => {
  const r = rig();
  r.say(gone);
  r.say({ v: 1, type: "weather" });
  r.say("{");
  assert.deepEqual(r.told, ["open", "gone", "fault a frame that is not JSON"]);
});

test("after a loss it says so once, comes back by itself, and says that", () => {
  const r = rig();
  r.say(gone);
  r.last().close();
  assert.deepEqual(r.told, ["open", "gone", "gone"]); // the message, then the link
  assert.equal(r.waiting().length, 1);
  r.ring(r.waiting()[0]!);
  assert.equal(r.sockets.length, 2);
  r.say(gone);
  assert.deepEqual(r.told.slice(3), ["open", "gone"]);
});

test("a first connection that fails at once is not called a loss before the third try", () => {
  const r = rig();
  for (let i = 0; i < 3; i++) {
    assert.deepEqual(r.told, []);
    r.last().close();
    if (i < 2) r.ring(r.waiting()[0]!);
  }
  assert.deepEqual(r.told, ["gone"]);
});

test("waits grow, stay under the longest, and differ between pages", () => {
  assert.equal(waitFor(0, 0.5), FIRST);
  for (let n = 0; n < 100; n++) {
    assert(waitFor(n, 0.5) <= LONGEST && waitFor(n, 0.5) >= waitFor(n - 1, 0.5));
    assert(waitFor(n, 0) < waitFor(n, 1));
  }
});

test("a connection that never speaks is tried anew", () => {
  const r = rig();
  const silent = r.timers.find((t) => t.ms === OPENING)!;
  r.ring(silent);
  assert.equal(r.waiting().length, 1);
});

test("missed strikes are fetched from where they are missing", async () => {
  const r = rig();
  r.will({ after: "a", until: "b", strikes: [{ ...pot(3), id: "b" }] });
  r.say({ v: 1, type: "missed", after: "a", count: 4 });
  r.say(gone); // must not be undone by an answer that is older
  assert.deepEqual(r.told, ["open", "fetch a", "missed"]);
  await turns();
  assert.deepEqual(r.told, ["open", "fetch a", "missed", "caught up after a: b", "gone"]);
});

test("an answer that cannot be had holds nothing back for ever", async () => {
  const r = rig();
  r.will("no answer at all");
  r.say({ v: 1, type: "missed", after: "a", count: 4 });
  r.say({ v: 1, type: "missed", after: "b", count: 1 });
  r.say(gone);
  await turns();
  assert.deepEqual(r.told.filter((x) => !x.startsWith("fault")), ["open", "fetch a", "missed", "fetch b", "missed", "gone"]);
});

test("what was on its way when the line broke is not taken", async () => {
  const r = rig();
  r.will({ after: "a", until: "b", strikes: [] });
  r.say({ v: 1, type: "missed", after: "a", count: 4 });
  r.say(gone);
  r.last().close();
  r.ring(r.waiting()[0]!);
  await turns();
  assert.deepEqual(r.told, ["open", "fetch a", "missed", "gone"]); // the link, not the message
});

/** Lets every promise that can go on do so. */
const turns = () => new Promise<void>((then) => setTimeout(then, 0));

test("retry does not wait, stop ends it all", () => {
  const r = rig();
  r.last().close();
  r.line.retry();
  assert.equal(r.sockets.length, 2);
  r.line.retry();
  assert.equal(r.sockets.length, 2, "one line at a time");
  r.line.stop();
  assert.equal(r.waiting().length, 0);
});

test("a line that falls silent is asked after; where nobody answers it is down at once", async () => {
  const r = rig();
  r.say(gone);
  r.say(gone);
  assert.equal(r.quiet().length, 1, "one doubt at a time");
  r.ring(r.quiet()[0]!);
  await turns();
  assert.deepEqual([r.quiet().length, r.waiting().length, r.told], [1, 0, ["open", "gone", "gone"]]); // the messages
  r.door(() => Promise.reject(new TypeError("no network")));
  r.last().close = () => undefined; // as where no close is ever answered
  r.ring(r.quiet()[0]!);
  await turns();
  assert.deepEqual([r.quiet().length, r.waiting().length, r.told.slice(3)], [0, 1, ["gone"]]);
  r.sockets[0]!.onmessage?.({ data: JSON.stringify(gone) }); // what comes late on the old line is not taken
  assert.equal(r.told.length, 4);
});

test("a device that is no longer paired is told so, and does not try again", async () => {
  for (const end of [
    (r: ReturnType<typeof rig>) => (r.say(gone), r.last().onclose?.({ code: 4003 })), // while it listens
    (r: ReturnType<typeof rig>) => (r.door(() => Promise.resolve(false)), r.last().onclose?.({ code: 1006 })), // at the door
    (r: ReturnType<typeof rig>) => (r.say(gone), r.door(() => Promise.resolve(false)), r.line.doubt()),
  ]) {
    const r = rig();
    end(r);
    await turns();
    r.line.retry();
    assert.deepEqual([r.told.at(-1), r.waiting().length, r.quiet().length, r.sockets.length], ["shut", 0, 0, 1]);
  }
});
