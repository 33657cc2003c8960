import { runStudy } from "../../../lib/study/pipeline/runStudy.js";
import { queueJudges } from "../../../lib/study/queue/queueJudges.js";
import { serveQueue } from "../../../lib/study/queue/queueWorker.js";

/** A study as a process of its own (bundled by built.ts), with the stand-in job: `run.ts run <in> <out> | worker
 * <shared>`, the rest from the environment. */
const [verb, first, second] = process.argv.slice(2);
const job = new URL("./standIn.js", import.meta.url).href;
const {
  STUDY_TEST_QUEUE: url,
  STUDY_TEST_SHARED: shared = "/",
  STUDY_TEST_VERSION: version = "1.0.0",
} = process.env;
const limit = Number(process.env.STUDY_TEST_LIMIT ?? 20);
const say = (text: string) => console.error(text);
const controller = new AbortController();
process.on("SIGINT", () => controller.abort());
try {
  if (verb === "run") {
    const judges = url ? await queueJudges({ url, shared, out: second, version, say }) : undefined;
    try {
      const report = await runStudy([first], {
        out: second,
        version,
        job,
        judges,
        threads: 2,
        limit,
        signal: controller.signal,
      });
      console.log(JSON.stringify(report));
    } finally {
      await judges?.close();
    }
  } else {
    const report = await serveQueue({
      url: url!,
      shared: first,
      version,
      job,
      limit,
      lock: 2,
      say,
      idle: Number(process.env.STUDY_TEST_IDLE ?? 60),
      signal: controller.signal,
    });
    console.log(JSON.stringify(report));
  }
} catch (error) {
  console.error((error as Error).message);
  process.exitCode = 1;
}
