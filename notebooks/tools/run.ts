/**
 * Runs the notebooks in the TypeScript kernel, without Python, and stores them with what they show.
 *
 *   npm run notebooks                    all of them
 *   npm run notebooks -- 03 07           those whose names start so
 *   npm run notebooks -- --check         stores nothing; fails when a stored notebook is not current
 *
 * A notebook's text and code live in notebooks/source/<name>.md. An error in any cell fails the run.
 */
import { existsSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { differences } from "./compare.js";
import { notebook, readSource, writeNotebook } from "./document.js";
import { type Output, startKernel } from "./kernel.js";
import { needBuild, notebookFolder } from "./kernelSpec.js";

const largest = 2_000_000;

/** Runs one source in a kernel of its own. Throws with the cell and what it said when a cell fails. */
export async function runSource(name: string, source: string): Promise<ReturnType<typeof notebook>> {
  const cells = readSource(source);
  const outputs: (readonly Output[])[] = [];
  const kernel = await startKernel(notebookFolder);
  try {
    for (const [i, cell] of cells.entries()) {
      if (cell.kind !== "code") continue;
      const run = await kernel.run(cell.text);
      const said = run.outputs
        .filter((output) => output.output_type === "stream" && output.name === "stderr")
        .map((output) => (output.output_type === "stream" ? output.text : ""))
        .join("");
      if (!run.ok || said !== "") {
        throw new Error(
          `${name}, cell ${i + 1} failed:\n${said || "(it said nothing)"}\n--- the cell:\n${cell.text}`,
        );
      }
      outputs.push(run.outputs.map(withoutProgress).filter((output) => output !== undefined));
    }
  } finally {
    await kernel.close();
  }
  return notebook(cells, outputs);
}

/** The output without lines of progress, which are written over and differ from machine to machine; nothing when no
 * other line is left. */
function withoutProgress(output: Output): Output | undefined {
  if (output.output_type !== "stream" || !output.text.includes("\r")) return output;
  const text = output.text
    .split(/(?<=\n)/)
    .filter((line) => !line.includes("\r"))
    .join("");
  return text === "" ? undefined : { ...output, text };
}

async function main(args: readonly string[]): Promise<number> {
  const check = args.includes("--check");
  const wanted = args.filter((arg) => !arg.startsWith("--"));
  needBuild();
  const names = readdirSync(join(notebookFolder, "source"))
    .filter((file) => file.endsWith(".md"))
    .map((file) => file.slice(0, -3))
    .filter((name) => wanted.length === 0 || wanted.some((start) => name.startsWith(start)))
    .sort();
  if (names.length === 0) {
    console.error(`there is no notebook called ${wanted.join(" or ")} in notebooks/source`);
    return 1;
  }
  let failed = 0;
  for (const name of names) {
    const started = Date.now();
    const file = join(notebookFolder, `${name}.ipynb`);
    try {
      const made = await runSource(name, readFileSync(join(notebookFolder, "source", `${name}.md`), "utf8"));
      const text = writeNotebook(made);
      if (text.length > largest)
        throw new Error(`${name} would take ${text.length} bytes, more than ${largest}`);
      if (check) {
        if (!existsSync(file)) throw new Error(`${file} is not there: run "npm run notebooks"`);
        const found = differences(JSON.parse(readFileSync(file, "utf8")), made);
        if (found.length > 0)
          throw new Error(`${name} is not current (npm run notebooks -- ${name}):\n  ${found.join("\n  ")}`);
      } else {
        writeFileSync(file, text);
      }
      const seconds = ((Date.now() - started) / 1000).toFixed(1);
      console.log(
        `${check ? "current" : "stored "}  ${name}  ${(text.length / 1000).toFixed(0)} kB  ${seconds} s`,
      );
    } catch (error) {
      failed++;
      console.error(error instanceof Error ? error.message : error);
    }
  }
  return failed === 0 ? 0 : 1;
}

if (process.argv[1] && import.meta.filename === process.argv[1])
  process.exitCode = await main(process.argv.slice(2));
