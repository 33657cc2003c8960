import { readFile, stat } from "node:fs/promises";
import { basename } from "node:path";
import { visible } from "../../units/text.js";
import type { Finding } from "../types.js";
import { arraysAsTables, type NamedArray } from "./namedArrays.js";
import { NotAnArray, numpyArrays } from "./numpyArray.js";
import { CannotRead, type SourceTable } from "./sourceTable.js";
import { unpackLimit, unpacksTooFar } from "./unpackLimit.js";
import { zipMembers } from "./zipMembers.js";

/** Arrays are read whole; larger files than this are refused. */
const mostBytes = 1_000_000_000;

/** The table of an array file: its columns, or the named fields of its records. */
export async function readNpy(path: string): Promise<SourceTable[]> {
  const { size } = await stat(path);
  if (size > mostBytes) throw unpacksTooFar(path, size, "the array file reads");
  let arrays: readonly NamedArray[];
  try {
    const name = basename(path).replace(/\.npy$/i, "");
    arrays = numpyArrays(await readFile(path), name);
    // One matrix with a single name: its columns have none of their own.
    if (arrays.some((a) => a.name !== name)) arrays = numpyArrays(await readFile(path), "");
  } catch (error) {
    throw refused(path, error);
  }
  return arraysAsTables(path, "NPY", { arrays, scalars: [] }, []);
}

/** The tables of arrays that are packed together by their names. */
export async function readNpz(path: string): Promise<SourceTable[]> {
  const { size } = await stat(path);
  const findings: Finding[] = [];
  const arrays: NamedArray[] = [];
  const scalars: { name: string; value: number }[] = [];
  const left: string[] = [];
  const most = Math.min(mostBytes, unpackLimit(size));
  let total = 0;
  for (const member of await zipMembers(path)) {
    const name = member.name.replace(/\.npy$/i, "");
    const parts: Buffer[] = [];
    await member.open(async (content) => {
      for await (const chunk of content) {
        total += (chunk as Buffer).length;
        if (total > most) throw unpacksTooFar(path, size);
        parts.push(chunk as Buffer);
      }
    });
    try {
      const own = numpyArrays(Buffer.concat(parts), name);
      for (const a of own) {
        if (a.rows * a.columns === 1) scalars.push({ name: a.name, value: a.column(0)[0] });
        else arrays.push(a);
      }
      if (own.length === 0) left.push(`${name} (text or objects)`);
    } catch (error) {
      if (!(error instanceof NotAnArray)) throw error;
      left.push(`${name} (${error.message})`);
    }
  }
  if (left.length > 0) {
    findings.push({
      severity: "note",
      code: "values-left",
      message: `arrays that hold no numbers were left out: ${left
        .slice(0, 8)
        .map((l) => visible(l, 80))
        .join(", ")}`,
      file: path,
    });
  }
  return arraysAsTables(path, "NPZ", { arrays, scalars }, findings);
}

function refused(path: string, error: unknown): unknown {
  if (!(error instanceof NotAnArray)) return error;
  return new CannotRead({
    severity: "error",
    code: "not-an-array",
    message: `the array file cannot be read: ${visible(error.message, 160)}; save numbers, not objects, or export a text table`,
    file: path,
  });
}
