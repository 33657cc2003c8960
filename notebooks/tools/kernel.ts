/**
 * A small client of the Jupyter messaging protocol (version 5.3,
 * https://jupyter-client.readthedocs.io/en/stable/messaging.html): starts the TypeScript kernel, sends it cells and
 * collects what they show. No Python takes part.
 */
import { type ChildProcess, spawn } from "node:child_process";
import { createHmac, randomUUID } from "node:crypto";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Dealer, Subscriber } from "zeromq";
import { kernelCommand } from "./kernelSpec.js";

/** One entry of a code cell's `outputs` (nbformat 4). */
export type Output =
  | { readonly output_type: "stream"; readonly name: string; text: string }
  | { readonly output_type: "display_data"; readonly data: MimeBundle; readonly metadata: object };

/** Contents by MIME type. */
export type MimeBundle = Readonly<Record<string, unknown>>;

/** What one cell did. */
export interface CellRun {
  readonly ok: boolean;
  readonly count: number;
  readonly outputs: readonly Output[];
}

/** A running kernel. */
export interface Kernel {
  run(code: string): Promise<CellRun>;
  /** Completions at a place in the code. */
  complete(code: string, at: number): Promise<readonly string[]>;
  close(): Promise<void>;
}

interface Message {
  readonly type: string;
  readonly parent: string | undefined;
  readonly content: Record<string, unknown>;
}

const delimiter = "<IDS|MSG>";

/**
 * Starts the kernel in `folder` and waits until it answers. Throws when it does not within a minute.
 *
 * @param command - How it is started, when not as the project's own.
 */
export async function startKernel(folder: string, command = kernelCommand): Promise<Kernel> {
  const scratch = mkdtempSync(join(tmpdir(), "shaftwise-kernel-"));
  const [shellPort, iopubPort, stdinPort, controlPort, heartbeatPort] = await freePorts(5);
  const key = randomUUID();
  const connection = join(scratch, "connection.json");
  writeFileSync(
    connection,
    JSON.stringify({
      transport: "tcp",
      ip: "127.0.0.1",
      shell_port: shellPort,
      iopub_port: iopubPort,
      stdin_port: stdinPort,
      control_port: controlPort,
      hb_port: heartbeatPort,
      key,
      signature_scheme: "hmac-sha256",
    }),
    { mode: 0o600 },
  );
  const [program, ...args] = command(connection);
  const child = spawn(program, args, { cwd: folder, stdio: ["ignore", "pipe", "pipe"] });
  let log = "";
  for (const stream of [child.stdout, child.stderr]) {
    stream?.on("data", (data: Buffer) => {
      log = (log + data.toString()).slice(-20_000);
    });
  }
  const shell = new Dealer();
  const iopub = new Subscriber();
  iopub.subscribe();
  shell.connect(`tcp://127.0.0.1:${shellPort}`);
  iopub.connect(`tcp://127.0.0.1:${iopubPort}`);
  const session = randomUUID();

  const send = async (type: string, content: object): Promise<string> => {
    const id = randomUUID();
    const header = {
      msg_id: id,
      msg_type: type,
      username: "notebooks",
      session,
      version: "5.3",
      date: new Date().toISOString(),
    };
    const parts = [header, {}, {}, content].map((part) => JSON.stringify(part));
    await shell.send([delimiter, sign(key, parts), ...parts]);
    return id;
  };

  // Whatever arrives is handed to the one who waits for it; `wake` is called at every message.
  const inbox: { shell: Message[]; iopub: Message[] } = { shell: [], iopub: [] };
  let wake = () => {};
  const listen = async (socket: Dealer | Subscriber, box: Message[]) => {
    for await (const frames of socket) {
      const message = read(key, frames as Buffer[]);
      if (message) box.push(message);
      wake();
    }
  };
  const listening = [listen(shell, inbox.shell), listen(iopub, inbox.iopub)];
  child.once("exit", () => wake());

  const until = async <T>(find: () => T | undefined, limit: number, what: string): Promise<T> => {
    const deadline = Date.now() + limit;
    for (;;) {
      const found = find();
      if (found !== undefined) return found;
      const left = deadline - Date.now();
      if (child.exitCode !== null) throw new Error(`the kernel ended (status ${child.exitCode}): ${log}`);
      if (left <= 0) throw new Error(`the kernel did not ${what} within ${limit / 1000} s: ${log}`);
      await new Promise<void>((done) => {
        const timer = setTimeout(done, Math.min(left, 1000));
        wake = () => {
          clearTimeout(timer);
          done();
        };
      });
    }
  };
  const take = (box: Message[], test: (message: Message) => boolean): Message | undefined => {
    const at = box.findIndex(test);
    return at < 0 ? undefined : box.splice(at, 1)[0];
  };

  const close = async () => {
    try {
      if (child.exitCode === null) {
        await send("shutdown_request", { restart: false });
        await ended(child, 3000);
      }
    } finally {
      if (child.exitCode === null) child.kill("SIGKILL");
      shell.close();
      iopub.close();
      await Promise.allSettled(listening);
      rmSync(scratch, { recursive: true, force: true });
    }
  };

  try {
    // The kernel's iopub socket drops what it sends before a subscriber is there: ask until its status arrives too.
    await until(
      () => {
        if (inbox.shell.length > 0 && inbox.iopub.length > 0) return true;
        void send("kernel_info_request", {});
        return undefined;
      },
      60_000,
      "answer",
    );
  } catch (error) {
    await close();
    throw error;
  }

  return {
    close,
    async complete(code, at) {
      const id = await send("complete_request", { code, cursor_pos: at });
      const reply = await until(() => take(inbox.shell, (m) => m.parent === id), 60_000, "complete");
      return reply.content.matches as string[];
    },
    async run(code) {
      const id = await send("execute_request", {
        code,
        silent: false,
        store_history: true,
        user_expressions: {},
        allow_stdin: false,
        stop_on_error: true,
      });
      const reply = await until(() => take(inbox.shell, (m) => m.parent === id), 300_000, "finish the cell");
      const outputs: Output[] = [];
      const collect = () => {
        for (;;) {
          const message = take(inbox.iopub, (m) => m.parent === id);
          if (!message) return undefined;
          const { content } = message;
          if (message.type === "status" && content.execution_state === "idle") return true;
          if (message.type === "stream") {
            const last = outputs.at(-1);
            if (last?.output_type === "stream" && last.name === content.name) {
              last.text += String(content.text);
            } else {
              outputs.push({ output_type: "stream", name: String(content.name), text: String(content.text) });
            }
          } else if (message.type === "display_data") {
            outputs.push({
              output_type: "display_data",
              data: content.data as MimeBundle,
              metadata: (content.metadata as object | undefined) ?? {},
            });
          }
        }
      };
      try {
        await until(collect, 10_000, "report that it is idle");
      } catch {
        // That report can be lost on a busy machine. What the kernel says to a question asked now comes behind it.
        const asked = await send("kernel_info_request", {});
        const idle = (m: Message): boolean =>
          m.parent === asked && m.type === "status" && m.content.execution_state === "idle";
        await until(() => take(inbox.iopub, idle), 20_000, "report that it is idle");
        collect();
      }
      return { ok: reply.content.status === "ok", count: Number(reply.content.execution_count), outputs };
    },
  };
}

function sign(key: string, parts: readonly (string | Buffer)[]): string {
  const hash = createHmac("sha256", key);
  for (const part of parts) hash.update(part);
  return hash.digest("hex");
}

function read(key: string, frames: readonly Buffer[]): Message | undefined {
  const at = frames.findIndex((frame) => frame.toString() === delimiter);
  if (at < 0 || frames.length < at + 6) return undefined;
  const parts = frames.slice(at + 2);
  if (sign(key, parts) !== frames[at + 1].toString())
    throw new Error("a message of the kernel is not signed");
  const [header, parent, , content] = parts.map((part) => JSON.parse(part.toString()));
  return { type: header.msg_type, parent: parent?.msg_id, content };
}

async function freePorts(count: number): Promise<number[]> {
  const servers = await Promise.all(
    Array.from(
      { length: count },
      () =>
        new Promise<ReturnType<typeof createServer>>((done, fail) => {
          const server = createServer();
          server.once("error", fail);
          server.listen(0, "127.0.0.1", () => done(server));
        }),
    ),
  );
  const ports = servers.map((server) => (server.address() as { port: number }).port);
  await Promise.all(servers.map((server) => new Promise((done) => server.close(done))));
  return ports;
}

function ended(child: ChildProcess, limit: number): Promise<void> {
  return new Promise((done) => {
    if (child.exitCode !== null) return done();
    const timer = setTimeout(done, limit);
    child.once("exit", () => {
      clearTimeout(timer);
      done();
    });
  });
}
