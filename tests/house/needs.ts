import { spawnSync } from "node:child_process";
import { existsSync } from "node:fs";
import { connect } from "node:net";

/** Programs and services from outside npm that some tests drive. */
export type Tool = "chromium" | "jupyter" | "nbconvert" | "notebook" | "redis";

/** Where the tool was found (a path, or a URL for a service), or null. */
export async function locate(tool: Tool): Promise<string | null> {
  switch (tool) {
    case "chromium":
      return onPath(process.env.CHROMIUM_PATH, "chromium", "chromium-browser", "google-chrome");
    case "jupyter":
      return onPath("jupyter");
    case "nbconvert":
      return onPath("jupyter-nbconvert");
    case "notebook":
      return onPath("jupyter-notebook");
    case "redis": {
      const url = process.env.REDIS_URL ?? "redis://127.0.0.1:6379";
      const { hostname, port } = new URL(url);
      return (await answers(hostname, Number(port || 6379))) ? url : null;
    }
  }
}

/**
 * For `test.skipIf(!(await needs("chromium")))`: the place of the tool, or null with the reason printed. Where the
 * environment variable `CI` is set a missing tool is an error instead, so that a gap cannot pass unseen there.
 *
 * @example
 * const chromium = await needs("chromium");
 * test.skipIf(!chromium)("the page opens", async () => { ... launch(chromium!) ... });
 */
export async function needs(tool: Tool): Promise<string | null> {
  const found = await locate(tool);
  if (found !== null) return found;
  const reason = `${tool} was not found on this machine, so the tests that drive it are skipped`;
  if (process.env.CI) throw new Error(`${reason}; with CI set that is a failure`);
  console.warn(`skipped: ${reason}`);
  return null;
}

function onPath(...names: (string | undefined)[]): string | null {
  for (const name of names) {
    if (!name) continue;
    if (name.includes("/")) {
      if (existsSync(name)) return name;
      continue;
    }
    const found = spawnSync("/bin/sh", ["-c", `command -v ${name}`], { encoding: "utf8" });
    if (found.status === 0 && found.stdout.trim() !== "") return found.stdout.trim();
  }
  return null;
}

function answers(host: string, port: number): Promise<boolean> {
  return new Promise((done) => {
    const socket = connect({ host, port, timeout: 1000 });
    const end = (answer: boolean) => {
      socket.destroy();
      done(answer);
    };
    socket.once("connect", () => end(true));
    socket.once("error", () => end(false));
    socket.once("timeout", () => end(false));
  });
}
