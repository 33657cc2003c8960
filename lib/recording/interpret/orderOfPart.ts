import type { LeadOrder } from "../../motor/facts.js";
import type { LeadLetters } from "../../motor/leadLetters.js";
import { visible } from "../../units/text.js";
import type { ReadOptions } from "../columns/readOptions.js";
import type { Part } from "../columns/splitRows.js";
import type { StatedFacts } from "../descriptor.js";
import {
  factsFromNames,
  inOtherLetters,
  lettersOfNames,
  type NamedFacts,
  namedFacts,
} from "../factsFromNames.js";
import type { Mark, SourceTable } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";

/** Marks between rows, those that name an order of the leads told apart where there are several orders: rows behind
 * another order are another run, however the clock goes on. */
export function ordersMarked(marks: readonly Mark[], known: readonly LeadLetters[] = []): readonly Mark[] {
  const letters = [...known, ...lettersOfNames(marks.map(({ title }) => title ?? ""))];
  const orders = marks.map(({ title }) => factsFromNames([title], letters).ordering);
  const several = new Set(orders.filter((o) => o !== undefined)).size > 1;
  return several
    ? marks.map((m, k) => (orders[k] === undefined ? m : { ...m, by: "order" as const }))
    : marks;
}

/** What speaks of the order of the leads beside the names of a part. */
export interface OrderSources {
  readonly table: SourceTable;
  readonly facts: StatedFacts;
  readonly options: ReadOptions;
  /** Letters beside U, V, W in which orders may be written. */
  readonly leadLetters: readonly LeadLetters[];
  /** The table holds other parts too. */
  readonly several: boolean;
}

/** A run of a table: what its rows and titles say of it. */
export interface NamedPart extends Pick<Part, "ordering" | "letters"> {
  readonly title?: string;
  readonly under?: string;
}

/**
 * The order of the leads in a part of a table, and the kind of its trial: as stated, as its own column says, as its
 * title or the file says, by its names; the first of these that there is.
 *
 * @param path of the part, with the names in it
 * @param findings get what is told of the order
 */
export function orderOfPart(
  part: NamedPart,
  path: string,
  sources: OrderSources,
  findings: Finding[],
): { readonly ordering: LeadOrder | undefined; readonly named: NamedFacts } {
  const { table, facts, options, leadLetters, several } = sources;
  // What the lines above a table say of the order holds for its first run where the others have titles of their own.
  const orderIn = (title?: string) => factsFromNames([title], leadLetters).ordering;
  const titled = several ? orderIn(part.title) : undefined;
  // Where the clock begins anew without a title, the order of the title above still holds.
  const above = several && titled === undefined ? orderIn(part.under) : undefined;
  const ofTitle = titled ?? above;
  if (ofTitle !== undefined && ofTitle !== table.facts?.ordering) dropFrom(findings, "facts-in-file");
  const ofFile = titled === undefined ? (above ?? table.facts?.ordering) : undefined;
  const stated = options.ordering ?? part.ordering ?? facts.ordering ?? ofFile;
  if (above !== undefined && stated === above) findings.push(fromTitleAbove(above, part.under, path));
  if (part.letters !== undefined && part.letters !== "UVW") findings.push(inOtherLetters(part.letters, path));
  const names = { ordering: stated, title: part.title, label: table.label };
  const named = namedFacts(path, names, { ...options, leadLetters }, findings);
  return { ordering: stated ?? named.ordering, named };
}

function fromTitleAbove(order: string, title: string | undefined, file: string): Finding {
  return {
    severity: "note",
    code: "ordering-from-name",
    message: `the lead order ${order} is taken from the title above, "${visible(title ?? "", 60)}"`,
    file,
  };
}

function dropFrom(findings: Finding[], code: string): void {
  const at = findings.findIndex((f) => f.code === code);
  if (at >= 0) findings.splice(at, 1);
}
