/** Rows of a table that the numbers are judged by: blocks of neighbouring rows, spread over the whole. */
export interface LookedRows {
  /** First row of each block, and the number of rows in it. */
  readonly blocks: readonly { readonly from: number; readonly to: number }[];
  readonly count: number;
}

const wholeUpTo = 4000;
const blocksOfLong = 12;
const rowsOfBlock = 300;

/** All rows of a short table; twelve blocks of a long one, so that looking takes the same time at any length. */
export function lookedRows(rows: number): LookedRows {
  if (rows <= wholeUpTo) return { blocks: [{ from: 0, to: rows }], count: rows };
  const blocks = Array.from({ length: blocksOfLong }, (_, k) => {
    const from = Math.floor((k * (rows - rowsOfBlock)) / (blocksOfLong - 1));
    return { from, to: from + rowsOfBlock };
  });
  return { blocks, count: blocksOfLong * rowsOfBlock };
}

/** The looked-at values of a column, block after block. */
export function looked(values: Float64Array, rows: LookedRows): Float64Array {
  if (rows.blocks.length === 1 && rows.count === values.length) return values;
  const out = new Float64Array(rows.count);
  let at = 0;
  for (const { from, to } of rows.blocks) {
    out.set(values.subarray(from, to), at);
    at += to - from;
  }
  return out;
}

/** Starts of blocks within the looked-at values, and their end. */
export function edgesOf(rows: LookedRows): readonly number[] {
  const edges = [0];
  for (const { from, to } of rows.blocks) edges.push(edges[edges.length - 1] + to - from);
  return edges;
}

/** Runs of one word are at least so many rows long on average, where words part the rows (judgement). */
const rowsOfRun = 10;

/** The same starts, and those rows at which one of a few columns of words goes over to another word. */
export function partedAt(edges: readonly number[], words: readonly Float64Array[]): readonly number[] {
  const all = new Set(edges);
  for (const w of words) {
    const changes: number[] = [];
    for (let i = 1; i < w.length; i += 1) if (w[i] !== w[i - 1]) changes.push(i);
    if (changes.length * rowsOfRun <= w.length) for (const i of changes) all.add(i);
  }
  return [...all].sort((a, b) => a - b);
}
