/** Work for a process under limits that does what it is told, most of it badly. */
export default async function misbehave(what: unknown): Promise<unknown> {
  if (what === "loop") for (let i = 0; ; i += 1) if (i < 0) return i;
  if (what === "array") {
    const held: Float64Array[] = [];
    for (;;) held.push(new Float64Array(1 << 20).fill(1));
  }
  if (what === "heap") {
    const held: object[] = [];
    for (let i = 0; ; i += 1) held.push({ i });
  }
  if (what === "exit") process.exit(7);
  if (what === "throw") throw new Error("thrown by the work");
  return what;
}
