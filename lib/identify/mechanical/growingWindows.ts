/**
 * Windows that start short after a step, where things change fast, and grow with the time since: each is about a third
 * of its age, at least `shortest` samples, at most a tenth of the stretch. Neighbours overlap by half.
 */
export function growingWindows(from: number, to: number, shortest = 10): { from: number; to: number }[] {
  const windows: { from: number; to: number }[] = [];
  const longest = Math.max(shortest, Math.floor((to - from) / 10));
  let at = from;
  while (true) {
    const length = Math.min(longest, Math.max(shortest, Math.round(0.3 * (at - from))));
    if (at + length > to) break;
    windows.push({ from: at, to: at + length });
    at += Math.max(1, length >> 1);
  }
  return windows;
}

/** Half-overlapping windows of one length: a fortieth of the stretch, or `shortest` samples when that is more. */
export function evenWindows(from: number, to: number, shortest = 10): { from: number; to: number }[] {
  const length = Math.max(shortest, Math.floor((to - from) / 40));
  const windows: { from: number; to: number }[] = [];
  for (let at = from; at + length <= to; at += Math.max(1, length >> 1))
    windows.push({ from: at, to: at + length });
  return windows;
}
