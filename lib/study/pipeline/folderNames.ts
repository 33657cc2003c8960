import { dirname } from "node:path";
import { motorsOfNames } from "../../recording/motorsOfNames.js";
import { NumberLists } from "./numberRows.js";

/** Motors as the names of the files in each folder tell them, one folder after the other. */
export class FolderNames {
  readonly #folders = new Map<string, number>();
  readonly #files = new NumberLists(1);
  #at: string | undefined;
  #named: ReadonlyMap<string, string> = new Map();

  constructor(private readonly paths: readonly string[]) {
    paths.forEach((path, file) => {
      const folder = dirname(path);
      const list = this.#folders.get(folder) ?? this.#files.begin();
      this.#folders.set(folder, list);
      this.#files.add(list, [file]);
    });
  }

  /** Which of its folder's motors a file is about; undefined where the names tell none. */
  of(path: string): string | undefined {
    const folder = dirname(path);
    const list = this.#folders.get(folder);
    if (folder !== this.#at && list !== undefined) {
      this.#at = folder;
      this.#named = motorsOfNames(this.#files.rows(list).map(([file]) => this.paths[file]));
    }
    return this.#named.get(path);
  }
}
