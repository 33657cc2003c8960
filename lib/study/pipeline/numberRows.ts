/** Rows of one block: what is there stays where it is when more come. */
const blockRows = 4096;

/**
 * Rows of so many numbers each, eight bytes for every number. A large study keeps what it must know of each recording
 * in them: as objects among results that come and go, they would hold the memory of these.
 */
export class NumberRows {
  readonly #blocks: Float64Array[] = [];
  #count = 0;

  /** @param width numbers of a row */
  constructor(private readonly width: number) {}

  get count(): number {
    return this.#count;
  }

  /** Adds a row; gives its place. */
  add(row: readonly number[]): number {
    const at = this.#count++;
    if (at % blockRows === 0) this.#blocks.push(new Float64Array(blockRows * this.width));
    for (let column = 0; column < this.width; column++) this.set(at, column, row[column]);
    return at;
  }

  get(row: number, column: number): number {
    return this.#blocks[Math.floor(row / blockRows)][(row % blockRows) * this.width + column];
  }

  set(row: number, column: number, value: number): void {
    this.#blocks[Math.floor(row / blockRows)][(row % blockRows) * this.width + column] = value;
  }
}

/** Lists of rows by the number of the list: each row names the next one of its list. */
export class NumberLists {
  readonly #rows: NumberRows;
  /** First and last row of each list, and how many there are. */
  readonly #lists = new NumberRows(3);

  /** @param width numbers of a row */
  constructor(private readonly width: number) {
    this.#rows = new NumberRows(width + 1);
  }

  /** Begins a list; gives its number. */
  begin(): number {
    return this.#lists.add([-1, -1, 0]);
  }

  add(list: number, row: readonly number[]): void {
    const at = this.#rows.add([...row, -1]);
    const last = this.#lists.get(list, 1);
    if (last < 0) this.#lists.set(list, 0, at);
    else this.#rows.set(last, this.width, at);
    this.#lists.set(list, 1, at);
    this.#lists.set(list, 2, this.length(list) + 1);
  }

  length(list: number): number {
    return this.#lists.get(list, 2);
  }

  /** The rows of a list, in the order in which they came. */
  rows(list: number): number[][] {
    const rows: number[][] = [];
    for (let at = this.#lists.get(list, 0); at >= 0; at = this.#rows.get(at, this.width))
      rows.push(Array.from({ length: this.width }, (_, column) => this.#rows.get(at, column)));
    return rows;
  }
}
