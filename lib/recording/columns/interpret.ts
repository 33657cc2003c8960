import type { DriveFacts, EncoderFacts, LeadOrder, MachineFacts } from "../../motor/facts.js";
import { leadOrders } from "../../motor/facts.js";
import { median } from "../../numeric/series/median.js";
import { quantisationStep } from "../../numeric/series/quantisationStep.js";
import { unwrap } from "../../numeric/series/unwrap.js";
import { conversion } from "../../units/convert.js";
import { visible } from "../../units/text.js";
import { unitCode } from "../../units/unitCode.js";
import type { DescribedField, StatedFacts } from "../descriptor.js";
import { namedFacts } from "../factsFromNames.js";
import { CannotRead, type SourceData, type SourceTable } from "../formats/sourceTable.js";
import type { Limits } from "../limits/limits.js";
import { type Channel, type ChannelRole, type Finding, type Recording, siUnits } from "../types.js";
import { cleanTime } from "./cleanTime.js";
import { partsByClock } from "./partsByClock.js";
import { type ColumnRole, quantityOfUnit, roleOfName } from "./roleOfName.js";
import { suggestionText, suggestMapping } from "./suggestMapping.js";
import { wrapOf } from "./wrapOf.js";

/** What a caller may state about the files it gives. Everything here comes before descriptors and before names. */
export interface ReadOptions {
  /** Role to column: the column's name, or `#3` for the third column. */
  readonly map?: Readonly<Record<string, string>>;
  /** Column (name or `#3`) or role to unit, as a UCUM code or any usual spelling. */
  readonly unit?: Readonly<Record<string, string>>;
  /** Samples per second, for files that log a sample counter or no time. */
  readonly rate?: number;
  readonly ordering?: LeadOrder;
  /** Lead orders of the files, sheets or blocks whose names fit a pattern (`*` any text, `?` any character); the first that fits stands. */
  readonly orderings?: readonly { readonly pattern: string; readonly ordering: LeadOrder }[];
  readonly motor?: string;
  readonly machine?: MachineFacts;
  readonly drive?: DriveFacts;
  readonly encoder?: EncoderFacts;
  /** Decimal sign of text tables, where it is not to be found out. */
  readonly decimal?: "." | ",";
  /** Sign between thousands in text tables, where it is not to be found out; an empty text for none. */
  readonly thousands?: string;
  /** Lines at the beginning of every text table that are not looked at. */
  readonly skipLines?: number;
  /** Treat all given files, in the order given, as one recording that was split. Files numbered in a row are joined anyway when time goes on. */
  readonly join?: boolean;
  /** What one file may cost; beyond it is given up with a finding, and the others are read. All but small plain text is then read by a process of its own. */
  readonly limits?: Limits;
}

/** The column chosen for a role. */
interface Choice {
  readonly index: number;
  readonly role: ColumnRole;
  readonly unit: string | undefined;
  readonly spelling: string | undefined;
  readonly recognisedBy: string;
}

const roles = new Set<string>([...Object.keys(siUnits), "time", "sample", "run", "motor", "ordering"]);

/** Chooses a role and a unit for every column; says why the others were left. */
export function chooseColumns(
  table: SourceTable,
  fields: readonly DescribedField[],
  options: ReadOptions,
): {
  readonly choices: readonly Choice[];
  readonly unused: readonly { name: string; reason: string }[];
  readonly findings: readonly Finding[];
} {
  const findings: Finding[] = [];
  const unused: { name: string; reason: string }[] = [];
  const byRole = new Map<ColumnRole, Choice>();
  const mapped = new Map<number, { role: ColumnRole }>();
  const indexOf = (wanted: string): number => {
    const exact = table.columns.findIndex((c) => c.name === wanted);
    if (exact >= 0) return exact;
    const number = /^#(\d+)$/.exec(wanted);
    if (number !== null && Number(number[1]) <= table.columns.length) return Number(number[1]) - 1;
    const folded = wanted.trim().toLowerCase();
    return table.columns.findIndex((c) => c.name.trim().toLowerCase() === folded);
  };
  for (const [role, column] of Object.entries(options.map ?? {})) {
    const index = indexOf(column);
    if (!roles.has(role)) {
      findings.push(
        mapProblem(table, `"${visible(role, 40)}" is no role; the roles are ${[...roles].join(", ")}`),
      );
    } else if (index < 0) {
      findings.push(
        mapProblem(
          table,
          `there is no column "${visible(column, 60)}" for ${role}; the columns are ${table.columns
            .slice(0, 12)
            .map((c) => visible(c.name, 30))
            .join(", ")}`,
        ),
      );
    } else mapped.set(index, { role: role as ColumnRole });
  }
  const unitOf = (
    index: number,
    role: ColumnRole | undefined,
    field: DescribedField | undefined,
  ): { unit?: string; spelling?: string; from: string } => {
    const column = table.columns[index];
    const own = Object.entries(options.unit ?? {}).find(
      ([key]) => indexOf(key) === index || (role !== undefined && key === role),
    );
    const [spelling, from] =
      own !== undefined
        ? [own[1], "--unit"]
        : field?.unit !== undefined
          ? [field.unit, "descriptor"]
          : [column.unit, column.unitFrom ?? ""];
    return { unit: spelling === undefined ? undefined : (unitCode(spelling) ?? spelling), spelling, from };
  };
  const candidates: Choice[] = [];
  for (let index = 0; index < table.columns.length; index += 1) {
    const column = table.columns[index];
    const field =
      fields.find((f) => f.name === column.name) ?? fields.find((f) => f.name.trim() === column.name.trim());
    let role: ColumnRole | undefined;
    let by = "";
    const forced = mapped.get(index);
    if (forced !== undefined) {
      role = forced.role;
      by = "--map";
    } else if (field?.role !== undefined && roles.has(field.role)) {
      role = field.role as ColumnRole;
      by = "descriptor";
    }
    const { unit, spelling, from } = unitOf(index, role, field);
    if (role === undefined && !table.nameless) {
      const known = unit !== undefined && quantityOfUnit(unit).length > 0 ? unit : undefined;
      role = roleOfName(nameWithoutUnit(column.name, column.unit), known) ?? undefined;
      by = "name";
      if (role === undefined && column.kind === "stamp") {
        role = "time";
        by = "its stamps";
      }
    } else if (role === undefined && column.kind === "stamp") {
      role = "time";
      by = "its stamps";
    }
    if (column.kind === "empty" && role === undefined) {
      unused.push({ name: column.name, reason: "empty, as far as was looked" });
      continue;
    }
    if (role === undefined) {
      unused.push({ name: column.name, reason: table.nameless ? "no header" : "name not recognised" });
      continue;
    }
    if (column.kind === "text" && !(role === "run" || role === "motor" || role === "ordering")) {
      unused.push({ name: column.name, reason: "holds text" });
      continue;
    }
    candidates.push({
      index,
      role,
      unit,
      spelling,
      recognisedBy: from === "" ? by : by === from ? by : `${by}, unit from ${from}`,
    });
  }
  const strength = (c: Choice): number =>
    c.recognisedBy.startsWith("--map")
      ? 3
      : c.recognisedBy.startsWith("descriptor")
        ? 2
        : c.recognisedBy.startsWith("its stamps")
          ? 0
          : 1;
  for (const candidate of candidates) {
    const other = byRole.get(candidate.role);
    if (other === undefined) {
      byRole.set(candidate.role, candidate);
      continue;
    }
    const better =
      strength(candidate) > strength(other) ||
      (strength(candidate) === strength(other) && moreExplicit(table, candidate, other));
    const [kept, left] = better ? [candidate, other] : [other, candidate];
    byRole.set(candidate.role, kept);
    const keptName = visible(table.columns[kept.index].name, 60);
    unused.push({
      name: table.columns[left.index].name,
      reason: `${candidate.role} is taken from "${keptName}"`,
    });
    if (strength(left) === strength(kept) && candidate.role !== "time" && candidate.role !== "sample") {
      findings.push({
        severity: "warning",
        code: "role-twice",
        message: `both "${keptName}" and "${visible(table.columns[left.index].name, 60)}" could be ${candidate.role}; the first was taken`,
        meaning: `say which is meant with --map ${candidate.role}=<column>`,
        file: table.path,
        column: table.columns[left.index].name,
      });
    }
  }
  // A quantity asked for by --map is not also taken by name elsewhere: done above by strength.
  return { choices: [...byRole.values()], unused, findings };
}

/** The quadrature axis or a longer, plainer name says more than a bare one. */
function moreExplicit(table: SourceTable, a: Choice, b: Choice): boolean {
  const q = (c: Choice): boolean => /q(_|\b|[A-Z])/.test(table.columns[c.index].name);
  if (a.role === "current" || a.role === "currentCommand") return q(a) && !q(b);
  return false;
}

function nameWithoutUnit(name: string, unit: string | undefined): string {
  if (unit === undefined) return name;
  const at = name.lastIndexOf(unit);
  return at > 0 ? name.slice(0, at) : name;
}

function mapProblem(table: SourceTable, message: string): Finding {
  return { severity: "error", code: "map", message, file: table.path };
}

/** Rows of one recording within the data of a source. */
export interface Part {
  readonly label: string;
  readonly rows: Int32Array | undefined;
  readonly motor?: string;
  readonly ordering?: LeadOrder;
}

/**
 * Turns tables (the parts of one log, in order) into recordings in SI.
 *
 * @throws CannotRead when there is no time, or nothing but time.
 */
export async function interpret(
  tables: readonly SourceTable[],
  fields: readonly DescribedField[],
  facts: StatedFacts,
  options: ReadOptions,
): Promise<Recording[]> {
  const table = tables[0];
  const { choices, unused, findings: chosen } = chooseColumns(table, fields, options);
  const find = (role: ColumnRole): Choice | undefined => choices.find((c) => c.role === role);
  const columnList = table.columns
    .slice(0, 12)
    .map((c, i) => (table.nameless ? `#${i + 1}` : visible(c.name, 30)))
    .join(", ");
  const timeChoice = find("time");
  const counter = timeChoice === undefined ? find("sample") : undefined;
  const rate = options.rate;
  if (timeChoice === undefined && rate === undefined) {
    const suggestion = suggestionText(await suggestMapping(table).catch(() => []));
    throw new CannotRead({
      severity: "error",
      code: "no-time",
      message: `no time column was found among ${columnList}`,
      meaning: `${table.nameless ? "the file has no header; " : ""}name it with --map time=<column>${table.nameless ? " (--map time=#1 is the first)" : ""}, or give the sampling rate with --rate${suggestion === "" ? "" : `; ${suggestion}`}`,
      file: table.path,
    });
  }
  const channelChoices = choices.filter((c) => Object.hasOwn(siUnits, c.role));
  if (channelChoices.length === 0) {
    const suggestion = suggestionText(await suggestMapping(table).catch(() => []));
    throw new CannotRead({
      severity: "error",
      code: "no-channels",
      message: `no column was recognised as current, speed or position among ${columnList}`,
      meaning:
        "name them with --map, for instance --map current=<column> --map position=<column>" +
        (suggestion === "" ? "" : `; ${suggestion}`),
      file: table.path,
    });
  }
  const splitting = choices.filter((c) => c.role === "run" || c.role === "motor" || c.role === "ordering");
  const needed = [...channelChoices, ...splitting];
  if (timeChoice !== undefined) needed.push(timeChoice);
  else if (counter !== undefined) needed.push(counter);
  const indices = needed.map((c) => c.index);
  const data = await readAll(tables, indices);
  const at = (choice: Choice): Float64Array => data.columns[indices.indexOf(choice.index)];
  const rows = data.columns[0]?.length ?? 0;

  const common: Finding[] = [...tables.flatMap((t) => t.findings), ...chosen, ...data.findings];
  for (const t of tables) {
    if (t.facts?.ordering !== undefined || t.facts?.motor !== undefined) {
      common.push({
        severity: "note",
        code: "facts-in-file",
        message: `the file itself states ${[t.facts.ordering && `lead order ${t.facts.ordering}`, t.facts.motor && `motor ${visible(t.facts.motor, 40)}`].filter(Boolean).join(" and ")}`,
        file: t.path,
      });
    }
  }
  if (rows === 0) {
    throw new CannotRead({
      severity: "error",
      code: "no-rows",
      message: "the table has no rows",
      file: table.path,
    });
  }

  // Time.
  let seconds: Float64Array;
  let timeWords: string;
  let clockScale = 1;
  if (timeChoice !== undefined) {
    const column = table.columns[timeChoice.index];
    if (column.kind === "stamp") {
      seconds = at(timeChoice);
      timeWords = "stamps, as seconds after the first";
    } else {
      const converted = await timeInSeconds(at(timeChoice), data.owned === true, timeChoice, table, common);
      seconds = converted.seconds;
      timeWords = converted.words;
      clockScale = converted.scale;
    }
  } else if (counter !== undefined && rate !== undefined) {
    const counts = at(counter);
    const wrap = wrapOf(counts, [2 ** 8, 2 ** 16, 2 ** 32]);
    const whole = wrap === undefined ? counts : unwrap(counts, wrap.size);
    seconds = whole.map((v) => v / rate);
    timeWords = `sample counter at ${rate} per second`;
  } else {
    seconds = Float64Array.from({ length: rows }, (_, i) => i / (rate as number));
    timeWords = `row number at ${rate} per second`;
  }

  const parts = partsByClock(splitRows(data, indices, splitting, rows), {
    time: seconds,
    scale: clockScale,
    clocked: timeChoice !== undefined || counter !== undefined,
    marks: data.marks ?? [],
    others: channelChoices.map((c) => at(c)),
    file: table.path,
    firstLine: (data.kept ?? 1) > 1 ? undefined : data.firstLine,
  });
  const recordings: Recording[] = [];
  for (const part of parts) {
    const findings = [...common, ...part.findings];
    const take = (values: Float64Array): Float64Array =>
      part.rows === undefined ? values : Float64Array.from(part.rows, (i) => values[i]);
    const cleaned = cleanTime(
      part.time,
      findings,
      table.path,
      (data.kept ?? 1) > 1 ? undefined : data.firstLine,
      part.rows,
    );
    const machine = { ...table.facts?.machine, ...facts.machine, ...options.machine };
    const drive = { ...table.facts?.drive, ...facts.drive, ...options.drive };
    const encoder = { ...table.facts?.encoder, ...facts.encoder, ...options.encoder };
    const channels: Partial<Record<ChannelRole, Channel>> = {};
    const left = [...unused];
    for (const choice of channelChoices) {
      const role = choice.role as ChannelRole;
      const raw = cleaned.keep(take(at(choice)));
      // The first rows of a column may be empty and later ones not: only the whole column tells.
      if (raw.every((v) => Number.isNaN(v))) {
        left.push({ name: table.columns[choice.index].name, reason: "no values" });
        continue;
      }
      const mine = data.owned === true || raw !== at(choice);
      const channel = await channelInSi(
        raw,
        mine,
        role,
        choice,
        table,
        { machine, drive, encoder },
        findings,
      );
      if (typeof channel === "string") left.push({ name: table.columns[choice.index].name, reason: channel });
      else channels[role] = channel;
    }
    if (Object.keys(channels).length === 0) {
      throw new CannotRead({
        severity: "error",
        code: "no-channels",
        message: `none of the recognised columns could be used: ${left.map((u) => `${visible(u.name, 30)} (${u.reason})`).join("; ")}`,
        file: table.path,
      });
    }
    const start = timeChoice === undefined ? undefined : data.origins.get(timeChoice.index);
    const path =
      part.label === "" ? table.path : `${table.path}${table.path.includes("#") ? "," : "#"}${part.label}`;
    const stated = options.ordering ?? part.ordering ?? facts.ordering ?? table.facts?.ordering;
    const named = namedFacts(
      path,
      { ordering: stated, title: part.title, label: table.label },
      options,
      findings,
    );
    recordings.push({
      path,
      ordering: stated ?? named.ordering,
      named: named.kind === undefined ? undefined : { kind: named.kind, from: named.kindFrom ?? path },
      motor: options.motor ?? part.motor ?? facts.motor ?? table.facts?.motor,
      title: facts.title ?? table.facts?.title ?? part.title ?? table.label,
      time: cleaned.time,
      channels,
      machine,
      drive,
      encoder,
      declaredTrials: facts.trials,
      findings,
      source: {
        format: table.format,
        dialect: table.dialect,
        files: tables.flatMap((t) => t.files ?? [t.path]),
        rows: cleaned.time.length,
        time: timeWords,
        timeColumn: timeChoice === undefined ? undefined : table.columns[timeChoice.index].name,
        unused: left,
        startedAt: start === "" ? undefined : start,
      },
    });
  }
  return recordings;
}

/** Reads the same columns from all tables and puts them one after the other. */
async function readAll(tables: readonly SourceTable[], indices: readonly number[]): Promise<SourceData> {
  if (tables.length === 1) return tables[0].read(indices);
  const all: SourceData[] = [];
  for (const table of tables) all.push(await table.read(indices));
  const words = new Map<number, readonly string[]>();
  const origins = new Map<number, string>();
  const columns = indices.map((index, k) => {
    const lists = all.map((d) => d.words.get(index));
    if (lists.some((l) => l !== undefined)) {
      const union = [...new Set(lists.flatMap((l) => l ?? []))];
      words.set(index, union);
      return joined(
        all.map((d, i) =>
          d.columns[k].map((v) => (Number.isNaN(v) ? v : union.indexOf((lists[i] ?? [])[v]))),
        ),
      );
    }
    const starts = all.map((d) => d.origins.get(index));
    if (starts[0] !== undefined) {
      origins.set(index, starts[0]);
      const first = Date.parse(starts[0]);
      return joined(
        all.map((d, i) => {
          const shift = (Date.parse(starts[i] ?? "") - first) / 1000;
          return Number.isFinite(shift) && shift !== 0 ? d.columns[k].map((v) => v + shift) : d.columns[k];
        }),
      );
    }
    return joined(all.map((d) => d.columns[k]));
  });
  const marks = all.flatMap((d, i) => {
    const before = all.slice(0, i).reduce((sum, p) => sum + (p.columns[0]?.length ?? 0), 0);
    return (d.marks ?? []).map((m) => ({ ...m, row: m.row + before }));
  });
  return { columns, words, origins, findings: all.flatMap((d) => d.findings), owned: true, marks };
}

function joined(parts: readonly Float64Array[]): Float64Array {
  const out = new Float64Array(parts.reduce((sum, p) => sum + p.length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}

/** One part per run, motor or order that the table's own columns tell apart. */
function splitRows(
  data: SourceData,
  indices: readonly number[],
  splitting: readonly Choice[],
  rows: number,
): Part[] {
  const telling = splitting.filter((c) => {
    const values = data.columns[indices.indexOf(c.index)];
    return values.some((v) => !Number.isNaN(v));
  });
  if (telling.length === 0) return [{ label: "", rows: undefined }];
  const groups = new Map<string, { rows: number[]; words: string[] }>();
  for (let i = 0; i < rows; i += 1) {
    const words = telling.map((c) => {
      const v = data.columns[indices.indexOf(c.index)][i];
      const list = data.words.get(c.index);
      return Number.isNaN(v) ? "" : (list?.[v] ?? String(v));
    });
    const key = words.join("\u0000");
    const group = groups.get(key);
    if (group === undefined) groups.set(key, { rows: [i], words });
    else group.rows.push(i);
  }
  return [...groups.values()].map(({ rows: own, words }) => {
    const word = (role: ColumnRole): string | undefined => {
      const k = telling.findIndex((c) => c.role === role);
      return k < 0 || words[k] === "" ? undefined : words[k];
    };
    const order = word("ordering")
      ?.replace(/[^a-z]/gi, "")
      .toUpperCase();
    return {
      label:
        groups.size === 1
          ? ""
          : telling.map((c, k) => `${c.role}=${words[k] === "" ? "none" : words[k]}`).join(","),
      rows: groups.size === 1 ? undefined : Int32Array.from(own),
      motor: word("motor"),
      ordering: leadOrders.find((o) => o === order),
    };
  });
}

async function timeInSeconds(
  raw: Float64Array,
  mine: boolean,
  choice: Choice,
  table: SourceTable,
  findings: Finding[],
): Promise<{ seconds: Float64Array; words: string; scale: number }> {
  let unit = choice.unit;
  const name = visible(table.columns[choice.index].name, 60);
  let assumed = false;
  if (unit === undefined || unit === "1") {
    unit = "s";
    assumed = true;
  }
  const line = await conversion(unit, "s");
  if (line === undefined) {
    throw new CannotRead({
      severity: "error",
      code: "unit",
      message: `"${visible(choice.spelling ?? "", 30)}" of the time column "${name}" is no unit of time`,
      meaning: `give it with --unit "${name}=ms" or the like`,
      file: table.path,
      column: table.columns[choice.index].name,
    });
  }
  const seconds = scaled(raw, line.factor, line.offset, mine);
  if (assumed) {
    const steps = new Float64Array(Math.min(seconds.length - 1, 5000));
    for (let i = 0; i < steps.length; i += 1) steps[i] = seconds[i + 1] - seconds[i];
    const dt = median(steps);
    findings.push({
      severity: dt >= 0.5 ? "warning" : "note",
      code: "time-unit-assumed",
      message: `the time column "${name}" says no unit; seconds were assumed (${Number((1 / dt).toPrecision(4))} samples per second)`,
      value: dt,
      unit: "s",
      meaning: `every rate and constant depends on it; if it is another unit, say so: --unit "${name}=ms"`,
      file: table.path,
      column: table.columns[choice.index].name,
    });
  }
  return { seconds, words: `numbers in ${unit}${assumed ? " (assumed)" : ""}`, scale: line.factor };
}

/** `value * factor + offset`, in place when the array is nobody else's. */
function scaled(values: Float64Array, factor: number, offset: number, mine: boolean): Float64Array {
  if (factor === 1 && offset === 0) return values;
  const out = mine ? values : new Float64Array(values.length);
  for (let i = 0; i < values.length; i += 1) out[i] = values[i] * factor + offset;
  return out;
}

interface Stated {
  readonly machine: MachineFacts;
  readonly drive: DriveFacts;
  readonly encoder: EncoderFacts;
}

/** Units assumed where a log says none: SI, and counts for whole numbers of position. */
async function channelInSi(
  raw: Float64Array,
  mine: boolean,
  role: ChannelRole,
  choice: Choice,
  table: SourceTable,
  stated: Stated,
  findings: Finding[],
): Promise<Channel | string> {
  const column = table.columns[choice.index];
  const name = visible(column.name, 60);
  let unit = choice.unit;
  let recognisedBy = choice.recognisedBy;
  const angular = role === "position" || role === "positionCommand";
  const speeding = role === "speed" || role === "speedCommand";
  if (unit === undefined || (unit === "1" && role !== "index")) {
    if (role === "index") unit = "1";
    else if (angular && wholeNumbers(raw)) unit = "{count}";
    else unit = siUnits[role];
    recognisedBy = `${recognisedBy}, unit assumed`;
    if (role !== "index") {
      findings.push({
        severity: "warning",
        code: "unit-assumed",
        message: `the column "${name}" (${role}) says no unit; ${unit} was assumed`,
        meaning: `if it is another, say so: --unit "${name}=..."`,
        file: table.path,
        column: column.name,
      });
    }
  }
  let values = raw;
  let resolution: number | undefined;
  let wrapSi: number | undefined;
  const lines = stated.encoder.lines;
  let factor: number;
  let offset = 0;
  if (role === "index") {
    factor = 1;
  } else if (unit === "{count}" && (angular || role === "sweepAngle")) {
    if (lines === undefined) {
      findings.push({
        severity: "warning",
        code: "lines-missing",
        message: `the position "${name}" is in counts, but the encoder's lines are not stated`,
        meaning:
          "state them (encoder.lines in the descriptor, or --lines): the position is left out until then",
        file: table.path,
        column: column.name,
      });
      return "counts without stated encoder lines";
    }
    factor = (2 * Math.PI) / (4 * lines);
    if (role === "position") resolution = factor;
  } else if (/^\{count\}\/(s|min)$/.test(unit) && speeding) {
    if (lines === undefined) {
      findings.push({
        severity: "warning",
        code: "lines-missing",
        message: `the speed "${name}" is in counts per time, but the encoder's lines are not stated`,
        meaning: "state them (encoder.lines in the descriptor, or --lines): the speed is left out until then",
        file: table.path,
        column: column.name,
      });
      return "counts without stated encoder lines";
    }
    factor = (2 * Math.PI) / (4 * lines) / (unit.endsWith("min") ? 60 : 1);
  } else if (speeding && (unit === "Hz" || unit === "kHz")) {
    // Turns per second of the shaft; an electrical frequency shows in the cross-check against position.
    factor = 2 * Math.PI * (unit === "kHz" ? 1000 : 1);
  } else {
    const line = await conversion(unit, siUnits[role]);
    if (line === undefined) {
      findings.push({
        severity: "warning",
        code: "unit",
        message: `"${visible(choice.spelling ?? unit, 30)}" of "${name}" is no unit of ${role} that could be converted to ${siUnits[role]}`,
        meaning: `the column is left out; give its unit with --unit "${name}=..."`,
        file: table.path,
        column: column.name,
      });
      return `unit ${visible(choice.spelling ?? unit, 30)} does not fit`;
    }
    factor = line.factor;
    offset = line.offset;
  }
  if (angular || role === "sweepAngle") {
    const turnSize = role === "sweepAngle" ? (2 * Math.PI) / factor : (2 * Math.PI) / factor;
    const sizes =
      unit === "{count}"
        ? [turnSize, ...[8, 10, 12, 14, 16, 18, 20, 22, 24, 32].map((b) => 2 ** b)]
        : [turnSize, ...(unit === "rad" || unit === "deg" ? [] : [])];
    const wrap = wrapOf(raw, sizes);
    if (wrap !== undefined && wrap.times > 0) {
      values = unwrap(raw, wrap.size, mine);
      wrapSi = wrap.size * factor;
      findings.push({
        severity: wrap.closest > 0.9 ? "warning" : "note",
        code: wrap.closest > 0.9 ? "unwrap-doubtful" : "unwrapped",
        message: `the column "${name}" wraps at ${Number(wrap.size.toPrecision(8))} ${unit} (${wrap.times} times) and was unwrapped; the largest movement between two samples is ${Math.round(wrap.closest * 100)} % of half a wrap`,
        value: wrap.closest,
        unit: "1",
        meaning:
          wrap.closest > 0.9
            ? "near half a wrap the direction of a movement cannot be known: sample faster or log a wider counter"
            : undefined,
        file: table.path,
        column: column.name,
      });
    }
  }
  const data = scaled(values, factor, offset, mine || values !== raw);
  if (resolution === undefined && angular) {
    const step = quantisationStep(data);
    if (step > 0) resolution = step;
  }
  return { role, name: column.name, sourceUnit: unit, recognisedBy, data, resolution, wrap: wrapSi };
}

function wholeNumbers(values: Float64Array): boolean {
  let seen = 0;
  for (let i = 0; i < values.length; i += 1) {
    const v = values[i];
    if (v - v !== 0) continue;
    if (!Number.isInteger(v)) return false;
    seen += 1;
  }
  return seen > 0;
}
