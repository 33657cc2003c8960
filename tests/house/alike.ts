/**
 * Where two answers differ: numbers beyond a tolerance (relative, or beside the largest of a list), lists of other
 * lengths, missing members, other words. Members named in `except` are not compared, nor are sentences, which say
 * numbers in few digits.
 */
export function differences(
  a: unknown,
  b: unknown,
  { within = 1e-6, except = [] as readonly string[] } = {},
  at = "",
): string[] {
  const told = (): string[] => [`${at}: ${String(a).slice(0, 60)} / ${String(b).slice(0, 60)}`];
  if (typeof a === "number" && typeof b === "number") {
    if (Object.is(a, b) || Math.abs(a - b) <= within * Math.max(Math.abs(a), Math.abs(b))) return [];
    return Math.abs(a - b) < 1e-9 ? [] : told();
  }
  if (typeof a === "string" && typeof b === "string") return a === b || a.includes(" ") ? [] : told();
  if (typeof a !== "object" || typeof b !== "object" || a === null || b === null)
    return a === b ? [] : told();
  if (ArrayBuffer.isView(a) && ArrayBuffer.isView(b)) return ofArrays(a, b, within, at);
  const [own, other] = [entriesOf(a), entriesOf(b)];
  const keys = new Set([...own.keys(), ...other.keys()]);
  return [...keys]
    .filter((key) => !except.includes(key))
    .flatMap((key) => differences(own.get(key), other.get(key), { within, except }, `${at}.${key}`));
}

function entriesOf(one: object): Map<string, unknown> {
  const entries = one instanceof Map ? [...one] : Object.entries(one);
  return new Map(
    entries
      .filter(([, value]) => typeof value !== "function" && value !== undefined)
      .map(([key, value]) => [String(key), value]),
  );
}

function ofArrays(a: ArrayBufferView, b: ArrayBufferView, within: number, at: string): string[] {
  const [x, y] = [a, b] as unknown as readonly [ArrayLike<number>, ArrayLike<number>];
  if (x.length !== y.length) return [`${at}: ${x.length} / ${y.length} values`];
  let largest = 0;
  for (let i = 0; i < x.length; i += 1)
    if (Number.isFinite(x[i])) largest = Math.max(largest, Math.abs(x[i]));
  for (let i = 0; i < x.length; i += 1) {
    const same = Number.isNaN(x[i]) ? Number.isNaN(y[i]) : Math.abs(x[i] - y[i]) <= within * largest;
    if (!same && x[i] !== y[i]) return [`${at}[${i}]: ${x[i]} / ${y[i]}`];
  }
  return [];
}
