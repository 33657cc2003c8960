import type { TriageRow } from "./triageRow.js";

/** Remedies, findings of the data and questions that more than one customer shares, the most shared first; names of
 * files do not part them. */
export function commonOf(rows: readonly TriageRow[]): string[] {
  const shared = (of: (row: TriageRow) => string | undefined, lead: string): string[] => {
    const groups = new Map<string, Set<string>>();
    for (const row of rows) {
      const key = of(row);
      if (key && key !== "sound") groups.set(key, (groups.get(key) ?? new Set()).add(row.customer));
    }
    return [...groups]
      .filter(([, customers]) => customers.size > 1)
      .sort((a, b) => b[1].size - a[1].size)
      .map(([text, customers]) => `${customers.size} customers, ${lead}: ${text}`);
  };
  return [
    ...shared(({ cause }) => cause && sentenceOf(cause.replace(/^[UVW]{3}: /, "")), "cause"),
    ...shared(({ remedy }) => remedy?.replace(/ \((?:over |under )?\d+ %\)\.$/, "."), "remedy"),
    ...shared(({ data }) => kindOfData(data), "in the data"),
    ...shared(
      ({ ask }) =>
        (ask === "Nothing to ask." ? undefined : ask)?.replace(/^With order [UVW]{3}: (.)/, (_, c: string) =>
          c.toUpperCase(),
        ),
      "to ask",
    ),
  ];
}

/** A finding of the data without what is a customer's own: the file, names in quotes, numbers. */
function kindOfData(data: string): string {
  return data
    .replace(/ ?(?:One file|\d+ files) not read\.$/, "")
    .replace(/ \d+ more\.$/, "")
    .replace(/ In \d+ recordings\.$/, "")
    .replace(/^\S[^:"]*\.\w{2,5}: /, "")
    .replace(/^(?:The )?(?:column |position |speed |current )?"[^"]*"/i, "A column")
    .replace(/"[^"]*"/g, "…")
    .replace(/ \((?:agreement )?[-\d][^)]*\)/g, "");
}

const sentenceOf = (text: string): string => `${text[0].toUpperCase()}${text.slice(1).replace(/\.$/, "")}.`;
