import type { BandPoint } from "../../study/life/turnbullBand.js";
import type { StudyTables } from "../../study/pipeline/readTables.js";
import type { StudyComparison } from "../../study/population/compareStudies.js";
import type { StudySummary } from "../../study/population/studySummary.js";

/** Everything the page of a study is made from. */
export interface StudySource {
  /** Results folder, as it is named on the page; absent where the study was redacted. */
  readonly folder?: string;
  /** True where the tables went through `redactStudy`. */
  readonly redacted?: boolean;
  readonly tables: StudyTables;
  readonly summary: StudySummary;
  /** What a life table says, line by line. */
  readonly lifeLines?: readonly string[];
  /** Band of the share still running, where some failures are known only to an interval. */
  readonly lifeBand?: readonly BandPoint[];
  readonly since?: StudyComparison;
  /** ISO 8601. */
  readonly made: string;
  readonly version: string;
}
