import { basename } from "node:path";
import type { Triage } from "../triage.js";
import type { TriageRow } from "../triageRow.js";
import { type Pseudonym, saysNothing, textCleaner } from "./cleanText.js";

/**
 * A triage without its customers: each becomes "customer 1", "customer 2", ..., their motors "motor 1", ..., their
 * files "file 1", ...; of texts only words of ours, numbers and units go through.
 *
 * @param words - Further words to take out.
 * @throws Error when the list of our own words was not built.
 * @example
 * redactTriage(found).rows[0].customer; // => "customer 1"
 */
export function redactTriage({ rows, common, notRead }: Triage, words: readonly string[] = []): Triage {
  const customers = numbered(
    "customer",
    rows.map(({ customer }) => customer),
  );
  const motors = numbered(
    "motor",
    rows.map(({ motor }) => motor),
  );
  const files = numbered(
    "file",
    notRead.map(({ file }) => file ?? ""),
  );
  const names: Pseudonym[] = [
    ...words.map((name) => ({ name, put: "[name]", what: "names given by the caller" })),
    ...[...customers, ...motors].map(([name, put]) => ({ name, put, what: "names" })),
    ...[...files].flatMap(([name, put]) =>
      [name, basename(name)].map((one) => ({ name: one, put, what: "names" })),
    ),
  ].filter(({ name, what }) => name.trim().length > 1 && (what !== "names" || !saysNothing(name)));
  const clean = textCleaner(names, () => {});
  const texts = (row: TriageRow): Partial<TriageRow> =>
    Object.fromEntries(
      Object.entries(row).map(([key, value]) => [
        key,
        typeof value === "string" && key !== "worst" ? clean(value) : value,
      ]),
    );
  return {
    rows: rows.map((row) => ({
      ...row,
      ...texts(row),
      files: row.files.map((_, i) => `file ${i + 1}`),
      customer: customers.get(row.customer) ?? "",
      motor: motors.get(row.motor) ?? "",
    })),
    common: common.map(clean),
    notRead: notRead.map(({ severity, code, message, meaning, file, row }) => ({
      severity,
      code,
      message: clean(message),
      ...(meaning === undefined ? {} : { meaning: clean(meaning) }),
      ...(file === undefined ? {} : { file: files.get(file) ?? "" }),
      ...(row === undefined ? {} : { row }),
    })),
  };
}

/** Pseudonyms of names in the order in which they first come; an empty name stays empty. */
function numbered(kind: string, names: readonly string[]): Map<string, string> {
  const distinct = [...new Set(names)].filter((name) => name !== "");
  return new Map(distinct.map((name, i) => [name, `${kind} ${i + 1}`]));
}
