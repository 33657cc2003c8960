/** A label of a few words, its value, and a unit: `drive asked 12.5 Hz`. */
const spoken =
  /^(\p{L}[\p{L}\p{M}\p{N}]*(?:[ _-]\p{L}[\p{L}\p{M}\p{N}]*){0,3}) ([+-]?\d+(?:[.,]\d+)?)(?: ?([%‰°]|[\p{L}µμ°%][\p{L}\p{M}·²/°%.-]{0,11}))?$/u;

/** A date or a time of day before the first label. */
const clock = /^\s*[[(]?\d[\d:.,/TZ -]*(?:[AP]M)?[\])]?\s+(?=\p{L})/u;

/** Lines looked at, fewest of them, and the part of them that must be written so with the same labels (judgement). */
const looked = 60;
const fewest = 8;
const part = 0.8;
const longestLine = 1000;

interface Spoken {
  readonly labels: string;
  readonly text: string;
}

/** A line of labels and values that commas or wide blanks part, behind whatever ends in a colon; undefined for any
 * other. */
function spokenIn(line: string): Spoken | undefined {
  if (line.length > longestLine || /[=|;\t{]/.test(line)) return undefined;
  const colon = line.lastIndexOf(": ");
  const before = colon < 0 ? (clock.exec(line)?.[0] ?? "") : line.slice(0, colon + 2);
  const found = line
    .slice(before.length)
    .trim()
    .split(/,\s+|\s{2,}/)
    .map((segment) => spoken.exec(segment));
  const pairs = found.flatMap((m) => (m === null ? [] : [m]));
  if (pairs.length < 2 || 2 * pairs.length < found.length) return undefined;
  const text = pairs.map(([, label, value, unit = ""]) => `${label.replaceAll(" ", "_")}=${value}${unit}`);
  return {
    labels: pairs.map(([, label]) => label).join(),
    text: `${inDay(before)}${text.join("; ")}`,
  };
}

/** A time of a half day as one of the whole day. */
function inDay(text: string): string {
  return text.replace(/^(\d{1,2})(:\d{2}(?::\d{2}(?:\.\d+)?)?) ?([AP])M\b/i, (_all, hour, rest, half) => {
    const hours = (Number(hour) % 12) + (/p/i.test(half) ? 12 : 0);
    return `${String(hours).padStart(2, "0")}${rest}`;
  });
}

/**
 * Lines that say their values in words, `10:17:03 lane 4: drive asked 12.5 Hz, shaft 366 rpm, motor 2.1 A`, written
 * with signs of equality between label and value, as labelled values are read. Undefined for any other text; words
 * without a value are left out.
 */
export function spokenLabels(text: string): string | undefined {
  const head = text
    .slice(0, looked * 200)
    .split(/\r\n|\n|\r/)
    .filter((line) => line.trim() !== "")
    .slice(0, looked);
  if (head.length < fewest) return undefined;
  const counts = new Map<string, number>();
  for (const line of head) {
    const labels = spokenIn(line)?.labels;
    if (labels !== undefined) counts.set(labels, (counts.get(labels) ?? 0) + 1);
  }
  const most = [...counts].sort((a, b) => b[1] - a[1])[0];
  if (most === undefined || most[1] < part * head.length) return undefined;
  return text
    .split(/\r\n|\n|\r/)
    .map((line) => {
      const one = spokenIn(line);
      return one?.labels === most[0] ? one.text : line;
    })
    .join("\n");
}
