/** A table found in a JSON document, as cells under a heading, with what stands beside it. */
export interface JsonTable {
  /** Where it stands in the document: names joined by points; empty for the document itself. */
  readonly at: string;
  readonly names: readonly string[];
  readonly units?: readonly string[];
  readonly rows: readonly (readonly string[])[];
  /** Single values that stand beside it in its own part of the document, as `key: value`. */
  readonly lines?: readonly string[];
}

/** Tables of a document and its single values as `key: value` lines. */
export interface JsonContents {
  readonly tables: readonly JsonTable[];
  readonly lines: readonly string[];
}

type Plain = Readonly<Record<string, unknown>>;

const deepest = 8;
const mostTables = 500;
const mostLines = 400;
const valuesKey = /^(values?|data|samples?|y|points)$/i;
const nameKey = /^(name|label|signal|id|channel|title|key)$/i;
const unitKey = /^(units?|uom|einheit)$/i;

/**
 * Finds tables in a JSON document, however it is arranged: a list of records, lists of equal length side by side, a
 * list of signals with their values, or names of columns beside a list of rows.
 *
 * @example
 * tablesOfJson({ t: [0, 1, 2], i: [0, 5, 5] }).tables[0].names; // ["t", "i"]
 */
export function tablesOfJson(document: unknown): JsonContents {
  const units = new Map<string, string>();
  collectUnits(document, units, 0);
  const walk = new Walk(units);
  walk.into(document, "", 0);
  return { tables: walk.tables, lines: walk.lines };
}

/** Objects that hold nothing but texts under the names of columns: a table of units. */
function collectUnits(value: unknown, units: Map<string, string>, depth: number): void {
  if (depth > 4 || !isObject(value)) return;
  for (const [key, inner] of Object.entries(value)) {
    if (!isObject(inner)) continue;
    if (unitKey.test(key)) {
      for (const [name, unit] of Object.entries(inner)) if (typeof unit === "string") units.set(name, unit);
    } else collectUnits(inner, units, depth + 1);
  }
}

/** A way through a document: the tables met on it, and the single values beside them. */
class Walk implements JsonContents {
  readonly tables: JsonTable[] = [];
  /** Of the part of the document that is being walked. */
  lines: string[] = [];
  readonly #units: ReadonlyMap<string, string>;
  /** Names of columns, and their units, for lists of rows further within. */
  #heading: Heading | undefined;

  /** @param units of columns by their names, as a table of units anywhere in the document has them */
  constructor(units: ReadonlyMap<string, string>) {
    this.#units = units;
  }

  /** @param at where the value stands, as names joined by points */
  into(value: unknown, at: string, depth: number): void {
    if (depth > deepest || this.tables.length >= mostTables) return;
    if (Array.isArray(value)) this.#list(value, at, depth);
    else if (isObject(value)) this.#object(value, at, depth);
  }

  #list(value: readonly unknown[], at: string, depth: number): void {
    const found = ofList(value, at, this.#units);
    const heading = this.#heading;
    const nameless = found?.names.length === 0 && found.rows[0]?.length === heading?.names.length;
    if (found !== undefined) this.tables.push(nameless ? { ...found, ...heading } : found);
    else if (value.length <= 1000)
      for (const [i, inner] of value.entries())
        if (typeof inner === "object")
          this.#part(inner, `${at}${at === "" ? "" : " "}${nameIn(inner) ?? i + 1}`, depth + 1);
  }

  #object(value: Plain, at: string, depth: number): void {
    const used = new Set<unknown>();
    const found =
      ofKeyed(value, at, this.#units, used) ??
      ofTimed(value, at, used) ??
      ofColumns(value, at, this.#units, used) ??
      ofSplit(value, at, this.#units);
    if (found !== undefined) this.tables.push(found);
    const outer = this.#heading;
    this.#heading = headingIn(value, this.#units) ?? outer;
    for (const [key, inner] of Object.entries(value)) {
      if (used.has(inner)) continue;
      if (typeof inner === "number" || typeof inner === "string" || typeof inner === "boolean")
        this.#tell(`${key}: ${String(inner).slice(0, 200)}`);
      else if (found === undefined || !Array.isArray(inner))
        this.#part(inner, at === "" ? key : `${at}.${key}`, depth + 1);
    }
    this.#heading = outer;
  }

  /** A part of the document; single values in it speak of the tables in it alone, or of all where it has none. */
  #part(value: unknown, at: string, depth: number): void {
    const from = this.tables.length;
    const outer = this.lines;
    const own: string[] = [];
    this.lines = own;
    this.into(value, at, depth);
    this.lines = outer;
    if (this.tables.length === from) {
      for (const line of own) this.#tell(line);
      return;
    }
    if (own.length === 0) return;
    for (let k = from; k < this.tables.length; k += 1)
      this.tables[k] = { ...this.tables[k], lines: [...own, ...(this.tables[k].lines ?? [])] };
  }

  #tell(line: string): void {
    if (this.lines.length < mostLines) this.lines.push(line);
  }
}

/** The name that an object has among its members. */
function nameIn(value: unknown): string | undefined {
  if (!isObject(value)) return undefined;
  const name = Object.entries(value).find(([k, v]) => nameKey.test(k) && typeof v === "string")?.[1];
  return typeof name === "string" && name !== "" ? name : undefined;
}

/** Members that are tables by themselves, when there are two or more: motors or runs, and no signals of one table. */
function tablesWithin(value: Plain): ReadonlySet<unknown> {
  const own = Object.values(value).filter((v) => {
    if (!isObject(v)) return false;
    const lists = Object.values(v).filter(isValues);
    return lists.length >= 2 && lists.every((l) => l.length === lists[0].length);
  });
  return new Set(own.length > 1 ? own : []);
}

/** Columns by their names, each with its values by the number or moment of their row: `{ t: { "0": 0, "1": 0.1 }, ...
 * }`. */
function ofKeyed(
  value: Plain,
  at: string,
  units: ReadonlyMap<string, string>,
  used: Set<unknown>,
): JsonTable | undefined {
  const single = (v: unknown): boolean => v === null || typeof v !== "object";
  const columns = Object.entries(value).filter(
    (e): e is [string, Plain] => isObject(e[1]) && Object.values(e[1]).every(single),
  );
  if (columns.length < 2) return undefined;
  const keys = Object.keys(columns[0][1]);
  if (keys.length < 5 || !keys.every((k) => /^[\d.:TZ +-]+$/.test(k))) return undefined;
  const own = columns.filter(([, c]) => Object.keys(c).length === keys.length);
  if (own.length < 2 || !own.every(([, c]) => keys[0] in c && keys[keys.length - 1] in c)) return undefined;
  for (const [, c] of own) used.add(c);
  // Row numbers say nothing; moments are the time.
  const moments = keys.some((k) => !/^\d{1,9}$/.test(k)) || Number(keys[0]) > 1e8;
  return columnTable(at, [
    ...(moments ? [{ name: "time", data: keys }] : []),
    ...own.map(([name, c]) => ({ name, unit: units.get(name), data: keys.map((k) => c[k]) })),
  ]);
}

const clockKey = /^(t|time|times|timestamps?|x|zeit)$/i;

/** Signals by their names, each with a time of its own: `{ iq: { t: [...], v: [...] }, ... }`. */
function ofTimed(value: Plain, at: string, used: Set<unknown>): JsonTable | undefined {
  const signals = Object.entries(value).flatMap(([name, v]) => {
    if (!isObject(v)) return [];
    const lists = Object.entries(v).filter(([, l]) => isValues(l)) as [string, readonly unknown[]][];
    const clock = lists.find(([k]) => clockKey.test(k));
    const data = lists.find(([k]) => !clockKey.test(k));
    if (lists.length !== 2 || clock === undefined || data === undefined) return [];
    const unit = Object.entries(v).find(([k, u]) => unitKey.test(k) && typeof u === "string")?.[1];
    return [{ name, v, clock: clock[1], data: data[1], unit: unit as string | undefined }];
  });
  if (signals.length < 2) return undefined;
  for (const { v } of signals) used.add(v);
  return columnTable(
    at,
    signals.flatMap(({ name, clock, data, unit }) => [
      { name: `${name} time`, data: clock },
      { name, data, unit },
    ]),
  );
}

/** Lists of numbers of one length, side by side. */
function ofColumns(
  value: Plain,
  at: string,
  units: ReadonlyMap<string, string>,
  used: Set<unknown>,
): JsonTable | undefined {
  const columns = columnsOf(value, "", 0);
  const lengths = new Map<number, number>();
  for (const { data } of columns) lengths.set(data.length, (lengths.get(data.length) ?? 0) + 1);
  if (lengths.size === 0) return undefined;
  const [length, count] = [...lengths].reduce((a, b) =>
    b[1] > a[1] || (b[1] === a[1] && b[0] > a[0]) ? b : a,
  );
  if (count < 2 || length < 2) return undefined;
  const own = columns.filter(({ data }) => data.length === length);
  for (const { of } of own) if (of !== value) used.add(of);
  return columnTable(
    at,
    own.map((c) => ({ ...c, unit: units.get(c.name) ?? c.unit })),
  );
}

interface JsonColumn {
  readonly name: string;
  readonly unit?: string;
  readonly data: readonly unknown[];
  /** The object it stands in. */
  readonly of?: unknown;
}

function columnsOf(value: Plain, prefix: string, depth: number): JsonColumn[] {
  const apart = tablesWithin(value);
  const out: JsonColumn[] = [];
  for (const [key, inner] of Object.entries(value)) {
    const name = prefix === "" ? key : `${prefix}.${key}`;
    if (isValues(inner)) out.push({ name, data: inner, of: value });
    else if (isObject(inner) && depth < 2 && !apart.has(inner)) {
      // A signal by its name: its values, and perhaps its unit.
      const values = Object.entries(inner).find(([k, v]) => valuesKey.test(k) && isValues(v));
      const unit = Object.entries(inner).find(([k, v]) => unitKey.test(k) && typeof v === "string")?.[1];
      if (values !== undefined)
        out.push({ name, unit: unit as string | undefined, data: values[1] as unknown[], of: inner });
      else out.push(...columnsOf(inner, name, depth + 1));
    }
  }
  return out;
}

/** Names of columns with their units, where they are said. */
type Heading = Pick<JsonTable, "names" | "units">;

/** Keys of a list of the names of columns, and of one of rows. */
const headingKey =
  /^(col(umn)?s?|fields?|head(er|ing)s?|names?|signals?|channels?|variables?|labels?|schema|(col(umn)?|field|channel|signal)_?names?)$/i;
const rowsKey = /^(data|rows|values|samples|records|points|table|log|matrix)$/i;

/**
 * Names of columns in a list of their own, and their units beside them or in a list of units.
 *
 * @param width of the rows that it heads: then a list under any other key is one as well
 */
function headingIn(value: Plain, units: ReadonlyMap<string, string>, width?: number): Heading | undefined {
  const lists = Object.entries(value).filter(
    (e): e is [string, readonly unknown[]] =>
      isTexts(e[1]) && (width === undefined || (e[1] as unknown[]).length === width),
  );
  const isUnits = ([key]: readonly [string, unknown]): boolean => /^(units?|einheiten)$/i.test(key);
  const [, list] =
    lists.find(([key]) => headingKey.test(key)) ??
    (width === undefined ? undefined : lists.find((one) => !isUnits(one))) ??
    [];
  if (list === undefined) return undefined;
  const own = list.map((n) => (isObject(n) ? (nameIn(n) ?? "") : String(n)));
  const beside = lists.find((one) => isUnits(one))?.[1];
  const said = beside?.length === own.length ? beside : undefined;
  const within = (k: number): string | undefined => {
    const one = list[k];
    const unit = isObject(one) && Object.entries(one).find(([key]) => unitKey.test(key))?.[1];
    return typeof unit === "string" ? unit : undefined;
  };
  return {
    names: own,
    units: unitsOf(
      own,
      (n, k) => within(k) ?? units.get(n) ?? (said === undefined ? undefined : String(said[k])),
    ),
  };
}

/** Names of columns beside a list of rows. */
function ofSplit(value: Plain, at: string, units: ReadonlyMap<string, string>): JsonTable | undefined {
  const lists = Object.entries(value).filter((e): e is [string, readonly (readonly unknown[])[]] =>
    isRows(e[1]),
  );
  const rows = (lists.find(([key]) => rowsKey.test(key)) ?? (lists.length === 1 ? lists[0] : undefined))?.[1];
  if (rows === undefined || rows.length < 2) return undefined;
  const heading = headingIn(value, units, rows[0].length);
  if (heading === undefined) return undefined;
  return { at, ...heading, rows: rows.map((r) => r.map(cellOf)) };
}

/** Objects that each name a signal and hold its values. */
function signalsOf(objects: readonly Plain[]): readonly JsonColumn[] | undefined {
  const signals = objects.map((o): JsonColumn | undefined => {
    const entries = Object.entries(o);
    const data = entries.find(([k, v]) => valuesKey.test(k) && isValues(v))?.[1] as
      | readonly unknown[]
      | undefined;
    const name = entries.find(
      ([k, v]) => nameKey.test(k) && (typeof v === "string" || typeof v === "number"),
    )?.[1];
    const unit = entries.find(([k, v]) => unitKey.test(k) && typeof v === "string")?.[1] as
      | string
      | undefined;
    return data === undefined || name === undefined ? undefined : { name: String(name), unit, data };
  });
  return signals.every((s) => s !== undefined) ? (signals as readonly JsonColumn[]) : undefined;
}

/** A list of records, of signals, or of rows. */
function ofList(
  value: readonly unknown[],
  at: string,
  units: ReadonlyMap<string, string>,
): JsonTable | undefined {
  const objects = value.filter(isObject);
  if (objects.length > 0 && objects.length === value.length) {
    const signals = signalsOf(objects);
    if (signals !== undefined) return columnTable(at, signals);
    // Runs or motors that hold tables of their own.
    if (objects.some((o) => Object.values(o).some((v) => holdsTable(v, objects.length)))) return undefined;
    return value.length < 2 ? undefined : recordTable(at, objects, units);
  }
  if (
    isRows(value) &&
    value.length >= 2 &&
    value.every((r) => r.length === value[0].length) &&
    value[0].length >= 2
  ) {
    const [first] = value;
    const named = first.every((c) => typeof c === "string");
    return {
      at,
      names: named ? first.map(String) : [],
      rows: (named ? value.slice(1) : value).map((r) => r.map(cellOf)),
    };
  }
  return undefined;
}

/** A part of one of so many records that is a table: its lists are longer than vectors are, or than the records are
 * many. */
function holdsTable(value: unknown, records: number): boolean {
  if (Array.isArray(value) && value.length >= 2 && value.every(isObject) && signalsOf(value) !== undefined)
    return true;
  if (Array.isArray(value))
    return value.length >= 5 && (value.every(isObject) || (isRows(value) && value[0].length > 1));
  const long = (v: unknown): boolean =>
    isValues(v) && (v.length > 64 || (v.length >= 16 && v.length > 2 * records));
  return isObject(value) && Object.values(value).filter(long).length >= 2;
}

function recordTable(
  at: string,
  objects: readonly Plain[],
  units: ReadonlyMap<string, string>,
): JsonTable | undefined {
  const names = new Map<string, number>();
  const flat = objects.map((o) => {
    const cells = new Map<string, string>();
    flatten(o, "", cells, 0);
    for (const name of cells.keys()) if (!names.has(name) && names.size < 2000) names.set(name, names.size);
    return cells;
  });
  const own = [...names.keys()];
  if (own.length === 0) return undefined;
  return {
    at,
    names: own,
    units: unitsOf(own, (n) => units.get(n)),
    rows: flat.map((c) => own.map((n) => c.get(n) ?? "")),
  };
}

function flatten(value: Plain, prefix: string, cells: Map<string, string>, depth: number): void {
  for (const [key, inner] of Object.entries(value)) {
    const name = prefix === "" ? key : `${prefix}.${key}`;
    if (isObject(inner) && depth < 4) flatten(inner, name, cells, depth + 1);
    else if (Array.isArray(inner) && inner.length <= 64 && inner.every((v) => typeof v === "number"))
      for (const [i, v] of inner.entries()) cells.set(`${name}:${i + 1}`, cellOf(v));
    else if (Array.isArray(inner) && inner.length <= 64 && depth < 4 && inner.every(isObject))
      for (const [i, v] of inner.entries()) flatten(v, `${name}.${i + 1}`, cells, depth + 1);
    else if (!Array.isArray(inner)) cells.set(name, cellOf(inner));
  }
}

function columnTable(at: string, columns: readonly JsonColumn[]): JsonTable {
  const length = columns.reduce((most, c) => Math.max(most, c.data.length), 0);
  const names = columns.map((c) => c.name);
  return {
    at,
    names,
    units: unitsOf(names, (_n, k) => columns[k].unit),
    rows: Array.from({ length }, (_, i) => columns.map((c) => cellOf(c.data[i]))),
  };
}

function unitsOf(
  names: readonly string[],
  unit: (name: string, k: number) => string | undefined,
): readonly string[] | undefined {
  const out = names.map((n, k) => unit(n, k) ?? "");
  return out.some((u) => u !== "") ? out : undefined;
}

function cellOf(value: unknown): string {
  if (value === null || value === undefined) return "";
  if (typeof value === "boolean") return value ? "1" : "0";
  return typeof value === "object" ? "" : String(value).replace(/\s+/g, " ").trim();
}

function isObject(value: unknown): value is Plain {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

function isTexts(value: unknown): boolean {
  return Array.isArray(value) && value.length > 0 && value.every((v) => typeof v === "string" || isObject(v));
}

function isRows(value: unknown): value is readonly (readonly unknown[])[] {
  return Array.isArray(value) && value.length > 0 && value.every(Array.isArray);
}

/** A list of single values, two or more, most of them numbers, moments or nothing. */
function isValues(value: unknown): value is readonly unknown[] {
  if (!Array.isArray(value) || value.length < 2) return false;
  let fit = 0;
  for (const v of value) {
    if (typeof v === "object" && v !== null) return false;
    if (
      v === null ||
      typeof v === "number" ||
      typeof v === "boolean" ||
      (typeof v === "string" && /^[\d+-]/.test(v))
    )
      fit += 1;
  }
  return fit > value.length / 2;
}
