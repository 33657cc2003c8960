#!/usr/bin/env node
import { setFlagsFromString } from "node:v8";
import { lateOptimising } from "../recording/limits/lateOptimising.js";
import { terminalText, visible } from "../units/text.js";
import { type Command, exitStatus, type Io, processIo, UsageError } from "./io.js";

/** Every command, loaded only when it is called (start-up time is a feature). */
const commands: Readonly<
  Record<string, { readonly load: () => Promise<{ run: Command }>; readonly about: string }>
> = {
  diagnose: {
    load: () => import("./diagnose.js"),
    about: "judge recordings: verdicts, causes, least rework",
  },
  fit: {
    load: () => import("./fit.js"),
    about: "step responses and motor constants, with intervals",
  },
  inspect: {
    load: () => import("./inspect.js"),
    about: "what a file was understood to hold, before any verdict",
  },
  loop: {
    load: () => import("./loop.js"),
    about: "the speed loop: margins, gains in use, gains to start from",
  },
  study: {
    load: () => import("./study.js"),
    about: "many recordings: run, keep results, statistics across motors",
  },
  report: {
    load: () => import("./report.js"),
    about: "the same as a page to hand on, as Markdown and as JSON",
  },
  triage: {
    load: () => import("./triage.js"),
    about: "many customers' logs: a row for each motor, the most urgent first",
  },
  completion: {
    load: () => import("./completion.js"),
    about: "a completion script for bash, zsh or fish",
  },
};

/** Runs one command line (without `node` and the script) and returns the exit status. */
export async function main(args: readonly string[], given: Io): Promise<number> {
  const io = guarded(given);
  const [name, ...rest] = args;
  if (name === undefined || name === "--help" || name === "-h" || name === "help") {
    io.out(help());
    return name === undefined ? exitStatus.usage : exitStatus.done;
  }
  if (name === "--version") {
    const { version } = await import("./version.js");
    io.out(`${version()}\n`);
    return exitStatus.done;
  }
  const command = Object.hasOwn(commands, name) ? commands[name] : undefined;
  try {
    if (command === undefined) throw new UsageError(`there is no command "${name}"`);
    const { run } = await command.load();
    if (!rest.includes("--help") && !rest.includes("-h")) return await run(rest, io);
    const { fillHelp } = await import("./layout.js");
    return await run(rest, { ...io, out: (text) => io.out(fillHelp(text, Math.min(80, io.columns))) });
  } catch (error) {
    if (error instanceof UsageError) {
      io.err(`shaftwise: ${visible(error.message, 1000)}. See "shaftwise --help".\n`);
      return exitStatus.usage;
    }
    if (error instanceof Error && error.name === "OutputRefused") {
      io.err(`shaftwise: ${visible(error.message, 1000)}\n`);
      return exitStatus.failed;
    }
    if (process.env.SHAFTWISE_DEBUG) throw error;
    // What no command foresaw: one line for a person, the whole stack for whoever asks for it.
    io.err(
      `shaftwise: ${visible((error as Error)?.message ?? String(error), 500)} (set SHAFTWISE_DEBUG=1 for the whole trace)\n`,
    );
    return exitStatus.failed;
  }
}

/** Writes nothing that a terminal would take for more than text, but for our own colours and progress. */
function guarded(io: Io): Io {
  return {
    ...io,
    out: (text) => io.out(terminalText(text, { colour: io.color, erase: false })),
    err: (text) => io.err(terminalText(text, { colour: io.color, erase: io.live })),
  };
}

function help(): string {
  const lines = Object.entries(commands).map(([name, { about }]) => `  ${name.padEnd(11)} ${about}`);
  return `shaftwise reads recorded motor trials and says what happened, why, and what to
do next.

  shaftwise <command> [options]

${lines.join("\n")}

  --version  the version
  --help     this text; after a command, the command's own

Start with "shaftwise inspect <file>" to see what a log holds, then
"shaftwise diagnose <folder>" for the verdicts.

Exit status: 0 done, 1 failed, 2 wrong usage, 3 some input could not be read.
A verdict is advice from a log, never a clearance to run a machine.
`;
}

// The engine looks at these numbers whenever a function has run for a while, so they hold from here on.
for (const flag of lateOptimising()) setFlagsFromString(flag);

// A reader that has seen enough (`| head`) closes the pipe: that is no error.
process.stdout.on("error", (error: NodeJS.ErrnoException) => {
  if (error.code === "EPIPE") process.exit(exitStatus.done);
  throw error;
});

process.exitCode = await main(process.argv.slice(2), processIo());
