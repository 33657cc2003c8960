import type { MatContents, MatValue } from "./matFile.js";

/** Sizes and readers of the number formats of level 4, by the third digit of the type. */
const formats: readonly (readonly [number, (v: DataView, at: number, le: boolean) => number])[] = [
  [8, (v, at, le) => v.getFloat64(at, le)],
  [4, (v, at, le) => v.getFloat32(at, le)],
  [4, (v, at, le) => v.getInt32(at, le)],
  [2, (v, at, le) => v.getInt16(at, le)],
  [2, (v, at, le) => v.getUint16(at, le)],
  [1, (v, at) => v.getUint8(at)],
];
const headBytes = 20;

interface Head {
  readonly littleEndian: boolean;
  readonly format: number;
  readonly kind: number;
  readonly rows: number;
  readonly columns: number;
  readonly imaginary: boolean;
  readonly nameBytes: number;
}

/** The head of a matrix of level 4 at a byte; undefined when there is none that could be. */
function headAt(view: DataView, at: number): Head | undefined {
  if (at + headBytes > view.byteLength) return undefined;
  for (const littleEndian of [true, false]) {
    const type = view.getUint32(at, littleEndian);
    const [m, o, p, t] = [
      Math.floor(type / 1000),
      Math.floor(type / 100) % 10,
      Math.floor(type / 10) % 10,
      type % 10,
    ];
    if (m !== (littleEndian ? 0 : 1) || o !== 0 || p > 5 || t > 2) continue;
    const rows = view.getUint32(at + 4, littleEndian);
    const columns = view.getUint32(at + 8, littleEndian);
    const imaginary = view.getUint32(at + 12, littleEndian);
    const nameBytes = view.getUint32(at + 16, littleEndian);
    if (imaginary > 1 || nameBytes < 2 || nameBytes > 256) continue;
    return { littleEndian, format: p, kind: t, rows, columns, imaginary: imaginary === 1, nameBytes };
  }
  return undefined;
}

/** True when bytes begin as a MAT-file of level 4 does: a head that fits, and a name of letters that ends in zero. */
export function isMatFile4(bytes: Uint8Array): boolean {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const head = headAt(view, 0);
  if (head === undefined || bytes.length < headBytes + head.nameBytes) return false;
  const name = String.fromCharCode(...bytes.subarray(headBytes, headBytes + head.nameBytes));
  return /^[A-Za-z]\w*\0$/.test(name);
}

/**
 * Reads a MAT-file of level 4 (the older of the two published formats): real matrices and text. A file cut short gives
 * what stood before.
 *
 * @example
 * readMatFile4(bytes).variables.get("t"); // { kind: "numeric", size: [1000, 1], data: Float64Array }
 */
export function readMatFile4(bytes: Uint8Array): MatContents {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const variables = new Map<string, MatValue>();
  let at = 0;
  while (at < bytes.length) {
    const head = headAt(view, at);
    if (head === undefined)
      return { variables, broken: `at byte ${at} of ${bytes.length}: no head of a matrix` };
    const { littleEndian, rows, columns, nameBytes } = head;
    const [size, read] = formats[head.format];
    const from = at + headBytes + nameBytes;
    const count = rows * columns;
    const end = from + count * size * (head.imaginary ? 2 : 1);
    if (!Number.isSafeInteger(count) || end > bytes.length)
      return {
        variables,
        broken: `at byte ${at} of ${bytes.length}: ${rows} x ${columns} numbers announced, fewer present`,
      };
    const name = String.fromCharCode(...bytes.subarray(at + headBytes, from - 1));
    if (head.kind === 0) {
      const data = new Float64Array(count);
      for (let i = 0; i < count; i += 1) data[i] = read(view, from + i * size, littleEndian);
      variables.set(name, { kind: "numeric", size: [rows, columns], data });
    } else if (head.kind === 2)
      variables.set(name, { kind: "unsupported", size: [rows, columns], what: "sparse array" });
    at = end;
  }
  return { variables };
}
