import { readdirSync, statSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import { summariseFiles } from "../analysis/analyseFiles.js";
import { conclude } from "../analysis/conclude.js";
import type { RunSummary } from "../analysis/summary.js";
import type { ReadOptions } from "../recording/columns/readOptions.js";
import type { Finding } from "../recording/types.js";
import type { TriageCase } from "../report/triage.js";
import { folderWithin } from "../report/triagePlaces.js";
import { visible } from "../units/text.js";
import { UsageError } from "./io.js";
import { version } from "./version.js";

/** A customer's input: a case for each motor, and every file that gave none, with why. */
export async function readCustomer(
  path: string,
  reading: ReadOptions,
): Promise<{ readonly cases: readonly TriageCase[]; readonly problems: readonly Finding[] }> {
  const files = filesOf(path);
  const folders =
    files.length === 1 && files[0] === path ? files : [...new Set(files.map((file) => dirname(file)))];
  const { summaries, problems: said } = await summariseFiles(folders, {
    reading,
    setsOf: (all) => groupsOf(all, path),
  });
  const spoken = new Set([
    ...summaries.map(({ read }) => read.recording.path),
    ...said.map(({ file }) => file ?? ""),
  ]);
  const seen = new Set([...spoken].map((one) => one.replace(/#[\s\S]*$/, "")));
  const joined = summaries.flatMap(({ read }) => read.recording.source?.files ?? []);
  const problems = [...said, ...leftAside(files, new Set([...seen, ...joined]))];
  const cases: TriageCase[] = [];
  if (summaries.length === 0) return { cases: [caseOf(path, "", [], problems)], problems };
  const groups = groupsOf(summaries, path);
  for (const [motor, group] of groups)
    cases.push(
      caseOf(
        path,
        motor,
        group,
        problems.filter(({ file }) => inFolder(file, group, path)),
      ),
    );
  return { cases: [...cases, ...unreadFolders(summaries, path, problems)], problems };
}

/** A folder with logs of which none could be read has a row of its own: its motor is not that of another folder. */
function unreadFolders(
  summaries: readonly RunSummary[],
  customer: string,
  problems: readonly Finding[],
): TriageCase[] {
  const read = new Set(summaries.map(({ read: { recording } }) => folderWithin(recording.path, customer)));
  const left = new Map<string, Finding[]>();
  for (const problem of problems) {
    const folder = problem.file === undefined ? "" : folderWithin(problem.file, customer);
    if (folder !== "" && !read.has(folder)) left.set(folder, [...(left.get(folder) ?? []), problem]);
  }
  return [...left]
    .filter(([, all]) => all.some(({ severity }) => severity !== "note"))
    .map(([folder, all]) => caseOf(customer, folder, [], all));
}

/** What lies directly in a folder, each a customer; a file given by name is one. */
export function customersOf(path: string): string[] {
  const entry = statSync(path, { throwIfNoEntry: false });
  if (entry === undefined) throw new UsageError(`${visible(path)} is not there`);
  if (!entry.isDirectory()) return [path];
  return readdirSync(path)
    .filter((name) => !name.startsWith("."))
    .sort()
    .map((name) => join(path, name));
}

/** Every file of a customer's folder and below, hidden ones apart; a file by itself. */
function filesOf(path: string): string[] {
  if (!statSync(path).isDirectory()) return [path];
  return readdirSync(path, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && !entry.name.startsWith("."))
    .map((entry) => join(entry.parentPath, entry.name))
    .sort();
}

/** Files that the reader neither read nor spoke of, since their names are not those of logs. */
function leftAside(files: readonly string[], seen: ReadonlySet<string>): Finding[] {
  return files
    .filter((file) => !seen.has(file) && basename(file) !== "datapackage.json")
    .map((file) => ({ severity: "note", code: "not-a-log", message: "not a format of logs", file }));
}

/** Recordings of one motor together: by the motor's name, else by the folder they lie in; folders that hold one lead
 * order each are one motor's. */
function groupsOf(summaries: readonly RunSummary[], customer: string): Map<string, RunSummary[]> {
  const groups = new Map<string, RunSummary[]>();
  const put = (key: string, all: readonly RunSummary[]): void => {
    groups.set(key, [...(groups.get(key) ?? []), ...all]);
  };
  const folders = new Map<string, RunSummary[]>();
  for (const summary of summaries) {
    const { path, motor } = summary.read.recording;
    const folder = folderWithin(path, customer);
    if (motor !== undefined) put(motor, [summary]);
    else folders.set(folder, [...(folders.get(folder) ?? []), summary]);
  }
  const orderOf = (all: readonly RunSummary[]): string | undefined => {
    const orders = new Set(all.map(({ read }) => read.recording.ordering));
    return orders.size === 1 ? [...orders][0] : undefined;
  };
  for (const [folder, all] of folders) {
    const parent = folder.replace(/[\\/]?[^\\/]*$/, "");
    const siblings = [...folders].filter(
      ([other]) => other !== "" && other.replace(/[\\/]?[^\\/]*$/, "") === parent,
    );
    const orders = siblings.map(([, group]) => orderOf(group));
    const oneMotor =
      folder !== "" &&
      siblings.length > 1 &&
      orders.every((o) => o !== undefined) &&
      new Set(orders).size === orders.length;
    put(oneMotor ? parent : folder, all);
  }
  return groups;
}

/** Whether a file lies in a folder that this group's recordings come from. */
function inFolder(file: string | undefined, group: readonly RunSummary[], customer: string): boolean {
  return (
    file !== undefined &&
    group.some(({ read }) => folderWithin(read.recording.path, customer) === folderWithin(file, customer))
  );
}

function caseOf(
  path: string,
  motor: string,
  group: readonly RunSummary[],
  problems: readonly Finding[],
): TriageCase {
  const { diagnosis } = conclude(group, { problems, version: version() });
  return { customer: basename(path), motor, diagnosis, root: path };
}
