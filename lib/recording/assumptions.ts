import type { ChannelRole, ColumnUnderstanding, Recording } from "./types.js";

/** Something that figures of a recording rest on, and that nobody stated and nothing in the log settles. */
export interface Assumption {
  /** Heading of the column as logged; its place, `#2`, where it has none. */
  readonly column: string;
  readonly role: ChannelRole | "time";
  /** Whether it is open what the column holds, or in which unit. */
  readonly of: "role" | "unit";
  /** The role, or the UCUM code of the unit, that was taken. */
  readonly taken: string;
  /** Chance that it is so, 0 to 1. */
  readonly probability: number;
  /** The option that answers it. */
  readonly option: string;
}

/** From this chance on a figure is shown without a word about what it rests on (judgement: one log of ten). */
const sure = 0.9;

/**
 * What was assumed of the channels of a recording with less than 90 %: what a column holds, and its unit. Empty where
 * the names, units and numbers of the log say it, or a person did.
 *
 * @example
 * assumptionsOf(recording); // [{ column: "y", role: "speed", of: "unit", taken: "rad/s", probability: 0.45, ... }]
 */
export function assumptionsOf(recording: Recording): readonly Assumption[] {
  const { channels, understanding = [], findings, source } = recording;
  const unitOpen = new Set(
    findings.flatMap(({ code, column }) =>
      (code === "unit-assumed" || code === "time-unit-assumed") && column !== undefined ? [column] : [],
    ),
  );
  return understanding.flatMap((c) => {
    const role = c.role;
    const used =
      role === "time"
        ? c.column === source?.timeColumn
        : role !== undefined && channels[role as ChannelRole]?.name === c.column;
    return used ? openOf(c, role as Assumption["role"], unitOpen.has(c.column)) : [];
  });
}

function openOf(c: ColumnUnderstanding, role: Assumption["role"], unitOpen: boolean): Assumption[] {
  const column = c.column.trim() === "" ? `#${c.index + 1}` : c.column;
  const name = /^[\w#.-]+$/.test(column) ? column : `"${column.replace(/"/g, '\\"')}"`;
  const about = { column, role };
  const { probability, unit, unitProbability = 1 } = c;
  const open: Assumption[] = [];
  if (probability < sure)
    open.push({ ...about, of: "role", taken: role, probability, option: `--map ${role}=${name}` });
  if (unitOpen && unitProbability < sure && unit !== undefined)
    open.push({
      ...about,
      of: "unit",
      taken: unit,
      probability: unitProbability,
      option: `--unit ${name}=<unit>`,
    });
  return open;
}
