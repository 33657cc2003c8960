import { randomBytes } from "node:crypto";
import {
  closeSync,
  linkSync,
  lstatSync,
  openSync,
  readFileSync,
  readlinkSync,
  renameSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { hostname } from "node:os";
import { join } from "node:path";
import { Worker } from "node:worker_threads";
import { visible } from "../../units/text.js";

/** Milliseconds between two signs of life of the study that holds a folder. */
const beat = 2000;
/** Milliseconds without one after which it is taken for gone, where nobody here can look whether its process lives. */
const patience = 15_000;

/** Who holds a folder. Process numbers mean something only on one machine, since it was started, and among the
 * processes that see each other. */
interface Holder {
  readonly host: string;
  readonly boot: string;
  readonly processes: string;
  readonly process: number;
  /** When that process began, in the system's ticks: its number may be somebody else's by now. */
  readonly since: string;
  /** Told from every other study by this alone. */
  readonly token: string;
}

/** A folder that is held for one study. */
export interface StudyLock {
  /** @throws Error when another study has taken the folder over */
  readonly check: () => void;
  readonly release: () => void;
}

/**
 * Holds a folder for one study, on all machines that see it: the file `lock` says who, and a counter in it, which goes
 * on every two seconds, says that it lives. Where it is the same machine the process itself is looked for; elsewhere a
 * counter that has stood still for 15 s counts as the end of it.
 *
 * @param out the folder, as it really is
 * @param shown how to call it in a message
 * @throws Error when another study holds it
 */
export async function lockStudy(out: string, shown: string): Promise<StudyLock> {
  const path = join(out, "lock");
  const own: Holder = { ...here(), token: randomBytes(12).toString("hex") };
  for (let attempt = 0; attempt < 3; attempt += 1) {
    if (create(path, own)) return held(path, own, shown);
    const found = read(path);
    if (found === undefined) continue;
    if (await lives(path, found)) throw new Error(taken(found.holder, shown));
    takeOver(path, found, own);
  }
  throw new Error(
    `another study is beginning to write to ${visible(shown)}; wait for it or choose another folder`,
  );
}

function taken(holder: Holder | undefined, shown: string): string {
  const who =
    holder === undefined
      ? ""
      : ` (process ${holder.process}${holder.host === hostname() ? "" : ` on ${visible(holder.host, 60)}`})`;
  return `another study${who} is writing to ${visible(shown)}; wait for it or choose another folder`;
}

function here(): Omit<Holder, "token"> {
  return {
    host: hostname(),
    boot: orNothing(() => readFileSync("/proc/sys/kernel/random/boot_id", "latin1").trim()),
    processes: orNothing(() => readlinkSync("/proc/self/ns/pid")),
    process: process.pid,
    since: startOf(process.pid),
  };
}

/** When a process began; nothing where there is no such process, or the system does not say. */
function startOf(pid: number): string {
  return orNothing(() => {
    const stat = readFileSync(`/proc/${pid}/stat`, "latin1");
    // The name, in brackets, may hold anything; the start is the twentieth field behind it.
    return stat.slice(stat.lastIndexOf(")") + 2).split(" ")[19] ?? "";
  });
}

function exists(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === "EPERM";
  }
}

function orNothing(look: () => string): string {
  try {
    return look();
  } catch {
    return "";
  }
}

interface Found {
  readonly text: string;
  /** Undefined for a file that is none of ours, or of an older version. */
  readonly holder: Holder | undefined;
}

function read(path: string): Found | undefined {
  const kind = lstatSync(path, { throwIfNoEntry: false });
  if (kind === undefined) return undefined;
  if (!kind.isFile() || kind.size > 4096)
    throw new Error(`${visible(path)} is no lock of a study; move it away`);
  try {
    const text = readFileSync(path, "utf8");
    const holder = JSON.parse(text) as Partial<Holder> | null;
    return { text, holder: typeof holder?.token === "string" ? (holder as Holder) : undefined };
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === "ENOENT") return undefined;
    return { text: orNothing(() => readFileSync(path, "utf8")), holder: undefined };
  }
}

/** Whether a file is the lock of a study; one that has just gone counts as one. */
export function isLock(path: string): boolean {
  try {
    const found = read(path);
    return found === undefined || found.holder !== undefined;
  } catch {
    return false;
  }
}

/** Makes the lock appear whole: written beside, and linked under its name, which fails when there is one. */
function create(path: string, own: Holder): boolean {
  const draft = `${path}.${own.token}`;
  writeFileSync(draft, text(own, 0), { flag: "wx" });
  try {
    linkSync(draft, path);
    return true;
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === "EEXIST") return false;
    // Not every file system has links.
    return createDirectly(path, own);
  } finally {
    rmSync(draft, { force: true });
  }
}

function createDirectly(path: string, own: Holder): boolean {
  try {
    writeFileSync(path, text(own, 0), { flag: "wx" });
    return true;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === "EEXIST") return false;
    throw error;
  }
}

function text(own: Holder, beats: number): string {
  return `${JSON.stringify({ ...own, beats: String(beats).padStart(12, "0") })}\n`;
}

/** Whether the study that holds the folder is still at work. */
async function lives(path: string, found: Found): Promise<boolean> {
  const { holder } = found;
  const mine = here();
  const neighbour =
    holder !== undefined &&
    holder.host === mine.host &&
    holder.boot === mine.boot &&
    holder.processes === mine.processes;
  if (neighbour && mine.since !== "") {
    const since = startOf(holder.process);
    return since !== "" && since === holder.since;
  }
  // Where the system says less, a number that nobody has is all that can be told.
  if (neighbour && !exists(holder.process)) return false;
  for (const end = performance.now() + patience; performance.now() < end; ) {
    await new Promise((wake) => setTimeout(wake, 250));
    const now = read(path);
    if (now === undefined) return false;
    if (now.text !== found.text) return true;
  }
  return false;
}

/** Replaces the lock of a study that is gone. Of several that want to, the first to claim that very lock does it. */
function takeOver(path: string, found: Found, own: Holder): void {
  const claim = `${path}.claim-${found.holder?.token.replace(/[^0-9a-f]/g, "") ?? "unknown"}`;
  try {
    closeSync(openSync(claim, "wx"));
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== "EEXIST") throw error;
    // A claim that came to nothing is as old as the study that made it.
    const kind = lstatSync(claim, { throwIfNoEntry: false });
    if (kind !== undefined && Date.now() - kind.mtimeMs > 4 * patience) rmSync(claim, { force: true });
    throw new Error(taken(undefined, path));
  }
  try {
    if (read(path)?.text !== found.text) return;
    const draft = `${path}.${own.token}`;
    renameSync(path, draft);
    rmSync(draft, { force: true });
  } finally {
    rmSync(claim, { force: true });
  }
}

/** Writes the counter, whatever the main thread is busy with. */
const heart = `
const { workerData: { path, token, head, tail, every } } = require("node:worker_threads");
const fs = require("node:fs");
let beats = 0;
setInterval(() => {
  try {
    const file = fs.openSync(path, fs.constants.O_RDWR | fs.constants.O_NOFOLLOW);
    try {
      if (fs.readFileSync(file, "utf8").includes(token)) fs.writeSync(file, head + String(++beats).padStart(12, "0") + tail, 0);
    } finally {
      fs.closeSync(file);
    }
  } catch {}
}, every);
`;

function held(path: string, own: Holder, shown: string): StudyLock {
  const whole = text(own, 0);
  const at = whole.lastIndexOf("0".repeat(12));
  const [head, tail] = [whole.slice(0, at), whole.slice(at + 12)];
  const worker = new Worker(heart, {
    eval: true,
    workerData: { path, token: own.token, head, tail, every: beat },
    execArgv: [],
  });
  worker.on("error", () => {});
  worker.unref();
  const ours = (): boolean => read(path)?.holder?.token === own.token;
  return {
    check: () => {
      if (!ours())
        throw new Error(
          `another study has taken ${visible(shown)} over, because this one had given no sign of life for ${patience / 1000} s; it goes on there`,
        );
    },
    release: () => {
      void worker.terminate();
      if (ours()) rmSync(path, { force: true });
    },
  };
}
