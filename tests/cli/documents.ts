import { readFileSync } from "node:fs";
import { join } from "node:path";
import { Ajv2020, type ValidateFunction } from "ajv/dist/2020.js";
import { run as diagnose } from "../../lib/cli/diagnose.js";
import { run as fit } from "../../lib/cli/fit.js";
import { run as inspect } from "../../lib/cli/inspect.js";
import type { Command } from "../../lib/cli/io.js";
import { run as loop } from "../../lib/cli/loop.js";
import { capture } from "../house/capture.js";
import { uglyIn } from "../house/humanText.js";
import type { HumanCase } from "./humanCases.js";

const ajv = new Ajv2020({ strict: false, allErrors: true });
const schemaOf = (name: string): ValidateFunction =>
  ajv.compile(
    JSON.parse(readFileSync(join(import.meta.dirname, `../../lib/schema/${name}.schema.json`), "utf8")),
  );

const commands: Readonly<Record<string, { readonly command: Command; readonly fits: ValidateFunction }>> = {
  inspect: { command: inspect, fits: schemaOf("inspect") },
  diagnose: { command: diagnose, fits: schemaOf("diagnosis") },
  fit: { command: fit, fits: schemaOf("fit") },
  loop: { command: loop, fits: schemaOf("loop") },
};

/** Keys whose texts are running sentences for people. */
const sentences = new Set(["message", "meaning", "text", "reason", "method", "detail", "action", "why"]);

/** Keys of counts: none is below nothing. */
const counted = /^(?:rows|samples|count|counts|windows|files|trials|steps|recordings|values|usable)$|Count$/;

/** What is wrong with a value of a document, wherever it stands in it. */
function wrongIn(value: unknown, names: readonly string[], path: string, key: string): string[] {
  if (typeof value === "string") {
    if (/\b(?:NaN|undefined|Infinity)\b|\[object /.test(value) && !names.some((name) => value.includes(name)))
      return [`${path}: "${value.slice(0, 160)}"`];
    return sentences.has(key) ? uglyIn(value, names).map((line) => `${path}: ${line}`) : [];
  }
  if (typeof value === "number") {
    const share = /probability|confidence$/i.test(key);
    return (share && !(value >= 0 && value <= 1)) || (counted.test(key) && !(value >= 0))
      ? [`${path}: ${value}`]
      : [];
  }
  if (Array.isArray(value)) return value.flatMap((item) => wrongIn(item, names, `${path}[]`, key));
  if (typeof value !== "object" || value === null) return [];
  const entries = Object.entries(value).flatMap(([name, item]) =>
    wrongIn(item, names, `${path}.${name}`, name),
  );
  return [...intervalUpsideDown(value, path), ...entries];
}

function intervalUpsideDown(value: object, path: string): string[] {
  const { low, high, value: middle } = value as { low?: unknown; high?: unknown; value?: unknown };
  if (typeof low !== "number" || typeof high !== "number") return [];
  const outside = typeof middle === "number" && (middle < low || middle > high);
  return low > high || outside ? [`${path}: ${middle} in ${low} to ${high}`] : [];
}

/** Everything wrong with the JSON documents of a case: not valid by their schema, or with numbers and words that cannot
 * be. */
export async function wrongDocuments({ files, names }: HumanCase): Promise<Record<string, string[]>> {
  const out: Record<string, string[]> = {};
  for (const [name, { command, fits }] of Object.entries(commands)) {
    const args = [...files, "--json", ...(name === "loop" ? ["--no-proposals"] : [])];
    const { out: text } = await capture(command, args, { columns: 100 });
    let document: unknown;
    try {
      document = JSON.parse(text);
    } catch {
      out[`${name} --json`] = [`no document: ${text.slice(0, 200)}`];
      continue;
    }
    const invalid = fits(document)
      ? []
      : (fits.errors ?? []).map((e) => `${e.instancePath.replace(/\d+/g, "#")} ${e.message}`);
    out[`${name} --json`] = [...new Set([...invalid, ...wrongIn(document, names, "", "")])];
  }
  return out;
}
