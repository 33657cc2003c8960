import type { Removal, ReportSource } from "./types.js";

/** What people call things that may not leave the house. */
interface Rule {
  readonly what: string;
  readonly pattern: RegExp;
  readonly put: string;
}

/** Kinds of private text that are found by their form, most specific first. */
const rules: readonly Rule[] = [
  { what: "mail addresses", pattern: /[\w.+-]+@[\w-]+(?:\.[\w-]+)+/g, put: "[mail address]" },
  {
    what: "serial numbers",
    pattern: /\b(?:s\/n|sn|ser(?:ial)?(?:[ _.-]?(?:no|number|nr))?)\b\.?\s*[:#=]?\s*(?=[\w-]*\d)[\w-]+/gi,
    put: "[serial number]",
  },
  {
    what: "dates and times of day",
    pattern:
      /\b(?:19|20)\d{2}[-/.](?:0?[1-9]|1[0-2])[-/.](?:0?[1-9]|[12]\d|3[01])(?:[T _]\d{1,2}[:h]\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?\b|\b(?:0?[1-9]|[12]\d|3[01])[-/.](?:0?[1-9]|1[0-2])[-/.](?:19|20)\d{2}\b|\b(?:19|20)\d{2}(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])\b/g,
    put: "[date]",
  },
  {
    what: "paths",
    pattern: /(?<![\w:])(?:[A-Za-z]:)?(?:[\\/][\w .@+-]+){2,}/g,
    put: "[path]",
  },
];

/**
 * Takes the customer out of a report: names of files, folders and motors, titles, the customer's own column names, paths, serial numbers,
 * mail addresses and dates. Numbers, verdicts and reasons stay. What was removed is counted in `removed`.
 *
 * @param words - Further words to take out, such as the customer's name.
 * @example
 * const shareable = redact(source, ["Example Conveyors"]);
 */
export function redact(source: ReportSource, words: readonly string[] = []): ReportSource {
  const counts = new Map<string, number>();
  const note = (what: string, times = 1) => counts.set(what, (counts.get(what) ?? 0) + times);
  const names = new Map<string, { readonly put: string; readonly what: string }>();
  const add = (text: string | undefined, put: string, what: string) => {
    if (text && text.trim().length > 1 && !names.has(text)) names.set(text, { put, what });
  };
  const paths = [
    ...new Set([
      ...source.recordings.map(({ recording }) => recording.path),
      ...source.diagnosis.recordings.map((verdict) => verdict.path),
      ...source.diagnosis.problems.flatMap((problem) => (problem.file ? [problem.file] : [])),
    ]),
  ];
  paths.forEach((path, i) => {
    const put = `recording ${i + 1}`;
    add(path, put, "file and folder names");
    const parts = path.split(/[\\/]/).filter((part) => part !== "" && part !== "." && part !== "..");
    const file = parts.at(-1) ?? path;
    add(file, put, "file and folder names");
    const stem = file.replace(/\.\w{1,5}(?:\.gz)?$/i, "");
    if (!plainWord(stem)) add(stem, put, "file and folder names");
    for (const folder of parts.slice(0, -1)) {
      if (!plainWord(folder)) add(folder, "[folder]", "file and folder names");
    }
  });
  const motors = [
    ...new Set([
      ...source.recordings.map(({ recording }) => recording.motor),
      ...source.diagnosis.recordings.map((verdict) => verdict.motor),
    ]),
  ].filter((motor) => motor !== undefined);
  motors.forEach((motor, i) => {
    add(motor, `motor ${i + 1}`, "names of motors");
  });
  for (const { recording } of source.recordings) {
    add(recording.title, "[title]", "titles");
    for (const channel of Object.values(recording.channels)) {
      if (channel && !plainWord(channel.name)) add(channel.name, channel.role, "names of columns");
    }
  }
  for (const word of words) add(word, "[name]", "names given by the caller");

  // Long names first, so that a file's whole path goes before its parts.
  const ordered = [...names.entries()].sort((a, b) => b[0].length - a[0].length);
  const form = (some: readonly Rule[], text: string): string => {
    let out = text;
    for (const { what, pattern, put } of some) {
      out = out.replace(pattern, () => {
        note(what);
        return put;
      });
    }
    return out;
  };
  const clean = (text: string): string => {
    let out = form(rules.slice(0, 2), text);
    for (const [name, { put, what }] of ordered) {
      if (!out.toLowerCase().includes(name.toLowerCase())) continue;
      const pattern = new RegExp(`(?<![\\p{L}\\p{N}])${escapePattern(name)}(?![\\p{L}\\p{N}])`, "giu");
      out = out.replace(pattern, () => {
        note(what);
        return put;
      });
    }
    return form(rules.slice(2), out);
  };
  const { made, ...rest } = source;
  const cleaned = walk(rest, clean) as Omit<ReportSource, "made">;
  return {
    ...cleaned,
    made,
    removed: [...counts].map(([what, count]) => ({ what, count }) satisfies Removal),
  };
}

/** Fields that hold words of ours, not of the customer: a unit such as `{rev}/min/V` would pass for a path. */
const ours = new Set([
  "unit",
  "sourceUnit",
  "code",
  "role",
  "kind",
  "verdict",
  "sense",
  "severity",
  "ordering",
  "cause",
  "quantity",
]);

/** Trade words name nobody, and taking them out of sentences would spoil them. */
function plainWord(text: string): boolean {
  return /^(?:time|t|current|speed|position|angle|voltage|torque|index|i_?q|i_?d|v_?q|v_?d|u_?q|u_?d|velocity|order|orders|data|datasets?|logs?|runs?|trials?|recordings?|tmp|home|users?|documents|desktop|downloads|test|motor|drive|bench|uvw|vwu|wuv|vuw|uwv|wvu)$/i.test(
    text,
  );
}

function walk(value: unknown, clean: (text: string) => string): unknown {
  if (typeof value === "string") return clean(value);
  if (Array.isArray(value)) return value.map((part) => walk(part, clean));
  if (value === null || typeof value !== "object" || ArrayBuffer.isView(value)) return value;
  return Object.fromEntries(
    Object.entries(value).map(([key, part]) => [
      key,
      ours.has(key) && typeof part === "string" ? part : walk(part, clean),
    ]),
  );
}

function escapePattern(text: string): string {
  return text
    .replace(/[.*+?^${}()|[\]\\/-]/g, "\\$&")
    .replace(/\\-/g, "-")
    .replace(/\\\//g, "/");
}
