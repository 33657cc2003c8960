import { deserialize, serialize } from "node:v8";

/** A value taken apart for another process: long columns of numbers by themselves, all else as one block. */
export interface TakenApart {
  readonly rest: Buffer;
  readonly columns: readonly Float64Array[];
}

/** Columns shorter than this travel with the rest. */
const short = 64;

/**
 * Takes the long columns out of a plain value, each once, so that they can be sent as they are. A single 64-bit whole
 * number, which occurs in no result, stands where one was.
 */
export function takeApart(value: unknown): TakenApart {
  const columns: Float64Array[] = [];
  const seen = new Map<object, unknown>();
  const walk = (part: unknown): unknown => {
    if (typeof part !== "object" || part === null) return part;
    const known = seen.get(part);
    if (known !== undefined) return known;
    if (part instanceof Float64Array && part.length >= short) {
      const mark = BigUint64Array.of(BigInt(columns.length));
      columns.push(part);
      seen.set(part, mark);
      return mark;
    }
    if (Array.isArray(part)) {
      const copy: unknown[] = [];
      seen.set(part, copy);
      for (const item of part) copy.push(walk(item));
      return copy;
    }
    const form = Object.getPrototypeOf(part);
    if (form !== Object.prototype && form !== null) return part;
    const copy: Record<string, unknown> = {};
    seen.set(part, copy);
    for (const [key, item] of Object.entries(part)) put(copy, key, walk(item));
    return copy;
  };
  return { rest: serialize(walk(value)), columns };
}

/** The value that was taken apart. */
export function putTogether({ rest, columns }: TakenApart): unknown {
  const seen = new Set<object>();
  const walk = (part: unknown): unknown => {
    if (typeof part !== "object" || part === null) return part;
    if (part instanceof BigUint64Array && part.length === 1) return columns[Number(part[0])];
    if (seen.has(part) || ArrayBuffer.isView(part)) return part;
    seen.add(part);
    if (Array.isArray(part)) for (let i = 0; i < part.length; i += 1) part[i] = walk(part[i]);
    else if (Object.getPrototypeOf(part) === Object.prototype)
      for (const [key, item] of Object.entries(part)) put(part as Record<string, unknown>, key, walk(item));
    return part;
  };
  return walk(deserialize(rest));
}

/** A name from a file may be `__proto__`. */
function put(target: Record<string, unknown>, key: string, value: unknown): void {
  Object.defineProperty(target, key, { value, enumerable: true, writable: true, configurable: true });
}
