import type { DriveFacts, EncoderFacts, LeadOrder, MachineFacts } from "../../motor/facts.js";
import type { LeadLetters } from "../../motor/leadLetters.js";
import type { Limits } from "../limits/limits.js";
import type { TrialKind } from "../types.js";

/** What a caller may state about the files it gives. Everything here comes before descriptors and before names. */
export interface ReadOptions {
  /** Role to column: the column's name, or `#3` for the third column. */
  readonly map?: Readonly<Record<string, string>>;
  /**
   * Column (name or `#3`) or role to unit: a UCUM code or any usual spelling, with a factor where one logged unit is
   * not one of it (`0.05 A`), and the logged value that stands for nothing (`0.0161 A from 2048`).
   */
  readonly unit?: Readonly<Record<string, string>>;
  /** Columns (names or `#3`) to leave out, whatever they may hold. */
  readonly ignore?: readonly string[];
  /** Samples per second, for files that log a sample counter or no time. */
  readonly rate?: number;
  /** Read tables without a clock all the same: their `time` counts rows (`clock` is `"rows"`). Else they are refused
   * with the question for the rate. */
  readonly withoutClock?: boolean;
  readonly ordering?: LeadOrder;
  /** Lead orders of the files, sheets or blocks whose names fit a pattern (`*` any text, `?` any character); the first
   * that fits stands. */
  readonly orderings?: readonly { readonly pattern: string; readonly ordering: LeadOrder }[];
  /** Letters beside U, V, W in which names write lead orders; found from the names of all files read together. */
  readonly leadLetters?: readonly LeadLetters[];
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
  /** What was tried in stretches of time, s (an infinite end is that of the log); the rest of each log is cut as
   * usual. */
  readonly kinds?: readonly { readonly kind: TrialKind; readonly start: number; readonly end: number }[];
  /** Treat all given files, in the order given, as one recording that was split. Files numbered in a row are joined
   * anyway when time goes on. */
  readonly join?: boolean;
  /** What one file may cost; beyond it is given up with a finding, and the others are read. All but small plain text is
   * then read by a process of its own. */
  readonly limits?: Limits;
}
