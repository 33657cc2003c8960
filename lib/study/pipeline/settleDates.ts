/** In which order a date's day and month stand. */
export type DateOrder = "day-month" | "month-day";

/** A column of dates that could be read. */
export interface SettledDates {
  /** ISO 8601 (`2026-03-04`, with the time of day where there is one), in the order given; null for an empty cell. */
  readonly dates: readonly (string | null)[];
}

/** A date that cannot be read, or not in one way only. */
export class UnsettledDate extends Error {
  /** `cell`: the cell as it was given, without spaces around it. */
  constructor(
    readonly cell: string,
    message: string,
  ) {
    super(message);
    this.name = "UnsettledDate";
  }
}

const iso =
  /^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]+(\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?)\s*(Z|[+-]\d{2}:?\d{2})?)?$/;
const turned = /^(\d{1,2})([-/.])(\d{1,2})\2(\d{4})(?:[T ,]+(\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?))?$/;

/**
 * Reads a column of dates as one: `2026-03-04` as it stands, `04.03.2026`, `04/03/2026` and `04-03-2026` by the order
 * of day and month that the whole column allows. A first number above 12 anywhere says that the day comes first, a
 * second one that the month does; where nothing says so, the order is asked for and never guessed.
 *
 * @param cells - text of each cell
 * @param order - the order, when the user has said it
 * @throws UnsettledDate that names the cell and what to do
 * @example
 * settleDates(["04/03/2026", "17/03/2026"]).dates[0]; // => "2026-03-04"
 */
export function settleDates(cells: readonly (string | null)[], order?: DateOrder): SettledDates {
  const trimmed = cells.map((cell) => cell?.trim() ?? "");
  const open = trimmed.flatMap((text) => {
    const found = turned.exec(text);
    return found === null ? [] : [{ text, first: Number(found[1]), second: Number(found[3]) }];
  });
  const dayFirst = open.find(({ first }) => first > 12);
  const monthFirst = open.find(({ second }) => second > 12);
  if (dayFirst !== undefined && monthFirst !== undefined)
    throw new UnsettledDate(
      monthFirst.text,
      `dates "${dayFirst.text}" and "${monthFirst.text}" have day and month in different orders: write all as 2026-03-04`,
    );
  const seen: DateOrder | undefined =
    dayFirst !== undefined ? "day-month" : monthFirst !== undefined ? "month-day" : undefined;
  if (seen !== undefined && order !== undefined && seen !== order)
    throw new UnsettledDate(
      (dayFirst ?? monthFirst)?.text ?? "",
      `date "${(dayFirst ?? monthFirst)?.text}" cannot be ${order}`,
    );
  const settled =
    order ?? seen ?? (open.every(({ first, second }) => first === second) ? "day-month" : undefined);
  if (settled === undefined) {
    const asked = open.find(({ first, second }) => first !== second)?.text ?? "";
    throw new UnsettledDate(
      asked,
      `date "${asked}" can be read in two ways and no other date of the column tells which: say --dates day-month or --dates month-day, or write it as 2026-03-04`,
    );
  }
  return { dates: trimmed.map((text) => (text === "" ? null : one(text, settled))) };
}

function one(text: string, order: DateOrder): string {
  const straight = iso.exec(text);
  if (straight !== null) {
    const [, year, month, day, time, zone = ""] = straight;
    return checked(text, year, month, day, time, zone);
  }
  const back = turned.exec(text);
  if (back === null)
    throw new UnsettledDate(text, `date "${text}" is not understood: write it as 2026-03-04`);
  const [, first, , second, year, time] = back;
  return order === "day-month"
    ? checked(text, year, second, first, time)
    : checked(text, year, first, second, time);
}

function checked(text: string, year: string, month: string, day: string, time?: string, zone = ""): string {
  const two = (part: string) => part.padStart(2, "0");
  const date = `${year}-${two(month)}-${two(day)}`;
  const made = new Date(`${date}T00:00:00Z`);
  if (Number.isNaN(made.getTime()) || made.toISOString().slice(0, 10) !== date)
    throw new UnsettledDate(text, `date "${text}" is no day of the calendar`);
  return time === undefined
    ? date
    : `${date}T${time.length === 4 ? `0${time}` : time.padStart(5, "0")}${zone}`;
}
