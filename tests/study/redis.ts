import { type ChildProcess, spawn, spawnSync } from "node:child_process";
import { mkdirSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { join } from "node:path";
import { Redis } from "ioredis";

/** Where redis-server is, or null with the reason printed; with CI set its absence is an error. */
export function redisServer(): string | null {
  const found = spawnSync("/bin/sh", ["-c", "command -v redis-server"], { encoding: "utf8" });
  if (found.status === 0 && found.stdout.trim() !== "") return found.stdout.trim();
  const reason = "redis-server was not found on this machine, so the queue tests are skipped";
  if (process.env.CI) throw new Error(`${reason}; with CI set that is a failure`);
  console.warn(`skipped: ${reason}`);
  return null;
}

/** A Redis server of its own for one test. */
export interface OwnRedis {
  readonly port: number;
  readonly start: () => Promise<void>;
  /** Ends it at once, as a crash would. */
  readonly kill: () => Promise<void>;
  readonly client: () => Redis;
}

/** Makes a server with its own port and folder; with `tls`, one that speaks TLS only, and asks for a password. */
export async function ownRedis(
  program: string,
  folder: string,
  options: { readonly append?: boolean; readonly tls?: boolean; readonly password?: string } = {},
): Promise<OwnRedis> {
  mkdirSync(folder, { recursive: true });
  const port = await freePort();
  const lines = [
    "bind 127.0.0.1",
    options.tls ? "port 0" : `port ${port}`,
    `dir ${folder}`,
    'save ""',
    options.append ? "appendonly yes\nappendfsync always" : "appendonly no",
    "maxmemory-policy noeviction",
  ];
  if (options.password) lines.push(`user default off`, `user bench on >${options.password} ~* &* +@all`);
  if (options.tls) {
    certificates(folder);
    lines.push(
      `tls-port ${port}`,
      `tls-cert-file ${join(folder, "server.crt")}`,
      `tls-key-file ${join(folder, "server.key")}`,
      `tls-ca-cert-file ${join(folder, "ca.crt")}`,
      "tls-auth-clients no",
    );
  }
  const config = join(folder, "redis.conf");
  writeFileSync(config, `${lines.join("\n")}\n`);
  let server: ChildProcess | undefined;
  const client = () => {
    const made = new Redis({
      host: "127.0.0.1",
      port,
      maxRetriesPerRequest: 1,
      ...(options.password ? { username: "bench", password: options.password } : {}),
      ...(options.tls ? { tls: { rejectUnauthorized: false } } : {}),
    });
    made.on("error", () => {}); // a server that is not up yet
    return made;
  };
  return {
    port,
    client,
    start: async () => {
      server = spawn(program, [config], { stdio: "ignore" });
      for (let i = 0; i < 100; i++) {
        const probe = client();
        try {
          await probe.ping();
          return;
        } catch {
          await new Promise((wake) => setTimeout(wake, 50));
        } finally {
          probe.disconnect();
        }
      }
      throw new Error("redis-server did not start");
    },
    kill: async () => {
      if (server === undefined) return;
      const gone = new Promise((resolve) => server!.once("close", resolve));
      server.kill("SIGKILL");
      await gone;
      server = undefined;
    },
  };
}

/** A certificate authority of one's own and a server certificate for 127.0.0.1. */
function certificates(folder: string): void {
  const run = (...args: string[]) => {
    const { status, stderr } = spawnSync("openssl", args, { cwd: folder, encoding: "utf8" });
    if (status !== 0) throw new Error(`openssl ${args[0]}: ${stderr}`);
  };
  const key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"];
  run(
    "req",
    "-x509",
    ...key,
    "-days",
    "2",
    "-subj",
    "/CN=bench test authority",
    "-keyout",
    "ca.key",
    "-out",
    "ca.crt",
  );
  run("req", ...key, "-subj", "/CN=127.0.0.1", "-keyout", "server.key", "-out", "server.csr");
  writeFileSync(join(folder, "san.txt"), "subjectAltName=IP:127.0.0.1\n");
  run(
    ...["x509", "-req", "-in", "server.csr", "-CA", "ca.crt", "-CAkey", "ca.key", "-CAcreateserial"],
    ...["-days", "2", "-extfile", "san.txt", "-out", "server.crt"],
  );
}

function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const server = createServer();
    server.once("error", reject);
    server.listen(0, "127.0.0.1", () => {
      const { port } = server.address() as { port: number };
      server.close(() => resolve(port));
    });
  });
}
