import { mkdtemp, rm, symlink } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

/** A folder for rewritten inputs, made when first needed and removed by `close`. */
export class TemporaryFolder {
  private folder: string | undefined;

  /** A path in the folder. */
  async path(name: string): Promise<string> {
    this.folder ??= await mkdtemp(join(tmpdir(), "shaftwise-"));
    return join(this.folder, name);
  }

  /** A path the engine takes literally: a link of a plain name where the file's own holds pattern characters. */
  async literal(path: string): Promise<string> {
    const whole = resolve(path);
    if (!/[*?[\]{}]/.test(whole)) return whole;
    const link = await this.path("table");
    await symlink(whole, link);
    return link;
  }

  async close(): Promise<void> {
    const { folder } = this;
    this.folder = undefined;
    if (folder !== undefined) await rm(folder, { recursive: true, force: true });
  }
}
