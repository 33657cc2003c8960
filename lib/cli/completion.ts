import { type Command, exitStatus, UsageError } from "./io.js";
import { readingOptions } from "./readingOptions.js";

const help = `shaftwise completion <bash | zsh | fish>

Prints a completion script for the shell.

  bash   shaftwise completion bash > ~/.local/share/bash-completion/completions/shaftwise
  zsh    shaftwise completion zsh  > a folder of your fpath, as _shaftwise
  fish   shaftwise completion fish > ~/.config/fish/completions/shaftwise.fish

Exit status: 0 done, 2 wrong usage.
`;

/** Options of the commands that read recordings, besides those of `readingOptions`. */
const ownOptions = {
  inspect: ["format", "help", "json", "out"],
  diagnose: ["explain", "help", "json", "out", "wanted"],
  fit: ["help", "json", "routes"],
  loop: [
    "bandwidth",
    "coulomb",
    "counts",
    "current-bandwidth",
    "current-limit",
    "delay",
    "difference",
    "form",
    "help",
    "inertia",
    "json",
    "ki",
    "kp",
    "ms",
    "no-proposals",
    "position-gain",
    "sample-time",
    "speed-filter",
    "step",
    "ti",
    "torque-constant",
    "torque-gain",
    "viscous",
    "weight",
  ],
  report: [
    "at",
    "author",
    "case",
    "confidence",
    "customer",
    "failed",
    "help",
    "life",
    "limits",
    "name",
    "no-constants",
    "out",
    "redact",
    "shape",
    "since",
  ],
  study: [
    "about",
    "about-column",
    "allowed",
    "at",
    "confidence",
    "dates",
    "energy",
    "failed",
    "idle",
    "json",
    "life",
    "limits",
    "lock",
    "mission",
    "out",
    "precision",
    "queue",
    "reliability",
    "retry-dead",
    "shape",
    "shared",
    "since",
    "test",
    "threads",
    "units",
    "use",
    "watched",
  ],
  triage: ["csv", "help", "json", "name", "redact"],
} as const satisfies Readonly<Record<string, readonly string[]>>;

/** Options of each command, for completion; a test holds them against each command's own help. */
export const commandOptions: Readonly<Record<string, readonly string[]>> = {
  ...Object.fromEntries(
    Object.entries(ownOptions).map(([name, own]) => [
      name,
      [...own, ...Object.keys(readingOptions)]
        .filter((option) => name !== "study" || option !== "join")
        .map((option) => `--${option}`)
        .sort(),
    ]),
  ),
  completion: ["--help"],
};

/** `shaftwise completion`: a script that completes commands, options and paths. */
export const run: Command = async (args, io) => {
  const [shell] = args;
  if (shell === "--help" || shell === "-h") {
    io.out(help);
    return exitStatus.done;
  }
  if (shell === "bash") io.out(bash());
  else if (shell === "zsh") io.out(zsh());
  else if (shell === "fish") io.out(fish());
  else throw new UsageError("completion needs a shell: bash, zsh or fish");
  return exitStatus.done;
};

const names = () => Object.keys(commandOptions).join(" ");

function bash(): string {
  const cases = Object.entries(commandOptions).map(
    ([name, options]) => `    ${name}) words="${options.join(" ")}" ;;`,
  );
  return `_shaftwise() {
  local word=\${COMP_WORDS[COMP_CWORD]} words=""
  if [ "$COMP_CWORD" -eq 1 ]; then
    COMPREPLY=($(compgen -W "${names()} --help --version" -- "$word"))
    return
  fi
  case \${COMP_WORDS[1]} in
${cases.join("\n")}
  esac
  case $word in
    -*) COMPREPLY=($(compgen -W "$words" -- "$word")) ;;
    *) COMPREPLY=($(compgen -f -- "$word")) ;;
  esac
}
complete -o filenames -F _shaftwise shaftwise
`;
}

function zsh(): string {
  const cases = Object.entries(commandOptions).map(
    ([name, options]) => `    ${name}) compadd -- ${options.join(" ")} ;;`,
  );
  return `#compdef shaftwise
_shaftwise() {
  if (( CURRENT == 2 )); then
    compadd -- ${names()} --help --version
    return
  fi
  if [[ $words[CURRENT] != -* ]]; then
    _files
    return
  fi
  case $words[2] in
${cases.join("\n")}
  esac
}
compdef _shaftwise shaftwise
`;
}

function fish(): string {
  const lines = [`complete -c shaftwise -n __fish_use_subcommand -f -a "${names()}"`];
  for (const [name, options] of Object.entries(commandOptions)) {
    for (const option of options) {
      lines.push(
        `complete -c shaftwise -n "__fish_seen_subcommand_from ${name}" -l ${option.replace(/^--/, "")}`,
      );
    }
  }
  return `${lines.join("\n")}\n`;
}
