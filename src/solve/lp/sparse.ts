function grown<T extends Int32Array | Float64Array | Uint8Array>(from: T, to: T): T {
  to.set(from);
  return to;
}

/** Columns of a linear programme, one after the other: entries of column j at starts[j] … starts[j + 1] − 1. */
export class SparseColumns {
  count = 0;
  starts = new Int32Array(1024);
  rows = new Int32Array(8192);
  values = new Float64Array(8192);
  cost = new Float64Array(1024);
  /** 1: out of use. */
  closed = new Uint8Array(1024);

  add(cost: number, rows: Int32Array, values: Float64Array): void {
    const j = this.count++;
    const from = this.starts[j]!;
    const to = from + rows.length;
    if (j + 2 > this.starts.length) {
      const length = 2 * this.starts.length;
      this.starts = grown(this.starts, new Int32Array(length));
      this.cost = grown(this.cost, new Float64Array(length));
      this.closed = grown(this.closed, new Uint8Array(length));
    }
    if (to > this.rows.length) {
      this.rows = grown(this.rows, new Int32Array(2 * to));
      this.values = grown(this.values, new Float64Array(2 * to));
    }
    this.rows.set(rows, from);
    this.values.set(values, from);
    this.starts[j + 1] = to;
    this.cost[j] = cost;
  }
}
