import { findSteps } from "../../numeric/series/findSteps.js";
import { median, robustScale } from "../../numeric/series/median.js";
import { speedFromPosition } from "../../numeric/series/speedFromPosition.js";
import type { SourceTable } from "../formats/sourceTable.js";

/** What a column without a name looks like, told to a person and never acted on. */
export interface Suggestion {
  readonly index: number;
  readonly looksLike: string;
  readonly map?: string;
}

const mostLooked = 16;

/**
 * Looks at the numbers of a table without names: which column rises evenly (time), which is the derivative of which (position and
 * speed), which is held and stepped (a command). It only proposes a mapping; a person confirms it.
 */
export async function suggestMapping(table: SourceTable): Promise<readonly Suggestion[]> {
  const indices = table.columns
    .map((_, k) => k)
    .filter((k) => table.columns[k].kind === "number")
    .slice(0, mostLooked);
  if (indices.length < 2) return [];
  const { columns } = await table.read(indices);
  const n = columns[0].length;
  if (n < 50) return [];
  const out: Suggestion[] = [];
  const label = (k: number): string => `#${indices[k] + 1}`;
  const time = columns.findIndex((c) => risesEvenly(c));
  if (time < 0) return [];
  out.push({ index: indices[time], looksLike: "rises evenly, as time does", map: `time=${label(time)}` });
  const span = columns[time][n - 1] - columns[time][0];
  const varying = columns.map((c, k) => k !== time && c.some((v) => v !== c[0] && !Number.isNaN(v)));
  let found = false;
  for (let p = 0; p < columns.length && !found; p += 1) {
    if (!varying[p]) continue;
    const derived = speedFromPosition(columns[time], columns[p]).speed;
    for (let s = 0; s < columns.length && !found; s += 1) {
      if (s === p || !varying[s] || !(span > 0)) continue;
      const ratios: number[] = [];
      const top = median(derived.map(Math.abs));
      for (let i = 0; i < n; i += Math.max(1, Math.floor(n / 500))) {
        if (Math.abs(derived[i]) > 0.5 * top) ratios.push(columns[s][i] / derived[i]);
      }
      const ratio = median(ratios);
      if (ratios.length > 20 && Math.abs(ratio) > 0 && robustScale(ratios) < 0.05 * Math.abs(ratio)) {
        found = true;
        out.push({
          index: indices[p],
          looksLike: `its derivative is column ${label(s)} (times ${Number(ratio.toPrecision(4))}), as of a position`,
          map: `position=${label(p)}`,
        });
        out.push({
          index: indices[s],
          looksLike: `the derivative of column ${label(p)}, as a speed`,
          map: `speed=${label(s)}`,
        });
      }
    }
  }
  for (let k = 0; k < columns.length; k += 1) {
    if (out.some((o) => o.index === indices[k]) || !varying[k]) continue;
    const { steps, noise } = findSteps(columns[k]);
    if (noise === 0 && steps.length > 0 && steps.length < 50) {
      out.push({
        index: indices[k],
        looksLike: `held and stepped (${steps.length} ${steps.length === 1 ? "step" : "steps"}), as a command of current, torque or speed`,
        ...(out.some((o) => o.map?.startsWith("currentCommand"))
          ? {}
          : { map: `currentCommand=${label(k)}` }),
      });
    }
  }
  return out.sort((a, b) => a.index - b.index);
}

function risesEvenly(values: Float64Array): boolean {
  const n = values.length;
  const mean = (values[n - 1] - values[0]) / (n - 1);
  if (!(mean > 0)) return false;
  let uneven = 0;
  for (let i = 1; i < n; i += 1) {
    const d = values[i] - values[i - 1];
    if (!(d > 0)) return false;
    if (Math.abs(d - mean) > 0.5 * mean) uneven += 1;
  }
  return uneven < n / 50;
}

/** The suggestions as a sentence, empty when there are none. */
export function suggestionText(suggestions: readonly Suggestion[]): string {
  if (suggestions.length === 0) return "";
  const seen = suggestions.map((s) => `column #${s.index + 1} ${s.looksLike}`).join("; ");
  const maps = suggestions
    .map((s) => s.map)
    .filter((m) => m !== undefined)
    .map((m) => `--map ${m}`)
    .join(" ");
  return `going by the numbers alone, ${seen}. If that is right: ${maps}`;
}
