import { type Judged, judgeAll, type Work } from "./judgeAll.js";
import { type FileScales, withScales } from "./readingSettings.js";
import type { StudySettings } from "./recordingResult.js";

/** How files are judged again. */
interface Again {
  readonly work: Omit<Work, "base" | "settings">;
  /** Key of everything that a result depends on besides the file. */
  readonly base: (settings: StudySettings) => string;
  readonly settings: StudySettings;
}

/**
 * Judges files again whose motor's logs show together another scale than theirs do alone, and puts the keys of these
 * results in the place of the first; a file that cannot be judged again keeps its first result.
 *
 * @throws StudyInterrupted when the signal came
 */
export async function judgeScales(
  scales: ReadonlyMap<number, FileScales>,
  keys: Judged["keys"],
  { work, base, settings }: Again,
): Promise<void> {
  const groups = new Map<string, { readonly own: StudySettings; readonly files: number[] }>();
  for (const [file, decided] of scales) {
    const own = withScales(settings, decided);
    const key = base(own);
    const group = groups.get(key) ?? { own, files: [] };
    groups.set(key, group);
    group.files.push(file);
  }
  for (const [key, { own, files }] of groups) {
    const again = await judgeAll({
      ...work,
      paths: files.map((file) => work.paths[file]),
      base: key,
      settings: own,
    });
    files.forEach((file, k) => {
      if (work.journal.get(again.keys[k])?.reason === null) keys[file] = again.keys[k];
    });
  }
}
