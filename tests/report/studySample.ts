import { studyPages } from "../../lib/report/study/studyPage.js";
import type { StudyRecording, StudyTables, StudyTrial } from "../../lib/study/pipeline/readTables.js";
import { compareStudies } from "../../lib/study/population/compareStudies.js";
import { studySummary } from "../../lib/study/population/studySummary.js";
import { seeded } from "../study/seeded.js";

/** A fleet of 40 motors in 5 batches, one of them hot, one drifting, one blocked, one undecided, with names that mean
 * harm. */
function tables(changed = 0): StudyTables {
  const random = seeded(5);
  const recordings: StudyRecording[] = [];
  for (let i = 0; i < 40; i++) {
    const motor = i === 7 ? '<img src=x onerror="alert(1)">' : `m${String(i).padStart(2, "0")}`;
    const [level, friction] = [100 + random.normal() + changed, 0.02 * (1 + 0.02 * random.normal())];
    for (let k = 0; k < (i < 8 ? 6 : 1); k++) {
      const drift = i === 3 ? 1 + 0.15 * k : 1;
      recordings.push({
        recording: `${i}-${k}.csv`,
        motor,
        ordering: null,
        batch: `B${Math.floor(i / 8)}`,
        rig: `rig-${i % 2}`,
        date: new Date(Date.UTC(2026, 0, 5 + Math.floor(i / 3) + 30 * k)).toISOString().slice(0, 10),
        temperature: null,
        hours: 200 * k,
        reason: null,
        constants: {
          kv: level + 0.2 * random.normal(),
          coulombFriction: friction * drift * (1 + 0.01 * random.normal()),
        },
        halves: { kv: 0.4, coulombFriction: 0.0004 },
      });
    }
  }
  const trial = (motor: string, verdict: string, cause: string | null, text: string): StudyTrial => ({
    recording: "x.csv",
    motor,
    kind: "torque",
    verdict,
    sense: verdict === "tracking" ? "against" : "none",
    cause,
    text,
  });
  return {
    recordings,
    troubled: [
      trial("m20", "blocked", "phases-swapped", "Blocked."),
      trial("m21", "undetermined", null, "The current is too small to tell: repeat with more."),
      trial("m22", "tracking", "half-turn-offset", "Turns against its command."),
    ],
    verdicts: { against: 1, blocked: 1, reversed: 2, tracking: 70, undetermined: 1 },
  };
}

/** Every page of a study of that fleet, by name. */
export async function pagesOfSample(): Promise<Record<string, string>> {
  const random = seeded(6);
  // Motors of the batch B4 live a fifth as long as those of B1.
  const lives = Array.from({ length: 40 }, (_, i) => {
    const time = (i % 2 === 0 ? 1000 : 200) * (-Math.log(random.uniform())) ** 0.5;
    return { after: time, by: time, group: i % 2 === 0 ? "B1" : "B4" };
  });
  const summary = await studySummary(tables(), { limits: { coulombFriction: { upper: 0.05 } }, lives });
  return studyPages({
    folder: "results",
    tables: tables(),
    summary,
    lifeLines: [],
    since: await compareStudies(tables(-2), tables()),
    made: "2026-01-01T00:00:00Z",
    version: "0",
  });
}
