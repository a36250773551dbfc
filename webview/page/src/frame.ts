// One drawing an animation frame, however many things happen; none when nothing changes.

/** Calls draw in the next animation frame after each ask. draw returns how long it may rest, in ms; Infinity: until asked. */
export function frames(draw: (now: number) => number): () => void {
  let asked = 0;
  let alarm = 0;
  const run = () => {
    asked = 0;
    const rest = draw(Date.now());
    clearTimeout(alarm);
    if (rest <= 0) ask();
    else if (Number.isFinite(rest)) alarm = setTimeout(ask, rest);
  };
  const ask = () => {
    asked ||= requestAnimationFrame(run);
  };
  return ask;
}
