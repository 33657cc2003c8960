/** A real Notebook server of Jupyter on copies of the stored notebooks, for tests that drive it in a browser. */
import { type ChildProcess, spawn } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readdirSync, rmSync, symlinkSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { notebookFolder, projectFolder, writeKernelSpec } from "../../notebooks/tools/kernelSpec.js";

/** A server that answers. */
export interface NotebookServer {
  /** Page of a notebook, by its file name. */
  page(name: string): string;
  readonly port: number;
  /** What the server has said so far. */
  log(): string;
  close(): Promise<void>;
}

/** Starts the server in a scratch folder, with nothing of the user's Jupyter in it. Throws when it does not answer
 * within half a minute. */
export async function startServer(program: string): Promise<NotebookServer> {
  const scratch = mkdtempSync(join(tmpdir(), "shaftwise-server-"));
  const folder = join(scratch, "notebooks");
  mkdirSync(folder);
  for (const name of readdirSync(notebookFolder))
    if (name.endsWith(".ipynb")) cpSync(join(notebookFolder, name), join(folder, name));
  for (const name of ["datasets", "docs"]) symlinkSync(join(projectFolder, name), join(scratch, name));
  writeKernelSpec(join(scratch, "kernels-of-the-test"));
  const port = await freePort();
  const token = "only-for-this-test";
  const child = spawn(
    program,
    [
      "--no-browser",
      "--allow-root",
      "--ip=127.0.0.1",
      `--port=${port}`,
      `--NotebookApp.token=${token}`,
      `--notebook-dir=${scratch}`,
    ],
    {
      cwd: scratch,
      detached: true,
      stdio: ["ignore", "pipe", "pipe"],
      env: {
        ...process.env,
        HOME: scratch,
        JUPYTER_CONFIG_DIR: join(scratch, "config"),
        JUPYTER_DATA_DIR: join(scratch, "data"),
        JUPYTER_RUNTIME_DIR: join(scratch, "runtime"),
        JUPYTER_PATH: join(scratch, "kernels-of-the-test"),
      },
    },
  );
  let said = "";
  for (const stream of [child.stdout, child.stderr])
    stream?.on("data", (data: Buffer) => {
      said = (said + data.toString()).slice(-50_000);
    });
  const close = async () => {
    await end(child);
    rmSync(scratch, { recursive: true, force: true, maxRetries: 5, retryDelay: 200 });
  };
  const deadline = Date.now() + 30_000;
  for (;;) {
    const answer = await fetch(`http://127.0.0.1:${port}/api?token=${token}`).catch(() => undefined);
    if (answer?.ok) break;
    if (child.exitCode !== null || Date.now() > deadline) {
      await close();
      throw new Error(`the Notebook server did not answer: ${said}`);
    }
    await new Promise((done) => setTimeout(done, 200));
  }
  return {
    page: (name) => `http://127.0.0.1:${port}/notebooks/notebooks/${name}?token=${token}`,
    port,
    log: () => said,
    close,
  };
}

/** Ends the server and its kernels: they are one process group. */
async function end(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.pid === undefined) return;
  const gone = new Promise<void>((done) => child.once("exit", () => done()));
  process.kill(-child.pid, "SIGTERM");
  const timer = setTimeout(() => child.pid && process.kill(-child.pid, "SIGKILL"), 5000);
  await gone;
  clearTimeout(timer);
}

function freePort(): Promise<number> {
  return new Promise((done, fail) => {
    const server = createServer();
    server.once("error", fail);
    server.listen(0, "127.0.0.1", () => {
      const { port } = server.address() as { port: number };
      server.close(() => done(port));
    });
  });
}
